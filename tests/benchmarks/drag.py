"""What moves when a point of an outline is dragged in the editor.

Of a ring with many points only some are shown. A dragged point takes the hidden ones beside it along, less so the
nearer they are to the next shown point; dragging the line between two shown points adds one there.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.reference import Points

SHOWN = 1 / 8, 1 / 20
"""Of a ring's length: how far shown points lie apart, zoomed out and in."""

_SAME = 0.05  # of a run's length: a hidden point as near to where a new one would be set is taken instead


@dataclass(frozen=True, eq=False)
class Run:
    """The part of a ring that a drag moves: its points, shape (N, 2), from one shown neighbour to the other.

    ``weights`` tells how far each goes along, ``first`` and ``last`` where the run starts and ends in the ring.
    """

    points: Points
    weights: NDArray[np.float64]
    old: Points
    first: int
    last: int

    @property
    def grip(self) -> Points:
        """The point that the hand holds, shape (2,)."""
        return self.points[np.argmax(self.weights)]

    def moved(self, targets: Points) -> Points:
        """Return the run with its grip at each of the targets (M, 2), shape (M, N, 2)."""
        return self.points + self.weights[:, None] * (targets - self.grip)[:, None, :]

    def put(self, ring: Points, target: Points) -> Points:
        """Return the ring with the run's grip at a target."""
        moved = self.moved(target[None])[0]
        if self.first < self.last:
            return np.concatenate([ring[: self.first], moved, ring[self.last + 1 :]])
        return np.concatenate([moved, ring[self.last + 1 : self.first]])


def runs(ring: Points) -> Iterator[tuple[str, Run]]:
    """Yield what moves with each shown point, and with a new one midway between each two of them."""
    steps = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    for share in SHOWN:
        shown = _shown(way[:-1], way[-1], share * way[-1])
        if len(shown) < 2:
            continue
        for number, point in enumerate(shown):
            before, after = shown[number - 1], shown[(number + 1) % len(shown)]
            yield "drag point", _run(ring, before, after, grip=int(point))
            yield "drag edge", _run(ring, point, after)


def _shown(way: NDArray[np.float64], whole: float, spacing: float) -> NDArray[np.intp]:
    """Return the numbers of points that lie at least so far apart, the first among them."""
    shown = [0]
    for number, at in enumerate(way):
        if at - way[shown[-1]] >= spacing and whole - at >= spacing:
            shown.append(number)
    return np.array(shown)


def _run(ring: Points, first: int, last: int, grip: int | None = None) -> Run:
    """Return the points from one shown point to another, gripped at one of them or at a new one midway."""
    count = (last - first) % len(ring) or len(ring)
    numbers = (first + np.arange(count + 1)) % len(ring)
    old = ring[numbers]
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(old, axis=0), axis=1))])
    middle = along[-1] / 2 if grip is None else along[(grip - first) % len(ring)]
    there = int(np.argmin(np.abs(along - middle)))
    points = old
    if abs(along[there] - middle) < _SAME * along[-1]:
        middle = along[there]
    else:
        at = int(np.searchsorted(along, middle))
        new = [np.interp(middle, along, old[:, axis]) for axis in (0, 1)]
        points, along = np.insert(old, at, new, axis=0), np.insert(along, at, middle)
    weights = np.interp(along, [0.0, middle, along[-1]], [0.0, 1.0, 0.0])
    return Run(points, weights, old, int(first), int(last))
