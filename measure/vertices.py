"""Few enough points to take hold of, enough to say where the edge is.

A person corrects an outline point by point: too many can't be grasped with a finger, too few don't follow the edge.
"""

from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from measure.outline import Outline, from_polygon, polygon

TOLERANCE_MM = 0.2
"""How far the edge may move: no farther than people place it (`measure.wound.EDGE_SIGMA_MM`)."""

FEWEST, MOST = 24, 80
"""Points of a wound's outer edge: with fewer it would be flagged as coarse, more lie too close together on a screen."""

LEAST_STEP_MM = 0.5
"""Mean distance below which points are of no use to a finger: a smaller wound gets fewer than `FEWEST`."""

_COARSER = (0.5, 0.6, 0.7, 0.85, 1.0, 1.2, 1.4, 1.7, 2.0)
_FINER = (0.5, 0.35, 0.25, 0.18, 0.12, 0.06, 0.03)
"""Shares of the tolerance within which points are dropped, in the order in which they are tried. Beyond 1 because the
edge is moved back by about half of what dropping points took."""

_LOOKS = 800  # places of an edge, beside its points, whose distance from the other edge is taken


def reduce_vertices(outline: Outline, mm_per_px: float, tolerance_mm: float = TOLERANCE_MM) -> Outline:
    """Return an outline of 24 to 80 points that lies within a tolerance of the given one, and encloses as much.

    Parameters
    ----------
    outline : Outline
        Sound, in photo pixels; as `measure.outline.check_outline` lets pass.
    mm_per_px : float
        At the wound.
    tolerance_mm : float
        Greatest distance between the old edge and the new one, either way. Where 80 points can't keep to it, there
        are more; where 24 would lie closer than `LEAST_STEP_MM`, there are fewer.

    Returns
    -------
    Outline
        Holes keep to the same tolerance, whatever the number of their points. The area inside the outer edge is that
        of the old one: dropping points alone would take a slice off every bend.
    """
    limit_px = tolerance_mm / mm_per_px
    before = polygon(outline)
    fewest = int(min(FEWEST, before.exterior.length * mm_per_px / LEAST_STEP_MM))
    many = len(_dropped(before, _COARSER[0] * limit_px).exterior.coords) > MOST
    best = before
    for share in _COARSER if many else _FINER:
        found = _dropped(before, share * limit_px)
        if found.is_valid and _apart(found, before) <= limit_px:
            best = found
            points = len(found.exterior.coords) - 1
            if points <= MOST if many else points >= fewest:
                break
    return _filled_up(from_polygon(best), fewest)


def _dropped(shape: Polygon, tolerance_px: float) -> Polygon:
    """Drop points within a tolerance, and move the rest of the outer edge so that it encloses as much as before."""
    fewer = cast("Polygon", shape.simplify(tolerance_px, preserve_topology=True))
    return _with_area(fewer, Polygon(shape.exterior).area)


def _with_area(shape: Polygon, area: float) -> Polygon:
    """Move the outer edge of a shape evenly outwards or inwards until it encloses an area; its corners stay corners."""
    ring = shapely.get_coordinates(shape.exterior)[:-1]
    for _ in range(2):  # nearly linear: the second step takes away what is left
        missing = area - Polygon(ring).area
        ring = ring + _outwards(ring) * missing / Polygon(ring).length
    return Polygon(ring, list(shape.interiors))


def _outwards(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for each corner the step that moves both its edges outwards by 1; in sharp corners a shorter one."""
    edges = np.roll(ring, -1, axis=0) - ring
    edges /= np.hypot(*edges.T)[:, np.newaxis]
    normals = np.column_stack([edges[:, 1], -edges[:, 0]]) * (1 if Polygon(ring).exterior.is_ccw else -1)
    sums = normals + np.roll(normals, 1, axis=0)
    return np.asarray(sums / np.maximum((sums**2).sum(axis=1) / 2, 0.5)[:, np.newaxis])


def _apart(one: Polygon, other: Polygon) -> float:
    """Return the greatest distance between two edges, either way, holes included."""
    return max(_strays(one.boundary, other.boundary), _strays(other.boundary, one.boundary))


def _strays(edge: BaseGeometry, other: BaseGeometry) -> float:
    places = shapely.points(shapely.get_coordinates(shapely.segmentize(edge, edge.length / _LOOKS)))
    return float(shapely.distance(places, other).max())


def _filled_up(outline: Outline, fewest: int) -> Outline:
    """Set points on the edges where there are too few; the shape stays."""
    if len(outline.exterior) >= fewest:
        return outline
    ring = polygon(outline).exterior
    filled = shapely.segmentize(ring, ring.length / fewest)
    return Outline(shapely.get_coordinates(filled), outline.holes)
