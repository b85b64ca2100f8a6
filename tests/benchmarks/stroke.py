"""Strokes of a brush that would set right the most of what is drawn wrong.

A brush whose middle goes along the reference's edge, a radius inside it, adds only what is wound; a radius outside it,
it removes only what is none. So the best strokes are pieces of these lines.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from tests.benchmarks.reference import Points, Reference

STROKE_SHARE = 0.25
"""Of the wound's perimeter: the longest stroke."""

RADII = (0.04, 0.08, 0.16, 0.28)
"""Of the brush, relative to the wound's equivalent diameter."""

_LEAST_PX = 1.5  # radius of the smallest brush
_MOST_PIXELS = 4000  # of an error that are weighed


@dataclass(frozen=True, eq=False)
class Stroke:
    """Where the middle of the brush goes, shape (N, 2); its radius; and about how many px it sets right."""

    adds: bool
    radius: float
    line: Points
    gain: float


class Strokes:
    """The lines along which a brush touches a reference's edge, from inside and from outside."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.longest = STROKE_SHARE * reference.perimeter
        self._lines = list(self._along_edge()) if reference.area else []

    def best(self, drawn: NDArray[np.bool_]) -> Iterator[Stroke]:
        """Yield the best stroke along each line, for a mask of what is drawn, shape (H, W)."""
        true = self.reference.mask
        wrong = {True: _pixels(true & ~drawn), False: _pixels(drawn & ~true)}
        for adds, radius, line in self._lines:
            pixels, weight = wrong[adds]
            if not len(pixels):
                continue
            away, nearest = cKDTree(line).query(pixels, distance_upper_bound=radius)
            right = weight * np.bincount(nearest[np.isfinite(away)], minlength=len(line))
            piece = self._best_piece(line, right)
            touching = np.flatnonzero(right[piece])
            if len(touching):
                piece = piece[touching[0] : touching[-1] + 1]
                yield Stroke(adds, radius, line[piece], float(right[piece].sum()))

    def _best_piece(self, line: Points, right: NDArray[np.float64]) -> NDArray[np.intp]:
        """Return the numbers of the points of the piece of a closed line that sets right the most."""
        step = float(np.linalg.norm(line[1] - line[0]))
        count = int(np.clip(self.longest / max(step, 1e-6), 1, len(line)))
        summed = np.concatenate([[0.0], np.cumsum(np.concatenate([right, right[: count - 1]]))])
        start = int(np.argmax(summed[count:] - summed[:-count]))
        return (start + np.arange(count)) % len(line)

    def _along_edge(self) -> Iterator[tuple[bool, float, Points]]:
        """Yield whether to add, the radius, and points along each line, less than a third of the radius apart."""
        for share in RADII:
            radius = max(share * self.reference.diameter, _LEAST_PX)
            for adds in (True, False):
                shifted = self.reference.whole.buffer(-radius if adds else radius)
                for line in shapely.get_parts(shapely.boundary(shifted)):
                    count = max(int(np.ceil(line.length / max(radius / 3, 0.7))), 3)
                    places = shapely.line_interpolate_point(line, np.arange(count) / count, normalized=True)
                    yield adds, radius, shapely.get_coordinates(places)


def _pixels(mask: NDArray[np.bool_]) -> tuple[Points, float]:
    """Return points (x, y) of a mask, shape (N, 2), and how many pixels each stands for."""
    rows, columns = np.nonzero(mask)
    every = max(-(-len(rows) // _MOST_PIXELS), 1)
    return np.column_stack([columns, rows])[::every].astype(np.float64), float(every)
