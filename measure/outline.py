"""The outline of one wound in photo pixels: read, check, turn into a mask and back, compare.

Coordinates are (x, y) with x right, y down and pixel centres at whole numbers, so that a photo reaches from
-0.5 to width - 0.5. Pixels are those of the photo as the person sees it, its orientation applied.

The file format, also what ``ebbline measure --json`` prints for one photo (other keys are ignored)::

    {"wounds": [{"outline": [[x, y], ...], "holes": [[[x, y], ...]]}]}

Holes are healed islands inside a wound. Outlines that can't be measured are refused with an `OutlineError`.
"""

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any, cast

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity
from skimage.measure import find_contours

from calibration.errors import EbblineError

_FORM = '{"wounds": [{"outline": [[x, y], ...], "holes": [[[x, y], ...]]}]}'
_THIN_PX = 0.1  # wounds side by side may overlap by this much: the printed decimals round their common edge


class OutlineError(EbblineError):
    """An outline that can't be measured."""

    code = "unusable-outline"


@dataclass(frozen=True, eq=False)
class Outline:
    """The edge of one wound and of the healed islands in it, in photo pixels.

    Rings may turn either way. A repeated closing point and points that repeat the one before are dropped;
    the order of the rest is kept. The arrays are copies and can't be written to.

    Attributes
    ----------
    exterior : ndarray of shape (N, 2)
        Points (x, y) of the outer edge, not closed.
    holes : tuple of ndarray of shape (M, 2)
        Points of the edge of each healed island, not closed.

    Raises
    ------
    OutlineError
        If a ring is no list of points, holds a number that isn't finite, or has fewer than 3 distinct points.
        Whether the rings enclose a sound area within the photo is up to `check_outline`.
    """

    exterior: NDArray[np.float64]
    holes: tuple[NDArray[np.float64], ...] = ()

    def __post_init__(self) -> None:
        """Tidy the rings."""
        object.__setattr__(self, "exterior", _ring(self.exterior, "The outline"))
        holes = tuple(_ring(hole, f"Hole {number}") for number, hole in enumerate(self.holes, 1))
        object.__setattr__(self, "holes", holes)


def _ring(points: object, name: str) -> NDArray[np.float64]:
    """Tidy the points of one ring, or refuse them under the ring's name."""
    ring = _points(points, name)
    if not np.isfinite(ring).all():
        raise OutlineError(f"{name} has a coordinate that is not a finite number; draw it again.")
    moves: NDArray[np.bool_] = (ring != np.roll(ring, -1, axis=0)).any(axis=1)
    ring = ring[moves]
    distinct = len(np.unique(ring, axis=0))
    if distinct < 3:
        raise OutlineError(
            f"{name} has {distinct} distinct points, but an area needs at least 3; set more points round it."
        )
    ring.flags.writeable = False
    return ring


def _points(points: object, name: str) -> NDArray[np.float64]:
    """Convert to shape (N, 2) whatever looks like a list of pairs of numbers."""
    try:
        array = np.asarray(points)
    except ValueError:  # lists of unlike lengths
        array = np.empty(0, dtype=object)
    if array.size and (array.dtype.kind not in "iuf" or array.ndim != 2 or array.shape[1] != 2):
        array = np.empty(0, dtype=object)
    if array.dtype == object:
        raise OutlineError(f"{name} is not a list of [x, y] points; give at least 3, in photo pixels.")
    return np.array(array.reshape(-1, 2), dtype=np.float64)


# Reading and writing


def read_outlines(path: str | Path, width: int, height: int) -> tuple[Outline, ...]:
    """Read and check the outlines in a JSON file that belong to a photo of width x height pixels.

    Raises
    ------
    OutlineError
        If the file can't be read, has another form, or an outline in it can't be measured.
    """
    return parse_outlines(load_document(path), width, height)


def load_document(path: str | Path) -> object:
    """Load a JSON file that holds outlines, whatever it says of them.

    Raises
    ------
    OutlineError
        If the file can't be read or is not JSON.
    """
    try:
        loaded: object = json.loads(Path(path).read_bytes())
    except FileNotFoundError:
        raise OutlineError(f"The outline file {path} was not found; check its name and folder.") from None
    except OSError as error:
        raise OutlineError(
            f"The outline file {path} can't be opened ({error.strerror}); check that it is a file you may read."
        ) from error
    except (ValueError, RecursionError) as error:
        raise OutlineError(
            f"The outline file {path} is not JSON ({error}); save the outline again, in the form {_FORM}."
        ) from error
    return loaded


def parse_outlines(loaded: object, width: int, height: int) -> tuple[Outline, ...]:
    """Make and check outlines from loaded JSON; the reverse of `document`."""
    wounds = loaded.get("wounds") if isinstance(loaded, dict) else None
    if not isinstance(wounds, list):
        raise OutlineError(
            f"The outline file holds no list of wounds; expected one photo's outlines, in the form {_FORM}."
        )
    if not wounds:
        raise OutlineError(
            "The outline file holds 0 wounds; draw at least one, or measure without the file to get a proposal."
        )
    outlines = tuple(_parse_wound(wound, _of(number, wounds)) for number, wound in enumerate(wounds, 1))
    check_outlines(outlines, width, height)
    return outlines


def _parse_wound(wound: object, of: str) -> Outline:
    """Make the outline of one wound."""
    if not isinstance(wound, dict) or "outline" not in wound:
        raise OutlineError(f"The outline{of} is missing; give each wound an 'outline', in the form {_FORM}.")
    holes = wound.get("holes", [])
    if not isinstance(holes, list):
        raise OutlineError(f"The holes{of} are not a list of rings; leave them out or give them as {_FORM}.")
    return Outline(
        _ring(wound["outline"], f"The outline{of}"),
        tuple(_ring(hole, f"Hole {number}{of}") for number, hole in enumerate(holes, 1)),
    )


def document(outlines: Sequence[Outline]) -> dict[str, list[dict[str, Any]]]:
    """Give outlines the form of the JSON file, coordinates with 2 decimals; the reverse of `parse_outlines`."""
    return {
        "wounds": [
            {"outline": _decimals(outline.exterior), "holes": [_decimals(hole) for hole in outline.holes]}
            for outline in outlines
        ]
    }


def _decimals(ring: NDArray[np.float64]) -> list[list[float]]:
    """Give the points of a ring as lists of numbers with 2 decimals, none of them -0.0."""
    rounded: list[list[float]] = (np.round(ring, 2) + 0.0).tolist()
    return rounded


# Checking


def check_outlines(outlines: Sequence[Outline], width: int, height: int) -> None:
    """Check the outlines of one photo, each for itself and that no two wounds overlap.

    Overlaps thinner than 0.1 px pass, so that wounds side by side may share an edge.

    Raises
    ------
    OutlineError
        At the first that can't be measured; the sentence names the wound if there are several.
    """
    for number, outline in enumerate(outlines, 1):
        _check(outline, width, height, _of(number, outlines))
    wounds = [polygon(outline) for outline in outlines]
    for (first, one), (second, other) in combinations(enumerate(wounds, 1), 2):
        common = one.intersection(other).buffer(-_THIN_PX / 2)
        if not common.is_empty:
            raise OutlineError(
                f"The outlines of wounds {first} and {second} overlap near {_near(common)}; "
                "move them apart, or draw one outline round both."
            )


def check_outline(outline: Outline, width: int, height: int) -> None:
    """Check that an outline lies in the photo, crosses nothing and has its holes inside.

    Raises
    ------
    OutlineError
        If it can't be measured; the sentence says roughly where.
    """
    _check(outline, width, height, "")


def _check(outline: Outline, width: int, height: int, of: str) -> None:
    """Check one outline; `of` ends its name in sentences."""
    _check_frame(outline.exterior, width, height, of)
    _check_ring(outline.exterior, f"The outline{of}")
    wound = polygon(outline)
    if not wound.is_valid:
        _refuse_holes(outline, of)
        raise OutlineError(
            f"Holes{of} touch each other or the outline near {_where(wound)}; "
            "leave a gap between them, or draw one outline that goes round."
        )


def _check_frame(exterior: NDArray[np.float64], width: int, height: int, of: str) -> None:
    """Refuse an outer edge that leaves the photo; touching its border is allowed."""
    outside = ((exterior < -0.5) | (exterior > np.array([width, height]) - 0.5)).any(axis=1)
    if outside.any():
        x, y = exterior[outside][0]
        raise OutlineError(
            f"The outline{of} leaves the photo: ({x:.6g}, {y:.6g}) lies outside its {width} x {height} pixels; "
            "move it inside, or check that it was drawn on this photo."
        )


def _check_ring(ring: NDArray[np.float64], name: str) -> None:
    """Refuse a ring that encloses nothing or meets itself."""
    enclosed = Polygon(ring)
    if enclosed.convex_hull.area == 0:
        raise OutlineError(f"{name} encloses no area, its points lie on one line; draw it round the wound.")
    if not enclosed.is_valid:
        raise OutlineError(
            f"{name} crosses itself near {_where(enclosed)}; move the points there so that it goes round once."
        )


def _refuse_holes(outline: Outline, of: str) -> None:
    """Say which of the holes is at fault, if it is one that meets itself, lies outside or overlaps another."""
    inside = Polygon(outline.exterior)
    holes = []
    for number, ring in enumerate(outline.holes, 1):
        _check_ring(ring, f"Hole {number}{of}")
        holes.append(Polygon(ring))
        if not inside.covers(holes[-1]):
            near = _near(holes[-1].difference(inside))
            raise OutlineError(f"Hole {number}{of} reaches outside the outline near {near}; draw it inside.")
    for (first, one), (second, other) in combinations(enumerate(holes, 1), 2):
        common = one.intersection(other)
        if common.area > 0:
            raise OutlineError(
                f"Holes {first} and {second}{of} overlap near {_near(common)}; draw one round both of them."
            )


def _of(number: int, wounds: Sequence[object]) -> str:
    """Tell a wound from the others, if there are others."""
    return f" of wound {number}" if len(wounds) > 1 else ""


def _near(shape: BaseGeometry) -> str:
    """Give a place within a shape, as a person reads it."""
    place: Point = shape.representative_point()
    return f"({place.x:.0f}, {place.y:.0f})"


def _where(invalid: Polygon) -> str:
    """Give the place where a polygon stops being sound, as a person reads it."""
    place = re.search(r"\[(\S+) (\S+)\]", explain_validity(invalid))
    return f"({float(place[1]):.0f}, {float(place[2]):.0f})" if place else _near(invalid.convex_hull)


# Polygons


def polygon(outline: Outline) -> Polygon:
    """Give the outline as a shapely polygon in photo pixels."""
    return Polygon(outline.exterior, outline.holes)


def from_polygon(wound: Polygon) -> Outline:
    """Make an outline from a shapely polygon in photo pixels."""
    return Outline(
        shapely.get_coordinates(wound.exterior), tuple(shapely.get_coordinates(ring) for ring in wound.interiors)
    )


def finer(outline: Outline, longest_px: float) -> Outline:
    """Return the same outline with points added on its edges, so that none is longer than ``longest_px``."""
    cut = shapely.segmentize(polygon(outline), longest_px)
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (cut.exterior, *cut.interiors)]
    return Outline(rings[0], tuple(rings[1:]))


def map_outline(outline: Outline, to_mm: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Polygon:
    """Carry an outline from photo pixels into the wound plane.

    Parameters
    ----------
    outline : Outline
        In photo pixels.
    to_mm : callable
        Maps points of shape (N, 2) in pixels to points of shape (N, 2) in mm. It sees the corners only: a
        homography keeps straight edges straight, so that mapping their ends maps the whole edge. Where the skin is
        bent, cut the edges first with `finer`.

    Returns
    -------
    Polygon
        In mm, sound enough for every function of `measure.geometry`.

    Raises
    ------
    OutlineError
        If the mapped outline isn't finite or crosses itself.
    """
    rings = [np.asarray(to_mm(ring), dtype=np.float64) for ring in (outline.exterior, *outline.holes)]
    if all(np.isfinite(ring).all() for ring in rings):
        mapped = Polygon(rings[0], rings[1:])
        if mapped.is_valid and mapped.area > 0:
            return mapped
    raise OutlineError(
        "The outline can't be turned into millimetres: in the plane of the sticker it comes out torn or crossing "
        "itself; check that sticker and outline lie on the same surface, or take the photo from straighter above."
    )


def simplify(outline: Outline, tolerance_px: float) -> Outline:
    """Drop points that lie within a tolerance of the line through the rest; holes and the order stay.

    The edge moves by at most the tolerance, or twice that where the ring began (its first point may go too).
    With 1 px an outline from a mask loses its pixel steps: about 30 to 100 points are left of a round wound
    of 100 to 900 px radius, its area within 0.1 % and its perimeter within 0.2 %. Much larger tolerances cut
    the corners of small wounds: 2 px take 1 % of the area at 100 px radius.
    """
    simpler = polygon(outline).simplify(tolerance_px, preserve_topology=True)
    return from_polygon(cast("Polygon", simpler))


def dice(one: BaseGeometry, other: BaseGeometry) -> float:
    """Give the overlap of two areas, 2 |A and B| / (|A| + |B|): 1 if they are the same, 0 if apart."""
    return 2 * one.intersection(other).area / _positive(one.area + other.area)


def iou(one: BaseGeometry, other: BaseGeometry) -> float:
    """Give the overlap of two areas, |A and B| / |A or B|: 1 if they are the same, 0 if apart."""
    common = one.intersection(other).area
    return common / _positive(one.area + other.area - common)


def _positive(area: float) -> float:
    """Refuse to compare nothing with nothing."""
    if area == 0:
        raise ValueError("Neither of the two outlines has an area; there is no overlap to tell.")
    return area


# Masks


def mask(outline: Outline, width: int, height: int) -> NDArray[np.bool_]:
    """Give the pixels whose centres lie inside the outline, its holes left out.

    Centres exactly on an edge count on left and upper edges only, so that wounds that share an edge share no
    pixel. What reaches beyond the photo is cut off.

    Returns
    -------
    ndarray of bool, shape (height, width)

    Notes
    -----
    Scan lines with the even-odd rule: each row changes between outside and inside where an edge crosses it.
    Filling functions that also draw the edge add half a pixel all round: +0.9 % of area at 100 px radius.
    """
    left, top = np.clip(np.ceil(outline.exterior.min(axis=0)), 0, (width, height)).astype(int)
    right, bottom = np.clip(np.ceil(outline.exterior.max(axis=0)), 0, (width, height)).astype(int)
    rows, x = _row_crossings(outline, top, bottom)
    columns = np.clip(np.ceil(x), left, right).astype(int)
    changes = np.zeros((bottom - top, right - left + 1), dtype=np.uint8)
    np.bitwise_xor.at(changes, (rows - top, columns - left), 1)
    inside = np.zeros((height, width), dtype=np.bool_)
    inside[top:bottom, left:right] = np.bitwise_xor.accumulate(changes, axis=1)[:, :-1]
    return inside


def _row_crossings(outline: Outline, top: int, bottom: int) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
    """Give row and x of each crossing of an edge with the centre line of a pixel row, top <= row < bottom."""
    rings = (outline.exterior, *outline.holes)
    start = np.concatenate(rings)
    step = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
    ends = np.clip(np.ceil([start[:, 1], start[:, 1] + step[:, 1]]), top, bottom).astype(int)
    first, count = ends.min(axis=0), np.ptp(ends, axis=0)
    edge = np.repeat(np.arange(len(start)), count)
    rows = first[edge] + np.arange(len(edge)) - (np.cumsum(count) - count)[edge]
    x, y = start[edge].T
    return rows, x + (rows - y) * step[edge, 0] / step[edge, 1]


def from_mask(mask: NDArray[np.bool_], min_area_px: float = 0.0) -> tuple[Outline, ...]:
    """Trace the outlines of the connected areas of a mask, largest first, holes kept.

    Pixels belong together if they share a side. The line runs half-way between the centres of inner and outer
    pixels, which keeps the area (the line through the centres of the outermost pixels loses half a pixel all
    round: -3.2 % at 30 px radius) but leaves steps that make the perimeter 5.5 % too long at every size:
    `simplify` with about 1 px before measuring it.

    Parameters
    ----------
    mask : ndarray of bool, shape (H, W)
    min_area_px : float
        Areas of fewer pixels are left out, smaller holes filled.
    """
    if mask.ndim != 2 or mask.dtype != np.bool_:
        raise ValueError(f"A mask is a 2-d array of bool, not a {mask.ndim}-d one of {mask.dtype}.")
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    sizes = stats[1:, cv2.CC_STAT_AREA]
    largest_first = 1 + np.argsort(-sizes, kind="stable")
    kept = largest_first[: np.count_nonzero(sizes >= min_area_px)]
    return tuple(_trace(np.asarray(labels), int(label), stats[label], min_area_px) for label in kept)


def _trace(labels: NDArray[Any], label: int, stats: NDArray[Any], min_area_px: float) -> Outline:
    """Trace one connected area within its bounding box; stats are (left, top, width, height, pixels)."""
    left, top, width, height, _ = stats
    pixels = np.pad(labels[top : top + height, left : left + width] == label, 1)
    lines = find_contours(pixels.astype(np.float32), 0.5)  # type: ignore[no-untyped-call] # it ships no types
    rings = sorted((line[:, ::-1] + (left - 1, top - 1) for line in lines), key=lambda ring: -Polygon(ring).area)
    return Outline(rings[0], tuple(ring for ring in rings[1:] if Polygon(ring).area >= min_area_px))
