"""Strokes along a reference's edge that would set right the most when they take the place of a stretch of an outline.

A stroke begins and ends where the edge meets a drawn ring, or comes as near to it as the editor asks. By Green's
theorem what a stroke changes is a sum along it, along the stretch that it replaces, and from its ends to the ring, so
that all strokes can be weighed at once.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.benchmarks.reference import Points, Reference, signed_area
from tests.benchmarks.stretch import OPEN, nearest_on_ring
from tests.benchmarks.stroke import STROKE_SHARE

_EDGE_POINTS = 256  # of the reference's edges, at which strokes may begin and end
_LEAST_STEP = 0.7  # px
_TRIED = 3  # strokes of each edge and ring

Integral = Callable[[Points, Points], NDArray[np.float64]]
Weigh = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Pieces of a closed edge: the numbers of their first and last points, each of shape (N, K)."""

    points: Points
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    open: NDArray[np.bool_]

    def sums(self, integral: Integral) -> NDArray[np.float64]:
        """Return an integral along each piece."""
        steps = integral(self.points, np.roll(self.points, -1, axis=0))
        way = np.concatenate([[0.0], np.cumsum(np.concatenate([steps, steps]))])
        count = self.first.shape[1]
        return way[self.first + np.arange(1, count + 1)] - way[self.first]

    def path(self, first: int, count: int) -> Points:
        """Return the points of one piece."""
        return self.points[(first + np.arange(count + 2)) % len(self.points)]


class Redraws:
    """The pieces of a reference's edges that one stroke may draw."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.longest = STROKE_SHARE * reference.perimeter
        self._edges = list(self._pieces()) if reference.area else []

    def best(self, ring: Points, sign: int, reach: float, weigh: Weigh) -> Iterator[Points]:
        """Yield the best strokes to replace a stretch of a ring.

        Parameters
        ----------
        ring : ndarray of shape (N, 2)
            An exterior, or a hole.
        sign : int
            1 for an exterior, -1 for a hole.
        reach : float
            How near to the ring a stroke must begin and end, in px.
        weigh : callable
            Tells how good it is to gain so many px of the reference, and so many px of area.
        """
        for pieces in self._edges:
            near = nearest_on_ring(ring, pieces.points).distance < reach
            usable = pieces.open & near[pieces.first] & near[pieces.last]
            if not usable.any():
                continue
            common, area = (
                sign * self._change(pieces, ring, integral) for integral in (self.reference.along, signed_area)
            )
            yield from _apart(pieces, np.where(usable, weigh(common, area), -np.inf))

    def _change(self, pieces: _Pieces, ring: Points, integral: Integral) -> NDArray[np.float64]:
        """Return by how much each piece changes the integral round a ring that it replaces the shorter side of."""
        ends = np.roll(ring, -1, axis=0)
        near = nearest_on_ring(ring, pieces.points)
        starts = ring[near.edge]
        lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ends - ring, axis=1))])
        along = np.concatenate([[0.0], np.cumsum(integral(ring, ends))])
        way = lengths[near.edge] + np.linalg.norm(near.place - starts, axis=1)
        reached = along[near.edge] + integral(starts, near.place)
        aside = integral(near.place, pieces.points)
        gone = way[pieces.last] - way[pieces.first]
        turns = -np.rint(gone / lengths[-1])  # past the ring's first point
        old = reached[pieces.last] - reached[pieces.first] + turns * along[-1]
        new = aside[pieces.first] + pieces.sums(integral) - aside[pieces.last]
        onward = np.where(gone + turns * lengths[-1] >= 0, 1, -1)
        return np.sign(signed_area(ring, ends).sum()) * onward * (new - old)

    def _pieces(self) -> Iterator[_Pieces]:
        step = max(self.reference.perimeter / _EDGE_POINTS, _LEAST_STEP)
        for line in shapely.get_parts(shapely.boundary(self.reference.whole)):
            number = max(round(line.length / step), 8)
            places = shapely.line_interpolate_point(line, np.arange(number) / number, normalized=True)
            points = shapely.get_coordinates(places)
            counts = 1 + np.arange(min(int(self.longest / line.length * number), number - 1))
            first = np.repeat(np.arange(number)[:, None], len(counts), axis=1)
            last = (first + counts) % number
            apart = np.linalg.norm(points[last] - points[first], axis=2)
            yield _Pieces(points, first, last, apart > OPEN * counts * line.length / number)


def _apart(pieces: _Pieces, worth: NDArray[np.float64]) -> Iterator[Points]:
    """Yield the best pieces of those that begin well apart from each other."""
    number, counts = worth.shape
    longest, left = worth.argmax(axis=1), worth.max(axis=1)
    for _ in range(_TRIED):
        first = int(left.argmax())
        if np.isneginf(left[first]):
            return
        yield pieces.path(first, int(longest[first]))
        left[(first + np.arange(-(counts // 2), counts // 2 + 1)) % number] = -np.inf
