"""How far a wound's edge moved from one visit to a later one, point by point along the earlier edge.

Each point's advance is its distance from the nearest edge of the later wound: positive where the point now lies on
healed skin, negative where the wound grew over it. Distances along the edge's normal would need a direction that
jitters with every tremor of the hand that drew it, miss the later wound from notches and corners, and hit its far side;
the nearest point always exists, needs nothing to be chosen, and never claims more than the edge moved. Where a wound
split, the nearest piece counts. Healed islands inside the earlier wound have edges too; they advance outwards.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, MultiPolygon, Polygon

from calibration.sticker import Points
from measure.flat import Mask
from measure.uncertainty import COVERAGE_FACTOR

STEP_MM = 1.0
"""Between points along the edge: finer than any edge is drawn, and some hundred points a wound."""

HOURS = 12

Shape = Polygon | MultiPolygon


@dataclass(frozen=True)
class AtClock:
    """The edge at one position of the clock, half an hour to either side.

    Attributes
    ----------
    hour : int
        1 to 12.
    advance_mm : float
        Mean over this part of the outer edge.
    sigma_mm : float
        Its standard uncertainty.
    """

    hour: int
    advance_mm: float
    sigma_mm: float

    @property
    def expanded_mm(self) -> float:
        """U = k u with k = 2."""
        return COVERAGE_FACTOR * self.sigma_mm

    @property
    def beyond(self) -> bool:
        """Whether it moved, either way, by more than its uncertainty."""
        return abs(self.advance_mm) > self.expanded_mm


@dataclass(frozen=True, eq=False)
class Advance:
    """How far the edge moved.

    Attributes
    ----------
    points_mm : ndarray of shape (N, 2)
        On the outer edge of the earlier wound, `STEP_MM` apart or a little less.
    nearest_mm : ndarray of shape (N, 2)
        Of the later wound's edge.
    advance_mm : ndarray of shape (N,)
        Positive where the edge advanced into the wound, negative where the wound grew.
    sigma_mm : ndarray of shape (N,)
        Standard uncertainty of each.
    clock : ndarray of shape (N,)
        Where each point lies as hours, 0 to 12, round the middle of the earlier wound.
    mean_sigma_mm : float
        Standard uncertainty of the mean.
    gilman_mm : float
        Area lost over the mean of both perimeters (Gilman, Wounds 1990;2:95-101).
    islands_mm : ndarray of shape (M,)
        Advance of the edges of healed islands, the same distance apart; empty where there were none.
    pieces : int
        Into how many parts the later wound is split.
    """

    points_mm: Points
    nearest_mm: Points
    advance_mm: NDArray[np.float64]
    sigma_mm: NDArray[np.float64]
    clock: NDArray[np.float64]
    mean_sigma_mm: float
    gilman_mm: float
    islands_mm: NDArray[np.float64]
    pieces: int

    @property
    def mean_mm(self) -> float:
        """Mean along the outer edge."""
        return float(self.advance_mm.mean())

    @property
    def mean_expanded_mm(self) -> float:
        """U = k u of the mean with k = 2."""
        return COVERAGE_FACTOR * self.mean_sigma_mm

    @property
    def advanced(self) -> Mask:
        """Which points advanced by more than their uncertainty, U with k = 2."""
        return np.asarray(self.advance_mm > COVERAGE_FACTOR * self.sigma_mm, dtype=np.bool_)

    @property
    def receded(self) -> Mask:
        """Which points the wound grew over by more than their uncertainty."""
        return np.asarray(self.advance_mm < -COVERAGE_FACTOR * self.sigma_mm, dtype=np.bool_)

    @property
    def share_advanced(self) -> float:
        """Share of the outer edge, 0 to 1."""
        return float(self.advanced.mean())

    @property
    def share_receded(self) -> float:
        """Share of the outer edge, 0 to 1."""
        return float(self.receded.mean())

    @cached_property
    def by_clock(self) -> tuple[AtClock, ...]:
        """Return the positions of the clock at which there is an edge, from 1 to 12."""
        hours = np.rint(self.clock).astype(int) % HOURS
        return tuple(self._at(hour or HOURS, hours == hour) for hour in (*range(1, HOURS), 0) if (hours == hour).any())

    def _at(self, hour: int, here: Mask) -> AtClock:
        """Sum a part of the edge up; what makes one of its points uncertain moves its neighbours alike."""
        return AtClock(hour, float(self.advance_mm[here].mean()), float(self.sigma_mm[here].mean()))


@dataclass(frozen=True)
class Doubt:
    """What makes an advance uncertain, as standard uncertainties that are independent of each other.

    Attributes
    ----------
    edges_mm : tuple of float
        Of where each of the two outlines is drawn; shared by the whole edge.
    scales : tuple of float
        Relative, of a length in each of the two photos; shared too, and grows with the distance from the middle.
    shift_mm : float
        Of laying one on the other, in x or y; what it adds on one side it takes on the other.
    turn_deg : float
        Of laying one on the other.
    """

    edges_mm: tuple[float, float] = (0.0, 0.0)
    scales: tuple[float, float] = (0.0, 0.0)
    shift_mm: float = 0.0
    turn_deg: float = 0.0


def advance(earlier: Polygon, later: Shape, doubt: Doubt, noon_deg: float = 0.0) -> Advance:
    """Measure how far the edge moved between two wounds that lie over one another.

    Parameters
    ----------
    earlier : Polygon
        In mm, islands as holes.
    later : Polygon or MultiPolygon
        In mm; not empty.
    doubt : Doubt
    noon_deg : float
        Direction of 12 o'clock, clockwise from the top (-y).
    """
    points, across = _along([earlier.exterior])
    found, nearest = _signed(points, later)
    middle = shapely.get_coordinates(Polygon(earlier.exterior).centroid)[0]
    away = points - middle
    shared = float(np.linalg.norm(doubt.edges_mm))
    scale = float(np.linalg.norm(doubt.scales))
    out = np.abs((away * across).sum(axis=1))
    slide = np.radians(doubt.turn_deg) * np.abs(away[:, 0] * across[:, 1] - away[:, 1] * across[:, 0])
    sigma = np.sqrt(shared**2 + (scale * out) ** 2 + doubt.shift_mm**2 + slide**2)
    islands = _signed(_along(list(earlier.interiors))[0], later)[0] if earlier.interiors else np.empty(0)
    return Advance(
        points,
        nearest,
        found,
        sigma,
        _hours(away, noon_deg),
        float(np.hypot(shared, scale * out.mean())),
        gilman_mm(earlier, later),
        islands,
        len(shapely.get_parts(later)),
    )


def gilman_mm(earlier: Shape, later: Shape) -> float:
    """Return the area lost over the mean of both perimeters: (A1 - A2) / ((p1 + p2) / 2).

    The linear advance of Gilman (Wounds 1990;2:95-101); exactly the advance where a circle shrinks to a circle.
    """
    return float((earlier.area - later.area) / ((earlier.length + later.length) / 2))


def _along(rings: Sequence[LinearRing]) -> tuple[Points, Points]:
    """Return points evenly along rings, and the edge's unit normals there."""
    points, normals = [], []
    for ring in rings:
        count = max(HOURS, int(np.ceil(ring.length / STEP_MM)))
        places = np.arange(count) * ring.length / count
        ends = [shapely.get_coordinates(ring.interpolate((places + side) % ring.length)) for side in (0, -1, 1)]
        along = ends[2] - ends[1]
        along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
        points.append(ends[0])
        normals.append(np.column_stack([-along[:, 1], along[:, 0]]))
    return np.concatenate(points), np.concatenate(normals)


def _signed(points: Points, later: Shape) -> tuple[NDArray[np.float64], Points]:
    """Return how far points lie from the later wound's edge, negative inside it, and the nearest places there."""
    places = shapely.points(points)
    edge = later.boundary
    lines = shapely.shortest_line(places, edge)
    inside = shapely.contains_properly(later, places)
    distance = shapely.length(lines)
    nearest = shapely.get_coordinates(lines)[1::2]
    return np.where(inside, -distance, distance), nearest


def _hours(away: Points, noon_deg: float) -> NDArray[np.float64]:
    """Return the direction of vectors (N, 2) as hours of a clock."""
    turned = np.degrees(np.arctan2(away[:, 0], -away[:, 1])) - noon_deg
    hours = turned / 360 * HOURS % HOURS
    return np.asarray(np.where(hours < HOURS, hours, 0.0))  # what is just before 12 may be rounded up to it
