"""A stretch of an outline drawn anew with the editor's tracing tool, by the same rules.

A stroke that begins and ends near one ring of a wound takes the place of the part of the ring between its ends, on the
side whose points lie nearer to the stroke on average. Loops are cut off: of two parts that meet at a crossing the
larger one stays.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from measure.outline import Outline
from tests.benchmarks.reference import Points, signed_area

REACH = 0.07
"""How near to a line a stroke must begin and end, relative to the larger side of the box round all outlines.

It is 24 px of a screen where the editor shows that box, and 0.3 of it on either side, on a stage of 560 px: that of a
screen 1080 px high. A finger on a phone may be twice as far away.
"""

OPEN = 0.3
"""Of its length: a stroke that ends nearer to where it began may go round the ring, and not only bulge from it."""

_LEAST_REACH = (
    12 / 4096
)  # of the photo's longer side: the editor begins at 2 px of the screen a px of the photo at most
_TOLERANCE = 0.6 / 24  # of the reach: points within it of the line through the others are left out
_MOST_LOOPS = 40
_FEWEST = 3  # points of a ring
_WIDE = 10 / 24  # of the reach: a stroke that comes back must enclose as much on average
_GRID = 24  # places across and down a ring's box
_MOST = 0.5  # of a ring's area: a stroke within which so much lies goes round it

_OUTSIDE = 0.2  # at most this share of a bulge that closes behind itself lies within the ring


@dataclass(frozen=True, eq=False)
class Nearest:
    """Places on a ring: the edges they lie on, shape (N,), where, shape (N, 2), and how far away."""

    edge: NDArray[np.intp]
    place: Points
    distance: NDArray[np.float64]


def reach_px(outlines: Sequence[Outline], width: int, height: int) -> float:
    """Return how near to a line a stroke must begin and end, in px of the photo."""
    rings = np.concatenate([outline.exterior for outline in outlines])
    return max(REACH * float(np.ptp(rings, axis=0).max()), _LEAST_REACH * max(width, height))


def nearest_on_ring(ring: Points, points: Points) -> Nearest:
    """Return the places on a ring nearest to points of shape (N, 2)."""
    step = np.roll(ring, -1, axis=0) - ring
    share = ((points[:, None] - ring) * step).sum(axis=2) / np.maximum((step**2).sum(axis=1), 1e-12)
    places = ring + np.clip(share, 0, 1)[..., None] * step
    away = np.linalg.norm(points[:, None] - places, axis=2)
    edge = away.argmin(axis=1)
    each = np.arange(len(points))
    return Nearest(edge, places[each, edge], away[each, edge])


def drawn_anew(outline: Outline, path: Points, reach: float) -> tuple[Points, ...] | None:
    """Return the rings of an outline after a stroke; None where the editor would not take it for a stretch."""
    line = LineString(path)
    if len(path) < 2:
        return None
    opened = np.linalg.norm(path[-1] - path[0]) > OPEN * line.length
    if not opened and 2 * _area(untangled(path)) < _WIDE * reach * line.length:
        return None
    path = shapely.get_coordinates(line.simplify(_TOLERANCE * reach, preserve_topology=False))
    rings = [outline.exterior, *outline.holes]
    for number, ring in enumerate(rings):
        if (nearest_on_ring(ring, path[[0, -1]]).distance < reach).all():
            if not opened and goes_round(ring, path):
                return None
            rings[number] = with_stretch(ring, path)
            return tuple(rings) if len(rings[number]) >= _FEWEST else None
    return None


def with_stretch(ring: Points, path: Points) -> Points:
    """Return a ring in which a path takes the place of what lies between its ends, on the side it is nearer to."""
    ends = nearest_on_ring(ring, path[[0, -1]])
    there, back = _arc(ring, ends, 0, 1), _arc(ring, ends, 1, 0)
    if _away(path, there) <= _away(path, back):
        return untangled(np.concatenate([path, back[1:-1]]))
    return untangled(np.concatenate([there[1:-1], path[::-1]]))


def goes_round(ring: Points, path: Points) -> bool:
    """Return whether a path from a ring back to it is a new ring: a bulge is as wide at its ends, or lies outside."""
    drawn = untangled(path)
    if _gap(path) * LineString(path).length >= _area(drawn):
        return False
    middle = shapely.points((ring.min(axis=0) + ring.max(axis=0)) / 2)
    if Polygon(drawn).contains(middle) or _share_within(ring, drawn) >= _MOST:
        return True
    return _share_within(drawn, ring) > _OUTSIDE


def untangled(ring: Points) -> Points:
    """Return a ring with its loops cut off."""
    for _ in range(_MOST_LOOPS):
        if len(ring) < _FEWEST or Polygon(ring).is_valid:
            break
        cut = _cut_at_crossing(ring)
        if cut is None:
            break
        ring = cut
    return ring


def _arc(ring: Points, ends: Nearest, first: int, last: int) -> Points:
    """Return the part of a ring from one end onwards to the other."""
    start, stop = ends.edge[first], ends.edge[last]
    gone = np.linalg.norm(ends.place - ring[start], axis=1)
    count = (stop - start) % len(ring)
    if not count and gone[first] > gone[last]:
        count = len(ring)
    between = ring[(start + 1 + np.arange(count)) % len(ring)]
    return np.concatenate([ends.place[[first]], between, ends.place[[last]]])


def _share_within(ring: Points, other: Points) -> float:
    """Return the share of a ring's area that lies within another ring, by counting places on a grid."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    steps = (np.arange(_GRID) + 0.5) / _GRID
    grid = shapely.points(low + (high - low) * np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2))
    within = grid[shapely.contains(Polygon(ring), grid)]
    return float(shapely.contains(Polygon(other), within).mean()) if len(within) else 0.0


def _gap(path: Points) -> float:
    """Return how far the ends of a path are apart where one of them may have gone past the other."""
    gaps = []
    for way in (path, path[::-1]):
        gone = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))])
        head = way[: int((gone[:-1] < gone[-1] / 4).sum()) + 1]
        gaps.append(float(shapely.distance(shapely.points(way[-1]), LineString(head))))
    return min(gaps)


def _away(path: Points, arc: Points) -> float:
    """Return the mean distance of the points of an arc from a path."""
    return float(shapely.distance(shapely.points(arc), LineString(path)).mean())


def _cut_at_crossing(ring: Points) -> Points | None:
    """Return the larger of the two parts of a ring that meet at its first crossing; None where it has none."""
    ends, count = np.roll(ring, -1, axis=0), len(ring)
    starts_side, ends_side = (_side(ring[:, None], ends[:, None], points[None]) for points in (ring, ends))
    apart = starts_side * ends_side < 0  # [i, j]: edge j reaches over the line through edge i
    crossing = np.triu(apart & apart.T, 2)
    crossing[0, count - 1] = False
    if not crossing.any():
        return None
    one, other = divmod(int(crossing.argmax()), count)
    share = starts_side[other, one] / (starts_side[other, one] - ends_side[other, one])
    place = (ring[one] + share * (ends[one] - ring[one]))[None]
    inner = np.concatenate([place, ring[one + 1 : other + 1]])
    outer = np.concatenate([ring[: one + 1], place, ring[other + 1 :]])
    return max(outer, inner, key=_area)


def _side(start: Points, end: Points, points: Points) -> NDArray[np.float64]:
    way, there = end - start, points - start
    return way[..., 0] * there[..., 1] - way[..., 1] * there[..., 0]


def _area(ring: Points) -> float:
    return abs(float(signed_area(ring, np.roll(ring, -1, axis=0)).sum()))
