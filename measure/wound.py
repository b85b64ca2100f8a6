"""One measured wound: its numbers on the wound plane, each with its uncertainty budget."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import Polygon

from calibration.plane import Plane
from calibration.sticker import Points
from measure import geometry
from measure.geometry import Convention, Extents
from measure.outline import Outline, OutlineError, map_outline, polygon
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
"""The same for an outline that nobody has corrected: root-mean-square shift of the edge of 48 proposals on rendered
photographs, mostly inward, because new skin at the rim is left out. Real wounds are harder."""

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
    area, perimeter, length, width, length_x_width, ellipse : Quantity
        In mm and mm2.
    """

    method: str
    outline: Outline
    shape_mm: Polygon
    extents: Extents
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


def measure_wound(
    outline: Outline, calibration: Calibration, method: str, convention: Convention, head_deg: float
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

    Raises
    ------
    OutlineError
        If the outline reaches beyond the plane's horizon, or encloses next to nothing.
    """
    plane = calibration.plane
    if not plane.sees(outline.exterior):
        raise OutlineError(
            "The outline reaches beyond where the wound plane can be seen: draw it round the wound beside the sticker."
        )
    pixels = polygon(outline).area
    if pixels < MIN_AREA_PX:
        raise OutlineError(
            f"An outline encloses {pixels:.1f} pixels, at least {MIN_AREA_PX:.0f} are needed: draw it round the whole "
            "wound, on a photo taken closer if the wound is that small."
        )
    shape = map_outline(outline, plane.to_mm)
    head = _head(plane, outline, head_deg)
    found = geometry.extents(shape, convention, head)

    def values(moved: Plane) -> Points:
        return _values(map_outline(outline, moved.to_mm), convention, _head(moved, outline, head_deg))

    numbers = _values(shape, convention, head)
    edge = EDGE_SIGMA_MM if method == GIVEN else PROPOSED_EDGE_SIGMA_MM
    budgets = _budgets(numbers, plane.propagate(values) / numbers, calibration.scale_components, edge)
    units = ("mm2", "mm", "mm", "mm", "mm2")
    area, perimeter, length, width, product = (
        Quantity(*parts) for parts in zip(numbers.tolist(), units, budgets, strict=True)
    )
    ellipse = product.scaled(np.pi / 4, "mm2")
    return Wound(method, outline, shape, found, area, perimeter, length, width, product, ellipse)


def _budgets(
    numbers: Points, localisation: Points, scale_components: Mapping[str, float], edge_mm: float
) -> list[dict[str, float]]:
    """Return the relative components of area, perimeter, length, width and length x width.

    A shift of the whole edge by ``edge_mm`` changes the area by perimeter times shift, the perimeter by 2 pi times
    shift (a convex outline), and each extent at both ends, length and width together.
    """
    area, perimeter, length, width, _ = numbers
    along, across = 2 * edge_mm / length, 2 * edge_mm / width
    edges = [edge_mm * perimeter / area, 2 * np.pi * edge_mm / perimeter, along, across, along + across]
    return [
        {
            "point localisation": float(points),
            **{name: float(power * share) for name, share in scale_components.items()},
            "outline placement": float(edge),
        }
        for points, power, edge in zip(localisation, _POWERS, edges, strict=True)
    ]


def _values(shape: Polygon, convention: Convention, head: Points) -> Points:
    """Return area, perimeter, length, width, length x width in mm and mm2."""
    found = geometry.extents(shape, convention, head)
    product = geometry.length_x_width_mm2(found.length_mm, found.width_mm)
    return np.array([geometry.area_mm2(shape), geometry.perimeter_mm(shape), found.length_mm, found.width_mm, product])


def _head(plane: Plane, outline: Outline, head_deg: float) -> Points:
    """Return the direction of the head on the plane, at the wound."""
    middle = outline.exterior.mean(axis=0)
    up = np.array([np.sin(np.radians(head_deg)), -np.cos(np.radians(head_deg))])
    start, end = plane.to_mm(np.array([middle, middle + up]))
    direction: Points = end - start
    return direction
