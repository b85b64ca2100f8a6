"""What hides a part of the sticker: gloved fingers or a piece of gauze."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from . import field as noise
from .distance import cover, depth_inside
from .raster import Picture, Raster
from .sensor import decoded

_SCALE = 8.0  # px per mm
_FINGER_MM = 16.5
_LONG_MM = 140.0  # of a strip of gauze
_MARGIN_MM = 14.0
_ENTRIES = {"corner": ((10.0, 38.0), 180.0), "strip": ((82.0, 10.0), 270.0), "tile": ((7.0, 8.0), 225.0)}
_GLOVE = (72, 118, 190)  # sRGB
_GAUZE = (236, 235, 228)

Colour = tuple[int, int, int]
"""sRGB."""

Paint = Callable[[Picture, Raster], Picture]
"""From mm inside a shape, shape (H, W), and its raster to linear colour, shape (H, W, 3)."""


@dataclass(frozen=True)
class Cover:
    """Something that lies over the first sticker, coming in from its outer side.

    Attributes
    ----------
    kind : str
        ``glove`` or ``gauze``.
    fraction : float
        Share of the sticker's area that it hides, up to about 0.4.
    towards_mm : tuple of float, optional
        Where on the layout it reaches to; a usual place for each layout without it.
    from_deg : float, optional
        Direction on the layout from which it comes; 0 is +x, 90 is +y.
    """

    kind: str = "glove"
    fraction: float = 0.2
    towards_mm: tuple[float, float] | None = None
    from_deg: float | None = None

    def shape(self, layout: str, outline: NDArray[np.float64], pose: NDArray[np.float64]) -> Polygon:
        """Return its outline on the plane, so that just ``fraction`` of the sticker is hidden.

        Raises
        ------
        ValueError
            If no reach of it hides as much.
        """
        usual, direction = _ENTRIES[layout]
        target = self.towards_mm or usual
        angle = np.radians(direction if self.from_deg is None else self.from_deg)
        sticker = Polygon(outline)
        matrix = [*pose[:2, :2].ravel(), *pose[:2, 2]]
        for count in range(1, 5):
            low, high = -60.0, 34.0  # mm
            placed = [affinity.affine_transform(self._at(target, angle, reach, count), matrix) for reach in (low, high)]
            if placed[1].intersection(sticker).area < self.fraction * sticker.area:
                continue
            for _ in range(30):
                middle = (low + high) / 2
                shape = affinity.affine_transform(self._at(target, angle, middle, count), matrix)
                hides = shape.intersection(sticker).area / sticker.area
                low, high = (middle, high) if hides < self.fraction else (low, middle)
            return shape
        raise ValueError(f"Nothing hides {self.fraction:.0%} of this sticker from that side: ask for less.")

    def _at(self, target: tuple[float, float], angle: float, reach: float, count: int) -> Polygon:
        """Return its outline on the layout with its tip ``reach`` mm beyond the target."""
        if self.kind == "gauze":
            half = 9.0 * count
            flat = box(-_LONG_MM, -half, reach, half)
        else:
            flat = hand(reach, count)
        turned = affinity.rotate(flat, angle + np.pi, origin=(0, 0), use_radians=True)
        return affinity.translate(turned, *target)


def hand(reach: float, count: int) -> Polygon:
    """Return a hand along +x whose ``count`` stretched fingers end at ``reach``; the others are folded."""
    first = -((4 - count) // 2)
    parts = []
    for finger in range(first, first + 4):
        y = (finger - (count - 1) / 2) * (_FINGER_MM + 0.4)
        folded = 0.0 if 0 <= finger < count else 52.0
        tip = reach - 0.46 * _FINGER_MM - 5.0 * (finger % 2) - folded
        top, root = Point(tip, y).buffer(0.46 * _FINGER_MM, 24), Point(reach - 78, y).buffer(_FINGER_MM / 2, 24)
        parts.append(unary_union([top, root]).convex_hull)
    knuckles = [part.centroid.y for part in parts]
    back = [Point(reach - 86, y).buffer(9, 24) for y in knuckles] + [Point(reach - 165, 0).buffer(29, 24)]
    return cast("Polygon", unary_union([*parts, unary_union(back).convex_hull]))


@dataclass(frozen=True, eq=False)
class CoverPatch:
    """The cover on a raster of its own: linear colour and depth inside it in mm, shape (H, W, 4), and its shadow."""

    raster: Raster
    look: Picture
    shade: Picture

    @classmethod
    def of(cls, kind: str, shape: Polygon, light: tuple[float, float], random: np.random.Generator) -> "CoverPatch":
        """Paint a cover of this shape."""
        look = glove if kind == "glove" else gauze
        return cls.laid(shape, light, lambda depth, raster: look(depth, raster, light, random))

    @classmethod
    def laid(cls, shape: Polygon, light: tuple[float, float], paint: Paint, px_per_mm: float = _SCALE) -> "CoverPatch":
        """Lay something of this shape and look on the plane."""
        left, top, right, bottom = shape.bounds
        bounds = left - _MARGIN_MM, top - _MARGIN_MM, right + _MARGIN_MM, bottom + _MARGIN_MM
        raster = Raster.over(bounds, px_per_mm)
        depth = depth_inside(shape, raster)
        look = np.dstack([paint(depth, raster), depth]).astype(np.float32)
        return cls(raster, look, _shadow(depth, light, px_per_mm))

    def share(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return how much it hides at points of the plane, 0 to 1."""
        return cover(self.raster.look_up(np.ascontiguousarray(self.look[..., 3]), x_mm, y_mm), 0.3)

    def paint(self, linear: Picture, light: Picture, x_mm: Picture, y_mm: Picture) -> None:
        """Lay the cover over linear light, in place; ``light`` falls on it."""
        shade = self.raster.look_up(self.shade, x_mm, y_mm)
        seen = self.raster.look_up(self.look, x_mm, y_mm)
        share = cover(seen[..., 3], 0.3)[..., None]
        linear *= shade[..., None]
        linear += share * (seen[..., :3] * light[..., None] - linear)


def _shadow(depth: Picture, light: tuple[float, float], scale: float) -> Picture:
    """Return the light left beside the cover."""
    mask = cover(depth, 0.5)
    move = np.array([[1, 0, -light[0] * 2.5 * scale], [0, 1, -light[1] * 2.5 * scale]])
    moved = cv2.warpAffine(mask, move, mask.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(1 - 0.5 * cv2.GaussianBlur(moved, (0, 0), 2.2 * scale), np.float32)


def glove(
    depth: Picture, raster: Raster, light: tuple[float, float], random: np.random.Generator, colour: Colour = _GLOVE
) -> Picture:
    """Return thin rubber over fingers: rounded, wrinkled, with a soft shine."""
    scale = raster.px_per_mm
    depth = np.asarray(cv2.GaussianBlur(depth, (0, 0), 0.6 * scale), np.float32)
    lean = np.clip(1 - depth / (_FINGER_MM / 2), 0, 1)
    height = 7.0 * np.sqrt(np.maximum(1 - lean**2.2, 0))
    height += 0.10 * noise.stretched(depth.shape, (3 * scale, 9 * scale), random)
    height += 0.10 * noise.fractal(depth.shape, 6 * scale, 3, random)
    height = cv2.GaussianBlur(height.astype(np.float32), (0, 0), 0.5 * scale)
    slope = [cv2.Sobel(height, cv2.CV_32F, *axis, scale=scale / 8) for axis in ((1, 0), (0, 1))]
    facing = (1.2 - 0.9 * (slope[0] * light[0] + slope[1] * light[1])) / np.hypot(1.5, 1.5 * np.hypot(*slope))
    shine = 0.10 * np.exp(-(((facing - 1.02) / 0.09) ** 2))
    rubber = decoded(colour).astype(np.float32)
    return np.asarray(rubber * (0.28 + 0.78 * np.clip(facing, 0, 1.1))[..., None] + shine[..., None])


def gauze(
    depth: Picture, raster: Raster, light: tuple[float, float], random: np.random.Generator, colour: Colour = _GAUZE
) -> Picture:
    """Return a woven pad: two sets of threads, uneven, with soft folds."""
    scale = raster.px_per_mm
    rows, columns = (side.astype(np.float32) / scale for side in np.indices(depth.shape))
    drift = [0.35 * noise.smooth(depth.shape, 12 * scale, random) for _ in range(2)]
    threads = np.maximum(np.cos(2 * np.pi * (rows + drift[0]) / 0.8), np.cos(2 * np.pi * (columns + drift[1]) / 0.8))
    folds = noise.relief(noise.fractal(depth.shape, 18 * scale, 3, random), 3.0 * scale / _SCALE, light)
    edge = 0.85 + 0.15 * np.clip(depth / 1.5, 0, 1)
    cotton = decoded(colour).astype(np.float32)
    return np.asarray(cotton * ((0.80 + 0.10 * threads + np.clip(folds, -0.25, 0.15)) * edge)[..., None])
