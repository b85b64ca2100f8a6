"""The reference of one photo: areas under lines drawn over its mask, without filling a pixel.

By Green's theorem the mask's pixels inside a ring are the integral of F dy round it, where F(x, y) counts the mask's
pixels left of x in the row of y. A moved point changes the integral along its two edges alone, so that thousands of
moves can be weighed at once.
"""

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from measure.outline import Outline, from_mask, polygon, simplify

Points = NDArray[np.float64]

_SMOOTH_PX = 0.36  # takes the steps off a drawn mask's edge: a diagonal's are 0.354 px high
_SPECK_PX = 4.0
_FINE = 32.0  # samples a pixel where areas are told


class Reference:
    """A drawn mask, shape (H, W), and its edge."""

    def __init__(self, mask: NDArray[np.bool_]) -> None:
        self.mask = mask
        self._left_of = np.pad(np.cumsum(mask, axis=1, dtype=np.float64), ((0, 0), (1, 0)))

    @cached_property
    def area(self) -> float:
        """Pixels of the mask."""
        return float(self.mask.sum())

    @property
    def diameter(self) -> float:
        """Of a circle as large, in px."""
        return 2 * float(np.sqrt(self.area / np.pi))

    @cached_property
    def parts(self) -> list[Polygon]:
        """Its wounds, largest first, without the steps of the pixels."""
        smooth = [simplify(outline, _SMOOTH_PX) for outline in from_mask(self.mask, _SPECK_PX)]
        return [part.buffer(0) for part in map(polygon, smooth)]

    @cached_property
    def whole(self) -> shapely.Geometry:
        """All wounds together."""
        return shapely.union_all(self.parts)

    @property
    def perimeter(self) -> float:
        """Length of all edges in px."""
        return float(self.whole.length)

    def edge(self, step: float) -> Points:
        """Return points on the edges, about ``step`` px apart, shape (N, 2)."""
        lines = shapely.get_parts(shapely.boundary(self.whole))
        counts = [max(round(line.length / step), 8) for line in lines]
        return np.concatenate(
            [
                shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(n) / n, normalized=True))
                for line, n in zip(lines, counts, strict=True)
            ]
        )

    def along(self, starts: Points, ends: Points, per_px: float = 3.0) -> NDArray[np.float64]:
        """Return the integral of F dy along straight lines, shape (...,), from points of shape (..., 2).

        F is sampled at ``per_px`` places a pixel of the longest line, at 8 places a ``per_px`` at most.
        """
        step = ends - starts
        longest = float(np.abs(step).max(initial=0.0))
        count = int(np.clip(np.ceil(per_px * longest), 4, 8 * per_px))
        shares = (np.arange(count) + 0.5) / count
        x, y = (starts[..., None, k] + step[..., None, k] * shares for k in (0, 1))
        return self._pixels_left_of(x, y).mean(axis=-1) * step[..., 1]

    def inside(self, outline: Outline) -> float:
        """Return the mask's pixels inside an outline."""
        rings = (outline.exterior, *outline.holes)
        signs = (1.0, *[-1.0] * len(outline.holes))
        return sum(
            sign * abs(float(self.along(ring, np.roll(ring, -1, axis=0), _FINE).sum()))
            for sign, ring in zip(signs, rings, strict=True)
        )

    def _pixels_left_of(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        height, width = self.mask.shape
        rows = np.clip(np.rint(y), 0, height - 1).astype(np.intp)
        place = np.clip(x + 0.5, 0, width)
        columns = np.minimum(place.astype(np.intp), width - 1)
        return self._left_of[rows, columns] + (place - columns) * self.mask[rows, columns]


def signed_area(starts: Points, ends: Points) -> NDArray[np.float64]:
    """Return the integral of x dy along straight lines, shape (...,): summed round a ring, its area with a sign."""
    return 0.5 * (starts[..., 0] + ends[..., 0]) * (ends[..., 1] - starts[..., 1])
