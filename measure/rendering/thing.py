"""Things that lie in a photo beside a wound or over it, and are none: gauze, dressings, fingers, drapes, rulers."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType

import cv2
import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from . import field as noise
from .cover import Colour, CoverPatch, gauze, glove, hand
from .distance import cover
from .drape import folds
from .plain_ruler import PlainRuler
from .raster import Picture, Raster, softened
from .sensor import decoded
from .stain import Stain

COLOURS: Mapping[str, tuple[Colour, ...]] = MappingProxyType(
    {
        "gauze": ((236, 235, 228), (226, 222, 210)),
        "dressing": ((232, 222, 205), (222, 190, 160), (240, 240, 238)),
        "glove": ((72, 118, 190), (140, 180, 222), (228, 229, 226), (112, 88, 168)),
        "drape": ((52, 116, 96), (58, 104, 160), (120, 168, 196), (104, 150, 134)),
        "ruler": ((244, 243, 238), (244, 236, 190)),
    }
)
"""Usual colours of each kind of thing, in sRGB."""

_INK = 0.04
_LONG_MM = 260.0
_RULER_SCALE = 10.0  # px per mm


@dataclass(frozen=True)
class Thing:
    """A thing whose nearest point to the middle of the photo is ``tip_mm`` and that reaches away from there.

    Attributes
    ----------
    kind : str
        A key of `COLOURS`.
    tip_mm : tuple of float
        Its tip on the plane.
    from_deg : float
        Direction from which it comes; 0 is +x, 90 is +y.
    turn_deg : float
        Its own turn about the tip.
    size_mm : float
        Width of gauze, dressing or ruler.
    fingers : int
        Of a glove, that are stretched.
    colour : tuple of int
        sRGB.
    stains : tuple of Stain
        On gauze and dressing.
    ruler : PlainRuler
        What a ruler looks like.
    """

    kind: str
    tip_mm: tuple[float, float]
    from_deg: float
    turn_deg: float = 0.0
    size_mm: float = 50.0
    fingers: int = 1
    colour: Colour = (236, 235, 228)
    stains: tuple[Stain, ...] = ()
    ruler: PlainRuler = field(default_factory=PlainRuler)

    def shape(self) -> Polygon:
        """Return its outline on the plane."""
        half = self.size_mm / 2
        if self.kind == "glove":
            flat = affinity.scale(hand(0.0, self.fingers), -1, 1, origin=(0, 0))
        elif self.kind == "drape":
            flat = box(0, -_LONG_MM, _LONG_MM, _LONG_MM)
        elif self.kind == "dressing":
            flat = box(3, 3 - half, self.size_mm - 3, half - 3).buffer(3, 12)
        elif self.kind == "ruler":
            flat = box(0, -self.ruler.width_mm / 2, self.ruler.length_mm, self.ruler.width_mm / 2)
        else:
            flat = box(0, -half, 1.2 * self.size_mm, half)
        turned = affinity.rotate(flat, self.from_deg + self.turn_deg, origin=(0, 0))
        return affinity.translate(turned, *self.tip_mm)

    def patch(
        self, within: Polygon, light: tuple[float, float], px_per_mm: float, random: np.random.Generator
    ) -> CoverPatch | None:
        """Paint the part of it that lies within a part of the plane; None where there is nothing of it."""
        parts = shapely.get_parts(self.shape().intersection(within))
        seen = max(parts, key=lambda part: part.area, default=Polygon())
        if seen.area < 1.0:
            return None

        def paint(depth: Picture, raster: Raster) -> Picture:
            return softened(self._look(depth, raster, light, random), raster, px_per_mm)

        return CoverPatch.laid(seen, light, paint, float(np.clip(1.3 * px_per_mm, 3.0, 8.0)))

    def _look(self, depth: Picture, raster: Raster, light: tuple[float, float], random: np.random.Generator) -> Picture:
        if self.kind == "glove":
            return glove(depth, raster, light, random, self.colour)
        if self.kind == "drape":
            return _drape(depth, raster, light, random, self.colour)
        if self.kind == "ruler":
            return self._ruler(raster, random)
        plain = gauze if self.kind == "gauze" else _dressing
        look = plain(depth, raster, light, random, self.colour)
        for stain in self.stains:
            stain.soak(look, raster, random)
        return look

    def _ruler(self, raster: Raster, random: np.random.Generator) -> Picture:
        """Return the drawn ruler on a raster of the plane."""
        x, y = raster.axes()
        angle = np.radians(self.from_deg + self.turn_deg)
        dx, dy = x - np.float32(self.tip_mm[0]), y - np.float32(self.tip_mm[1])
        along = dx * np.cos(angle) + dy * np.sin(angle)
        across = dy * np.cos(angle) - dx * np.sin(angle) + self.ruler.width_mm / 2
        columns, rows = (np.asarray(side * _RULER_SCALE - 0.5, np.float32) for side in (along, across))
        ink = cv2.remap(_ink(self.ruler), columns, rows, cv2.INTER_LINEAR)[..., None]
        paper = (
            decoded(self.colour).astype(np.float32) * (1 + 0.02 * noise.smooth(raster.shape, 60.0, random))[..., None]
        )
        return 0.86 * paper * (1 - ink) + _INK * ink


@lru_cache(maxsize=16)
def _ink(ruler: PlainRuler) -> Picture:
    """Return how much of each pixel is ink, 0 to 1, at `_RULER_SCALE` px a mm."""
    size = round(ruler.length_mm * _RULER_SCALE), round(ruler.width_mm * _RULER_SCALE)
    return cv2.resize(ruler.drawing(), size, interpolation=cv2.INTER_AREA).astype(np.float32) / np.float32(255)


def _dressing(
    depth: Picture, raster: Raster, light: tuple[float, float], random: np.random.Generator, colour: Colour
) -> Picture:
    """Return a foam pad in the middle of a thin sticky border."""
    pad = cv2.GaussianBlur(cover(depth - 9.0, 2.0), (0, 0), 0.8 * raster.px_per_mm)
    height = 2.0 * pad + 0.12 * noise.fractal(raster.shape, 14 * raster.px_per_mm, 3, random)
    shade = 1 + np.clip(noise.relief(height, 0.35 * raster.px_per_mm, light), -0.3, 0.2)
    grain = 0.02 * noise.fractal(raster.shape, 1.2 * raster.px_per_mm, 2, random)
    return decoded(colour).astype(np.float32) * ((0.84 + 0.05 * pad + grain) * shade)[..., None]


def _drape(
    depth: Picture, raster: Raster, light: tuple[float, float], random: np.random.Generator, colour: Colour
) -> Picture:
    """Return a sheet with folds, a weave and a hem along its edge."""
    rows, columns = (side.astype(np.float32) / raster.px_per_mm for side in np.indices(depth.shape))
    weave = np.sin(2 * np.pi * rows / 1.1) * np.sin(2 * np.pi * columns / 1.1)
    grain = noise.fractal(raster.shape, 1.5 * raster.px_per_mm, 2, random)
    hem = 1 - 0.25 * np.exp(-(((depth - 8.0) / 0.7) ** 2))
    shade = folds(raster, light, random) * hem * (1 + 0.03 * weave + 0.025 * grain)
    return np.asarray(decoded(colour).astype(np.float32) * (0.9 * shade)[..., None])
