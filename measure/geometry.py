"""Area, perimeter, length, width and shape of one wound, on a polygon in millimetres.

Every function takes the wound as a shapely ``Polygon`` in the wound plane: millimetres, x right, y down,
healed islands as holes. A polygon without area, not valid or with coordinates that are not numbers is
refused with a ``ValueError``; `measure.outline.map_outline` never yields one.

Numbers come from the polygon's vertices, never from counting or walking the pixels of a mask, whose boundary
is about 5 % too long at every resolution.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import pi, sqrt

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LinearRing, Polygon
from shapely.validation import explain_validity

_TIE = 1e-9  # lengths closer than this, relative to the longest, are the same length


class Convention(StrEnum):
    """How length and width are taken; one a site, stored with every number."""

    LONGEST_PERPENDICULAR = "longest-perpendicular"
    HEAD_TO_TOE = "head-to-toe"

    @classmethod
    def _missing_(cls, value: object) -> "Convention":
        choices = " or ".join(f"'{choice}'" for choice in cls)
        raise ValueError(f"{value!r} is no way to take length and width; use {choices}.")


@dataclass(frozen=True, eq=False)
class Extents:
    """Length and width of one wound, and the lines along which they were taken.

    Attributes
    ----------
    convention : Convention
        How they were taken.
    length_mm, width_mm : float
        Extents along the two directions, in mm.
    length_line, width_line : ndarray of shape (2, 2)
        End points of the two lines to draw, as rows (x, y) in mm; at right angles to each other, and as long
        as the numbers say. With `Convention.HEAD_TO_TOE` the length line starts at the head end.
    """

    convention: Convention
    length_mm: float
    width_mm: float
    length_line: NDArray[np.float64]
    width_line: NDArray[np.float64]


def area_mm2(wound: Polygon) -> float:
    """Give the open area in mm2: inside the outline, less its healed islands."""
    return float(_sound(wound).area)


def perimeter_mm(wound: Polygon) -> float:
    """Give the length of every edge of the wound in mm, the edges of healed islands included.

    That is the whole line from which healing advances; the outer outline alone is
    ``wound.exterior.length``.
    """
    return float(_sound(wound).length)


def circularity(wound: Polygon) -> float:
    """Give 4 pi A / P**2: 1 for a circle, less for everything else, and less still with healed islands."""
    return 4 * pi * area_mm2(wound) / perimeter_mm(wound) ** 2


def solidity(wound: Polygon) -> float:
    """Give the open area as a fraction of the convex hull's: 1 without dents and healed islands."""
    return area_mm2(wound) / float(wound.convex_hull.area)


def equivalent_diameter_mm(wound: Polygon) -> float:
    """Give the diameter in mm of the circle with the same open area, sqrt(4 A / pi)."""
    return sqrt(4 * area_mm2(wound) / pi)


def aspect_ratio(length_mm: float, width_mm: float) -> float:
    """Give length / width: at least 1 when the length is the longest, any positive number head to toe."""
    return length_mm / width_mm


def length_x_width_mm2(length_mm: float, width_mm: float) -> float:
    """Give length times width in mm2, the number that charts ask for; an ellipse has 21 % less area."""
    return length_mm * width_mm


def ellipse_area_mm2(length_mm: float, width_mm: float) -> float:
    """Give the area in mm2 of the ellipse with these two axes, pi / 4 L W."""
    return pi / 4 * length_mm * width_mm


def extents(wound: Polygon, convention: Convention | str, head: ArrayLike = (0.0, -1.0)) -> Extents:
    """Take length and width of a wound under one convention.

    Parameters
    ----------
    wound : Polygon
        In mm. Only its outer ring matters.
    convention : Convention or str
        ``"longest-perpendicular"``: the greatest distance between two points of the outline, by the extent
        at right angles to it; where several lengths tie, the one with the greatest width counts.
        ``"head-to-toe"``: the extent along `head`, by the extent at right angles to it.
    head : array_like of shape (2,)
        Direction of 12 o'clock in the wound plane: of the head or, on a foot, of the heel. Any length.
        Only ``"head-to-toe"`` looks at it.

    Raises
    ------
    ValueError
        If the convention is unknown, the wound can't be measured, or `head` points nowhere.

    Notes
    -----
    The width is the extent at right angles to the length, not the smallest distance between two parallel
    tangents: a rectangle of 40 x 30 mm is 50 mm long (its diagonal) and 48 mm wide.
    """
    convention = Convention(convention)
    hull = _hull_points(_sound(wound))
    along = -_unit(head) if convention is Convention.HEAD_TO_TOE else _longest_direction(hull)
    length_line = _extent_line(hull, along)
    width_line = _extent_line(hull, _right_angle(along))
    return Extents(convention, _length(length_line), _length(width_line), length_line, width_line)


def _sound(wound: Polygon) -> Polygon:
    """Give the wound back, or refuse it if it can't be measured."""
    if wound.is_empty:
        raise ValueError("The wound has no outline; draw one before measuring it.")
    if not np.isfinite(shapely.get_coordinates(wound)).all():
        raise ValueError("The wound's outline has coordinates that are not numbers; draw it again.")
    if not wound.is_valid:
        raise ValueError(f"The wound's outline is not sound ({explain_validity(wound)}); draw it again.")
    if wound.area == 0:
        raise ValueError("The wound's outline encloses no area; draw it round the whole wound.")
    return wound


def _hull_points(wound: Polygon) -> NDArray[np.float64]:
    """Give the corners of the convex hull, in which every extent is reached; shape (N, 2), angles rising."""
    ring = LinearRing(shapely.get_coordinates(wound.convex_hull))
    corners = shapely.get_coordinates(ring)[:-1]
    return corners if ring.is_ccw else corners[::-1]


def _longest_direction(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the unit vector between the two farthest points; of ties, the one with the greatest width."""
    apart = _opposite(points)
    lengths = np.hypot(apart[:, 0], apart[:, 1])
    longest = lengths >= lengths.max() * (1 - _TIE)
    directions = apart[longest] / lengths[longest, None]
    widths = [np.ptp(points @ across) for across in _right_angle(directions)]
    return np.asarray(directions[np.argmax(widths)])


def _opposite(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the vectors between all pairs of hull corners that parallel tangents can touch; shape (M, 2).

    Rotating calipers (Shamos 1978, from memory): each hull edge is paired with the corner farthest from it,
    and with that corner's neighbours, one of which is as far where two edges are parallel.
    """
    edges = np.roll(points, -1, axis=0) - points
    turned = np.unwrap(np.arctan2(edges[:, 1], edges[:, 0]))
    facing = np.searchsorted(np.r_[turned, turned + 2 * pi], turned + pi)
    farthest = [points[(facing + step) % len(points)] for step in (-1, 0, 1)]
    return np.concatenate([far - near for far in farthest for near in (points, points + edges)])


def _extent_line(points: NDArray[np.float64], along: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the line that spans the points in one direction, where it meets them or half-way between.

    The points that reach farthest at either end may lie to different sides (or form a whole edge). The line
    runs where both ends touch them if it can, and otherwise midway between the two touching points.
    """
    reach, aside = points @ along, points @ _right_angle(along)
    slack = _TIE * np.ptp(reach)
    first = aside[reach <= reach.min() + slack]
    last = aside[reach >= reach.max() - slack]
    middle = (max(first.min(), last.min()) + min(first.max(), last.max())) / 2
    ends = np.array([reach.min(), reach.max()])
    return np.asarray(np.outer(ends, along) + middle * _right_angle(along))


def _right_angle(directions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn vectors by a quarter, clockwise on the screen (y down); shape (..., 2)."""
    return np.stack([-directions[..., 1], directions[..., 0]], axis=-1)


def _length(line: NDArray[np.float64]) -> float:
    """Give the distance between the two ends of a line."""
    return float(np.hypot(*(line[1] - line[0])))


def _unit(head: ArrayLike) -> NDArray[np.float64]:
    """Give the direction of the head with length 1."""
    direction = np.asarray(head, dtype=np.float64)
    if direction.shape != (2,) or not np.isfinite(direction).all() or not direction.any():
        raise ValueError(f"{head!r} is no direction for the head; give (x, y), such as (0, -1) for upwards.")
    return np.asarray(direction / np.hypot(*direction))
