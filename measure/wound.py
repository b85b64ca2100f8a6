"""One measured wound: its numbers on the wound plane, each with its uncertainty budget."""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from calibration.projection import Projection
from calibration.sticker import Points
from measure import geometry
from measure.geometry import Convention, Extents
from measure.outline import Outline, OutlineError, finer, map_outline, polygon
from measure.scale import Calibration
from measure.uncertainty import Quantity

GIVEN = "given"
"""The method of an outline that a person drew or corrected."""

MIN_AREA_PX = 25.0
"""A smaller outline is a slip of the finger: 5 x 5 pixels are less than any edge can be drawn to."""

EDGE_SIGMA_MM = 0.2
"""Standard uncertainty of where the wound's edge is drawn, shared by the whole outline.

Two sets of labels of 25 photographs of foot ulcers differ in area by 3.6 % (median), which is a shared shift of the
edge of about 0.2 mm on a wound of 2 cm across; the published standard error of area between nurses, 0.10 cm2 (Landa
2016, 20 photographs), is about as much."""

PROPOSED_EDGE_SIGMA_MM = 1.0
"""The same for an outline that nobody has corrected, where the method that proposed it can't say: root-mean-square
shift of the edge of 48 proposals from colour on rendered photographs, mostly inward, because new skin at the rim is
left out. Real wounds are harder."""

TILT = "tilt not corrected"
"""The component of a ruler and of two points: their own foreshortening, and what lies nearer or farther than they."""

PLANE_OFFSET_SIGMA_MM = 1.0
"""Standard deviation of the height of the wound's edge over or under the sticker: the paper is 0.1 mm thick and lies on
skin that is swollen, or sags, by a millimetre or two (an estimate; no published figure)."""

ROUNDING_SIGMA_PX = 1 / np.sqrt(12)
"""Of a point in x or y that is given by its pixel (rectangular distribution, JCGM 100:2008, 4.3.7)."""

_PIECES = 48  # of the longer side of an outline: its edges are cut to such pieces where the skin is bent
_ROUND = 4  # pieces of a quarter of a circle, round the corners of a shifted edge
_POWERS = np.array([2, 1, 1, 1, 2])  # how area, perimeter, length, width, length x width grow with the scale


@dataclass(frozen=True, eq=False)
class Wound:
    """One measured wound.

    Attributes
    ----------
    method : str
        Name and version of what proposed the outline, or `GIVEN`.
    outline : Outline
        In px of the photo.
    shape_mm : Polygon
        The same on the wound plane, in mm.
    extents : Extents
        Length and width with their lines, in mm on the plane.
    edge_mm : float
        Standard uncertainty of where the edge lies.
    area, perimeter, length, width, length_x_width, ellipse : Quantity
        In mm and mm2.
    """

    method: str
    outline: Outline
    shape_mm: Polygon
    extents: Extents
    edge_mm: float
    area: Quantity
    perimeter: Quantity
    length: Quantity
    width: Quantity
    length_x_width: Quantity
    ellipse: Quantity

    @property
    def source(self) -> Literal["proposed", "given"]:
        """Who drew the outline."""
        return "given" if self.method == GIVEN else "proposed"

    @property
    def circularity(self) -> float:
        """4 pi A / P**2."""
        return geometry.circularity(self.shape_mm)

    @property
    def solidity(self) -> float:
        """Area over that of the convex hull."""
        return geometry.solidity(self.shape_mm)

    @property
    def aspect_ratio(self) -> float:
        """Length over width."""
        return geometry.aspect_ratio(self.extents.length_mm, self.extents.width_mm)

    @property
    def equivalent_diameter_mm(self) -> float:
        """Diameter of the circle of the same area."""
        return geometry.equivalent_diameter_mm(self.shape_mm)


def measure_wound(  # noqa: PLR0913, PLR0917 - what a number depends on
    outline: Outline,
    calibration: Calibration,
    method: str,
    convention: Convention,
    head_deg: float,
    edge_sigma_px: float = math.nan,
    as_proposed: float | None = None,
) -> Wound:
    """Measure one wound.

    Parameters
    ----------
    outline : Outline
        In px of the photo.
    calibration : Calibration
        The photo's scale.
    method : str
        Name and version of what proposed the outline, or `GIVEN`.
    convention : Convention
        How length and width are taken.
    head_deg : float
        Direction of the head in the photo, clockwise from its top; for the convention head-to-toe.
    edge_sigma_px : float
        Standard uncertainty of where the edge of a proposed outline lies, in px of the photo, as its method says;
        NaN where it can't say. No proposal is believed to be better than a drawn edge.
    as_proposed : float, optional
        Share of the edge that is still as it was proposed; by default all or nothing, as the method says.

    Raises
    ------
    OutlineError
        If the outline reaches beyond the plane's horizon, or encloses next to nothing.
    """
    projection = calibration.plane.projection
    if not projection.sees(outline.exterior):
        raise OutlineError(
            "The outline reaches beyond where the wound plane can be seen: draw it round the wound beside the sticker."
        )
    pixels = polygon(outline).area
    if pixels < MIN_AREA_PX:
        raise OutlineError(
            f"An outline encloses {pixels:.1f} pixels, at least {MIN_AREA_PX:.0f} are needed: draw it round the whole "
            "wound, on a photo taken closer if the wound is that small."
        )
    traced = _Traced(outline, convention, head_deg)
    shape = traced.shape(projection)
    found = traced.extents(shape, projection)
    share = float(method != GIVEN) if as_proposed is None else as_proposed
    edge_mm = EDGE_SIGMA_MM + share * (_proposed_edge(outline, projection, edge_sigma_px) - EDGE_SIGMA_MM)
    numbers = traced.numbers(projection)
    budgets = _budgets(numbers, traced, calibration, edge_mm)
    units = ("mm2", "mm", "mm", "mm", "mm2")
    area, perimeter, length, width, product = (
        Quantity(*parts) for parts in zip(numbers.tolist(), units, budgets, strict=True)
    )
    ellipse = product.scaled(np.pi / 4, "mm2")
    return Wound(method, outline, shape, found, edge_mm, area, perimeter, length, width, product, ellipse)


def _proposed_edge(outline: Outline, projection: Projection, edge_sigma_px: float) -> float:
    """Return the standard uncertainty of where a proposed edge lies, in mm."""
    if math.isnan(edge_sigma_px):
        return PROPOSED_EDGE_SIGMA_MM
    return max(EDGE_SIGMA_MM, edge_sigma_px * projection.mm_per_px(outline.exterior.mean(axis=0)))


@dataclass(frozen=True, eq=False)
class _Traced:
    """An outline and how it is to be measured; any projection turns it into numbers."""

    outline: Outline
    convention: Convention
    head_deg: float

    def shape(self, projection: Projection) -> Polygon:
        """Return the outline on the skin, in mm; on a limb its straight edges are bent."""
        return map_outline(self.outline if projection.bend is None else self._finely, projection.to_mm)

    @cached_property
    def _finely(self) -> Outline:
        return finer(self.outline, float(np.ptp(self.outline.exterior, axis=0).max()) / _PIECES)

    def numbers(self, projection: Projection) -> Points:
        """Return area, perimeter, length, width, length x width in mm and mm2; NaN where the skin can't be seen."""
        try:
            shape = self.shape(projection)
        except OutlineError:
            return np.full(len(_POWERS), np.nan)
        return self.measured(shape, projection)

    def measured(self, shape: BaseGeometry, projection: Projection) -> Points:
        """Return the same for a shape in mm; NaN where nothing is left of it."""
        if not isinstance(shape, Polygon) or shape.is_empty:  # an inward shift may leave nothing, or several parts
            return np.full(len(_POWERS), np.nan)
        found = self.extents(shape, projection)
        product = geometry.length_x_width_mm2(found.length_mm, found.width_mm)
        area, perimeter = geometry.area_mm2(shape), geometry.perimeter_mm(shape)
        return np.array([area, perimeter, found.length_mm, found.width_mm, product])

    def extents(self, shape: Polygon, projection: Projection) -> Extents:
        """Return length and width with their lines."""
        return geometry.extents(shape, self.convention, self._head(projection))

    def _head(self, projection: Projection) -> Points:
        """Return the direction of the head on the skin, at the wound."""
        middle = self.outline.exterior.mean(axis=0)
        up = np.array([np.sin(np.radians(self.head_deg)), -np.cos(np.radians(self.head_deg))])
        start, end = projection.to_mm(np.array([middle, middle + up]))
        direction: Points = end - start
        return direction


def _budgets(numbers: Points, traced: _Traced, calibration: Calibration, edge_mm: float) -> list[dict[str, float]]:
    """Return the relative components of area, perimeter, length, width and length x width."""
    projection = calibration.plane.projection
    shares = {cause: spread / numbers for cause, spread in calibration.plane.propagate(traced.numbers).items()}
    shares |= {cause: _POWERS * share for cause, share in calibration.scale_components.items()}
    away = calibration.tilt_share(traced.outline.exterior.mean(axis=0))
    if away:
        shares[TILT] = np.hypot(shares[TILT], _POWERS * away)
    shares["plane offset"] = _plane_offset(numbers, traced, projection) / numbers
    shares["outline placement"] = _outline_placement(numbers, traced, projection, edge_mm) / numbers
    shares["pixel sampling"] = _pixel_sampling(numbers, traced, projection) / numbers
    return [{cause: float(share[n]) for cause, share in shares.items()} for n in range(len(numbers))]


def _plane_offset(numbers: Points, traced: _Traced, projection: Projection) -> Points:
    """Half the change of the numbers from a wound that lies nearer to one that lies deeper than the sticker."""
    near, far = (traced.numbers(projection.deeper(side * PLANE_OFFSET_SIGMA_MM)) for side in (-1, 1))
    return _half_change(numbers, near, far)


def _outline_placement(numbers: Points, traced: _Traced, projection: Projection, edge_mm: float) -> Points:
    """Half the change of the numbers when the whole edge moves outward and inward.

    Area and extents change with the edge of every healed island moving the same way into it; for the perimeter, whose
    changes would cancel, each ring counts for itself.
    """
    shape = traced.shape(projection)
    outward, inward = (traced.measured(_shifted(shape, side * edge_mm), projection) for side in (1, -1))
    change = _half_change(numbers, outward, inward)
    rings = [Polygon(ring) for ring in (shape.exterior, *shape.interiors)]
    lengths = [[_shifted(ring, side * edge_mm).length - ring.length for side in (1, -1)] for ring in rings]
    change[1] = np.linalg.norm(lengths) / np.sqrt(2)
    return change


def _shifted(shape: Polygon, distance_mm: float) -> BaseGeometry:
    """Move the whole edge of a shape outward, or inward where the distance is negative."""
    return shape.buffer(distance_mm, quad_segs=_ROUND)


def _half_change(numbers: Points, first: Points, second: Points) -> Points:
    """Half the difference; where one side is unknown, the other side's distance from the numbers."""
    up, down = np.abs(first - numbers), np.abs(second - numbers)
    up, down = np.where(np.isfinite(up), up, down), np.where(np.isfinite(down), down, up)
    return np.asarray((up + down) / 2)


def _pixel_sampling(numbers: Points, traced: _Traced, projection: Projection) -> Points:
    """Return what rounding each point of the outline to a pixel does, every point for itself (JCGM 100, F.2.2.1).

    The area changes by a point's shift times half the line between its neighbours, across it; the perimeter by the
    shift along the difference of the directions to them, and, as points close together become a zigzag, by their
    shift's variance over each edge's length; each extent at both ends.
    """
    rings = (traced.outline.exterior, *traced.outline.holes)
    mm = [projection.to_mm(ring) for ring in rings]
    before, after = (np.concatenate([np.roll(ring, side, axis=0) - ring for ring in mm]) for side in (1, -1))
    sigma = ROUNDING_SIGMA_PX * projection.mm_per_px(traced.outline.exterior.mean(axis=0))
    area = sigma * np.linalg.norm(after - before) / 2
    directions = [way / np.linalg.norm(way, axis=1, keepdims=True) for way in (before, after)]
    turned = sigma * np.linalg.norm(directions[0] + directions[1])
    zigzag = sigma**2 * np.sum(1 / np.maximum(np.linalg.norm(after, axis=1), sigma))
    perimeter = np.hypot(turned, zigzag)
    extent = np.sqrt(2) * sigma
    _, _, length, width, _ = numbers
    return np.array([area, perimeter, extent, extent, extent * np.hypot(length, width)])
