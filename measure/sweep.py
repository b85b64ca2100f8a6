"""The brush: what it sweeps over is added to the outlines or taken away from them.

A stroke is the line along which the middle of a round brush went, in photo pixels. Adding joins wounds that the stroke
connects, starts a new one where it touches none, and fills holes that it covers; removing may split a wound, cut a hole
into it, or leave nothing of it. Wounds that the stroke does not touch come back as they were, and so does the edge of a
touched wound away from the stroke. What comes back lies on the hundredths of a pixel that a file keeps, passes
`measure.outline.check_outlines`, and goes on passing it when stored and read.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import cast

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from measure.outline import Outline, OutlineError, check_outlines, from_polygon, polygon

STROKE_TOLERANCE = 0.05
"""Of the stroke's line, in radii: a hand does not guide a brush more exactly than a twentieth of its size."""

EDGE_TOLERANCE = 0.03
"""Of the edge that the stroke leaves, in radii: a disc keeps 12 to 24 points."""

SPECK = 0.05
"""In areas of the brush: less than this left of a wound, or of a hole, is a slip and not meant. At least 25 px."""

_MIN_SPECK_PX = 25.0
_GRID_PX = 0.01
_QUARTER = 6  # edges of a quarter of the brush: 0.9 % of the radius inside the circle
_REACH = 1.0  # radii round the stroke within which the edge may lose points


def add_sweep(
    outlines: Sequence[Outline], stroke: ArrayLike, radius_px: float, width: int, height: int
) -> tuple[Outline, ...]:
    """Add what a stroke of the brush swept over.

    Parameters
    ----------
    outlines : sequence of Outline
        The wounds so far, in photo pixels.
    stroke : array_like of shape (N, 2)
        Middles of the brush in photo pixels, N at least 1. What lies outside the photo is cut off.
    radius_px : float
        Of the brush, in photo pixels.
    width, height : int
        Of the photo, in pixels.

    Returns
    -------
    tuple of Outline
        In the old order; a joined wound stands in the place of the first of its parts, a new one at the end.
        The total area shrinks by no more than ``EDGE_TOLERANCE * radius_px`` times the length of the edge within a
        radius of the stroke.

    Raises
    ------
    OutlineError
        If stroke or radius are no numbers to draw with, or a wound that the stroke does not touch can't be measured.
    """
    brush = _brush(stroke, radius_px, width, height)
    touched = [number for number, outline in enumerate(outlines) if _shape(outline).intersects(brush.swept)]
    before = shapely.union_all([_shape(outlines[number]) for number in touched])
    after = _on_grid(before.union(brush.swept))
    if after.area - before.area < _MIN_SPECK_PX:
        return tuple(outlines)
    return _replaced(outlines, touched, [_without_specks(part, brush) for part in _parts(after)], brush)


def remove_sweep(
    outlines: Sequence[Outline], stroke: ArrayLike, radius_px: float, width: int, height: int
) -> tuple[Outline, ...]:
    """Take away what a stroke of the brush swept over.

    Parameters, and errors, are those of `add_sweep`.

    Returns
    -------
    tuple of Outline
        In the old order, the parts of a split wound together, the largest first; empty if nothing is left. The total
        area grows by no more than ``EDGE_TOLERANCE * radius_px`` times the length of the edge within a radius of the
        stroke.
    """
    brush = _brush(stroke, radius_px, width, height)
    left = tuple(outlines)
    for outline in outlines:
        shape = _shape(outline)
        if shape.intersection(brush.swept).area < _GRID_PX:
            continue
        rest = [part for part in _parts(_on_grid(shape.difference(brush.swept))) if part.area >= brush.speck]
        left = _replaced(left, [number for number, other in enumerate(left) if other is outline], rest, brush)
    return left


@dataclass(frozen=True)
class _Brush:
    """One stroke of the brush: the area in the photo that it went over, its radius, and the sides of the photo."""

    swept: BaseGeometry
    radius_px: float
    frame: tuple[int, int]

    @property
    def speck(self) -> float:
        """Least area of a wound or hole in px."""
        return float(max(_MIN_SPECK_PX, SPECK * np.pi * self.radius_px**2))


def _brush(stroke: ArrayLike, radius_px: float, width: int, height: int) -> _Brush:
    """Draw a stroke, or refuse it."""
    try:
        middles = np.asarray(stroke, dtype=np.float64).reshape(-1, 2)
    except (TypeError, ValueError):
        middles = np.empty((0, 2))
    if not len(middles) or not np.isfinite(middles).all():
        raise OutlineError("The stroke of the brush is no list of [x, y] points; draw it again.")
    if not (np.isfinite(radius_px) and radius_px > 0):
        raise OutlineError(f"The brush has a radius of {radius_px} pixels; choose one above 0.")
    line = LineString(middles if len(middles) > 1 else np.repeat(middles, 2, axis=0))
    area = shapely.buffer(line.simplify(STROKE_TOLERANCE * radius_px), radius_px, quad_segs=_QUARTER)
    inside = area.intersection(box(-0.5, -0.5, width - 0.5, height - 0.5))
    return _Brush(shapely.union_all(_parts(inside)), radius_px, (width, height))


def _shape(outline: Outline) -> BaseGeometry:
    """Return an outline's area; of one that crosses itself what its edge goes round."""
    area = polygon(outline)
    return area if area.is_valid else shapely.make_valid(area, method="structure", keep_collapsed=False)


def _parts(area: BaseGeometry) -> list[Polygon]:
    """Return the polygons of an area, the largest first."""
    parts = [part for part in shapely.get_parts(area) if isinstance(part, Polygon) and not part.is_empty]
    return sorted(parts, key=lambda part: -part.area)


def _on_grid(area: BaseGeometry) -> BaseGeometry:
    """Move the corners to the hundredths of a pixel that a file keeps; the area stays sound."""
    return shapely.set_precision(area, _GRID_PX)


def _without_specks(part: Polygon, brush: _Brush) -> Polygon:
    """Fill small holes that the brush touched; islands elsewhere are none of its business."""
    kept = [ring for ring in part.interiors if Polygon(ring).area >= brush.speck or not ring.intersects(brush.swept)]
    return Polygon(part.exterior, kept)


def _replaced(
    outlines: Sequence[Outline], places: Sequence[int], parts: Sequence[Polygon], brush: _Brush
) -> tuple[Outline, ...]:
    """Put new parts in the place of old outlines, with as few points as the brush can express.

    Fewer points move the edge: where that made it cross itself or another wound, more are kept.
    """
    start = places[0] if places else len(outlines)
    before = [outline for number, outline in enumerate(outlines) if number < start and number not in places]
    behind = [outline for number, outline in enumerate(outlines) if number > start and number not in places]
    near = brush.swept.buffer(_REACH * brush.radius_px)
    for tolerance in (EDGE_TOLERANCE * brush.radius_px, EDGE_TOLERANCE * brush.radius_px / 4):
        fewer = [_fewer_points(part, near, tolerance) for part in parts]
        if not all(part.is_valid for part in fewer):
            continue
        result = (*before, *(from_polygon(part) for part in fewer), *behind)
        if _is_sound(result, brush.frame):
            return result
    result = (*before, *(from_polygon(part) for part in parts), *behind)
    check_outlines(result, *brush.frame)
    return result


def _is_sound(outlines: Sequence[Outline], frame: tuple[int, int]) -> bool:
    try:
        check_outlines(outlines, *frame)
    except OutlineError:
        return False
    return True


def _fewer_points(part: Polygon, near: BaseGeometry, tolerance_px: float) -> Polygon:
    """Drop points of a part's rings near the stroke that lie within a tolerance of the line through the rest."""
    exterior, *holes = (
        _fewer(shapely.get_coordinates(ring), near, tolerance_px) for ring in (part.exterior, *part.interiors)
    )
    return Polygon(exterior, holes)


def _fewer(ring: NDArray[np.float64], near: BaseGeometry, tolerance_px: float) -> NDArray[np.float64]:
    """Return a ring, closed as it came, with fewer points within an area; those outside it all stay."""
    far = np.flatnonzero(~shapely.intersects_xy(near, *ring[:-1].T))
    if not len(far):
        simpler = cast("Polygon", Polygon(ring).simplify(tolerance_px))
        return shapely.get_coordinates(simpler.exterior)
    ring = np.roll(ring[:-1], -far[0], axis=0)
    stays = np.r_[far - far[0], len(ring)]
    ring = np.r_[ring, ring[:1]]
    runs = [ring[first : last + 1] for first, last in pairwise(stays)]
    simpler_runs = [_fewer_of_run(run, tolerance_px)[:-1] for run in runs]
    return np.concatenate([*simpler_runs, ring[:1]])


def _fewer_of_run(run: NDArray[np.float64], tolerance_px: float) -> NDArray[np.float64]:
    return run if len(run) < 3 else shapely.get_coordinates(LineString(run).simplify(tolerance_px))
