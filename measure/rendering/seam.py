"""A closed incision: its line, the staples across it, marks of those taken out, and redness along it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from .distance import cover, depth_inside
from .raster import Picture, Raster
from .sensor import decoded

_CRUST = decoded((104, 48, 42)).astype(np.float32)
_PUNCTURE = decoded((112, 34, 36)).astype(np.float32)
_STEEL = decoded((176, 178, 182)).astype(np.float32)
_BLOOD = np.array([0.10, 0.50, 0.42], np.float32)  # loss of log reflectance, as of the skin round a wound
_LINE_MM = 0.45  # half the width of the line
_WAVE_MM = 0.5  # of the line about straight
_CROWN_MM, _WIRE_MM = 6.5, 0.32  # length of a staple across the line, and half its thickness
_PUNCTURE_MM = 0.45
_MARGIN_MM = 8.0
_FINEST, _COARSEST = 14.0, 6.0  # px per mm


@dataclass(frozen=True)
class Seam:
    """An incision that was closed.

    Attributes
    ----------
    from_mm, to_mm : tuple of float
        Its ends on the plane.
    staples : tuple of bool
        From one end to the other, evenly spaced: whether each is still there.
    redness : float
        Strength (0 to 1) of reddened skin along it.
    reach_mm : float
        Over which that fades.
    seed : int
        Of everything random about it.
    """

    from_mm: tuple[float, float] = (-60.0, 0.0)
    to_mm: tuple[float, float] = (60.0, 0.0)
    staples: tuple[bool, ...] = (True,) * 14
    redness: float = 0.3
    reach_mm: float = 3.0
    seed: int = 1

    def line(self) -> LineString:
        """Return the line on the plane, slightly wavy as a hand cuts it."""
        start, end = np.array(self.from_mm), np.array(self.to_mm)
        share = np.linspace(0, 1, 60)
        random = np.random.default_rng((self.seed, 1))
        wave = sum(
            random.normal(0, 1 / number) * np.sin(np.pi * number * share + random.uniform(0, 6))
            for number in (1, 2, 3, 5)
        )
        across = np.array([-(end - start)[1], (end - start)[0]]) / max(float(np.linalg.norm(end - start)), 1e-9)
        return LineString(start + share[:, None] * (end - start) + _WAVE_MM * np.asarray(wave)[:, None] * across)

    def crowns(self) -> list[LineString]:
        """Return where each staple lies, or lay, across the line."""
        line, random = self.line(), np.random.default_rng((self.seed, 2))
        places = (np.arange(len(self.staples)) + 0.5) / max(len(self.staples), 1)
        turn = np.degrees(np.arctan2(self.to_mm[1] - self.from_mm[1], self.to_mm[0] - self.from_mm[0])) + 90
        crowns = []
        for place in places:
            middle = line.interpolate(float(place), normalized=True)
            half = _CROWN_MM / 2
            straight = LineString([(middle.x - half, middle.y), (middle.x + half, middle.y)])
            crowns.append(affinity.rotate(straight, turn + random.normal(0, 6)))
        return crowns


@dataclass(frozen=True, eq=False)
class SeamPatch:
    """An incision on a raster of its own.

    Attributes
    ----------
    raster : Raster
    look : ndarray, shape (H, W, 4)
        Linear reflectance, and how much of each pixel line, marks and staples cover.
    left : ndarray, shape (H, W, 3)
        Share of the skin's reflectance that redness and the staples' shadows leave.
    """

    raster: Raster
    look: Picture
    left: Picture

    @classmethod
    def of(cls, seam: Seam, light: tuple[float, float], px_per_mm: float) -> "SeamPatch":
        """Paint an incision at about the photo's own resolution; ``light`` is the direction from which it comes."""
        line, crowns = seam.line(), seam.crowns()
        left, top, right, bottom = line.bounds
        margin = _MARGIN_MM + 4 * seam.reach_mm
        bounds = left - margin, top - margin, right + margin, bottom + margin
        raster = Raster.over(bounds, float(np.clip(px_per_mm, _COARSEST, _FINEST)))
        wire = MultiPolygon([each.buffer(_WIRE_MM) for each, there in zip(crowns, seam.staples, strict=True) if there])
        dots = MultiPolygon([Point(end).buffer(_PUNCTURE_MM) for each in crowns for end in each.coords])
        look = np.zeros((*raster.shape, 4), np.float32)
        _lay(look, 0.75 * _seen(line.buffer(_LINE_MM), raster), _CRUST)
        if not dots.is_empty:
            _lay(look, 0.7 * _seen(dots, raster), _PUNCTURE)
        steel = depth_inside(wire, raster) if not wire.is_empty else np.full(raster.shape, -9.0, np.float32)
        _lay(look, cover(steel, 0.15), _STEEL * _polished(steel)[..., None])
        return cls(raster, look, _left(seam, line, steel, raster, light))

    def paint(self, linear: Picture, x_mm: Picture, y_mm: Picture) -> None:
        """Paint the incision over the skin's reflectance at points of the plane, in place."""
        linear *= self.raster.look_up(self.left, x_mm, y_mm)
        seen = self.raster.look_up(self.look, x_mm, y_mm)
        linear += seen[..., 3:] * (seen[..., :3] - linear)


def _seen(shape: Polygon | MultiPolygon, raster: Raster) -> Picture:
    return cover(depth_inside(shape, raster), 0.3)


def _lay(look: Picture, share: Picture, colour: NDArray[np.float32]) -> None:
    """Lay a layer over those below it, in place; where nothing lies yet the whole colour is its."""
    below = look[..., 3] * (1 - share)
    whole = np.maximum(below + share, 1e-6)
    look[..., :3] = (look[..., :3] * below[..., None] + colour * share[..., None]) / whole[..., None]
    look[..., 3] = below + share


def _polished(depth: Picture) -> Picture:
    """Return how bright a round wire is across: dark at its sides, with a shine along its middle."""
    across = np.clip(depth / _WIRE_MM, 0, 1)
    return np.asarray(0.35 + 0.65 * across + 0.7 * np.exp(-(((across - 0.9) / 0.15) ** 2)), np.float32)


def _left(seam: Seam, line: LineString, steel: Picture, raster: Raster, light: tuple[float, float]) -> Picture:
    """Return the share of the skin's reflectance that is left, shape (H, W, 3)."""
    away = np.maximum(-depth_inside(line.buffer(_LINE_MM), raster), 0)
    blood = seam.redness * (0.9 * np.exp(-away / seam.reach_mm) + 0.5 * np.exp(-away))
    x, y = (np.broadcast_to(side, raster.shape).astype(np.float32) for side in raster.axes())
    shadow = raster.look_up(steel, x + np.float32(0.35 * light[0]), y + np.float32(0.35 * light[1]))
    lit = 1 - 0.45 * cover(shadow, 0.5)
    return np.asarray(np.exp(-blood[..., None] * _BLOOD) * lit[..., None], np.float32)
