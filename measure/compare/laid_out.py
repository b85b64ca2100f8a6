"""A visit's photo laid out on its wound plane: so many mm a pixel everywhere, turned and shifted as one likes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import cv2
import numpy as np
import shapely
from shapely.geometry import Polygon

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.compare.placement import Placement
from measure.flat import Mask, spread_out
from measure.outline import Outline, OutlineError, finer, map_outline
from measure.photo import Photo, Pixels
from measure.scale import Calibration, calibrate
from measure.wound import EDGE_SIGMA_MM

NOT_SHOWN = 236
"""Grey, 0 to 255, of what a photo does not show: paper-like, so that it is not taken for skin or shadow."""

_LONGEST_MM = 1.0  # edge of an outline that is carried over where the skin is bent


class CompareError(EbblineError):
    """Two visits that can't be laid over one another."""

    code = "not-comparable"


@dataclass(frozen=True)
class Precision:
    """How well a visit's outline and scale are known.

    Attributes
    ----------
    edge_mm : float
        Standard uncertainty of where the edge is drawn, shared by the whole outline.
    scale : float
        Relative standard uncertainty of a length on the wound plane.
    """

    edge_mm: float = EDGE_SIGMA_MM
    scale: float = 0.01


def precision_of(wound: Mapping[str, Any]) -> Precision:
    """Read from a stored wound how well it was measured.

    An edge that is off by s everywhere changes the area by s times the perimeter, so that the component 'outline
    placement' of the area gives s back. What is left of the area's budget is that of two lengths.

    Parameters
    ----------
    wound : mapping
        One of the ``wounds`` of a document as of `measure.report.document`.
    """
    area, perimeter = wound["area_cm2"], wound["perimeter_cm"]
    shares = {cause: share for cause, share in area["components"].items() if share is not None}
    placed = shares.pop("outline placement", None)
    shares.pop("pixel sampling", None)
    edge_mm = EDGE_SIGMA_MM if placed is None else 10 * placed * area["value"] / perimeter["value"]
    return Precision(max(edge_mm, EDGE_SIGMA_MM / 10), float(np.linalg.norm(list(shares.values()))) / 2)


@dataclass(frozen=True, eq=False)
class Traced:
    """A photo with the wound's outline in its pixels."""

    photo: Photo
    outline: Outline
    precision: Precision = field(default_factory=Precision)


@dataclass(frozen=True, eq=False)
class LaidOut:
    """A traced photo whose wound plane is known.

    Attributes
    ----------
    traced : Traced
    calibration : Calibration
    shape_mm : Polygon
        The wound on the plane, whose axes are those of the sticker.
    """

    traced: Traced
    calibration: Calibration
    shape_mm: Polygon

    @cached_property
    def middle_mm(self) -> Points:
        """Middle (2,) of the wound's area, its islands filled."""
        middle: Points = shapely.get_coordinates(Polygon(self.shape_mm.exterior).centroid)[0]
        return middle

    @property
    def mm_per_px(self) -> float:
        """Scale of the photo at the wound."""
        return self.calibration.plane.mm_per_px(self._middle_px)

    @property
    def up_deg(self) -> float:
        """Direction of the photo's top on the plane, at the wound: clockwise from the plane's -y."""
        return self.direction_deg(0.0)

    def direction_deg(self, photo_deg: float) -> float:
        """Carry a direction at the wound, clockwise from the photo's top, to the plane."""
        angle = np.radians(photo_deg)
        ends = self._middle_px + np.array([(0.0, 0.0), (np.sin(angle), -np.cos(angle))])
        x, y = np.diff(self.calibration.plane.to_mm(ends), axis=0)[0]
        return float(np.degrees(np.arctan2(x, -y)))

    @property
    def _middle_px(self) -> Points:
        return np.asarray(self.traced.outline.exterior.mean(axis=0))

    def picture(self, placement: Placement, low_mm: Points, high_mm: Points, step_mm: float) -> tuple[Pixels, Mask]:
        """Lay a box of the picture's plane out.

        Parameters
        ----------
        placement : Placement
            From this wound plane to the picture's.
        low_mm, high_mm : ndarray of shape (2,)
            Corners of the box.
        step_mm : float
            Of a pixel.

        Returns
        -------
        tuple of ndarray
            RGB of shape (h, w, 3), `NOT_SHOWN` where the photo shows nothing; and where it shows something.
        """

        def to_px(points_mm: Points) -> Points:
            return self.calibration.plane.to_px(placement.back(points_mm))

        spread = spread_out(self.traced.photo.pixels, to_px, low_mm, high_mm, step_mm)
        pixels = np.rint(spread.looked_up(spread.view.picture.astype(np.float32))).astype(np.uint8)
        pixels[~spread.seen] = NOT_SHOWN
        return pixels, spread.seen

    def stickers(self, placement: Placement, low_mm: Points, shape: tuple[int, int], step_mm: float) -> Mask:
        """Tell which pixels of a picture of ``shape`` (h, w) show a sticker."""
        covered = np.zeros(shape, np.uint8)
        for ring_px in self.calibration.sticker_outlines_px:
            ring = (placement.moved(self.calibration.plane.to_mm(ring_px)) - low_mm) / step_mm
            if np.isfinite(ring).all():
                cv2.fillPoly(covered, [np.rint(ring * 16).astype(np.int32)], 1, cv2.LINE_8, shift=4)
        return covered > 0


def lay_out(traced: Traced, name: str) -> LaidOut:
    """Find the wound plane of a traced photo.

    Parameters
    ----------
    traced : Traced
    name : str
        Of the photo, as in 'the photo of 4 March 2024'; begins the sentence of an error.

    Raises
    ------
    CompareError
        If the photo has no sticker that can be read, or its outline can't be carried over.
    """
    calibration = _calibrated(traced.photo, name)
    plane = calibration.plane
    bent = plane.projection.bend is not None
    outline = finer(traced.outline, _LONGEST_MM / plane.mm_per_px(traced.outline.exterior.mean(axis=0)))
    try:
        shape = map_outline(outline if bent else traced.outline, plane.to_mm)
    except OutlineError as error:
        raise CompareError(f"{_capital(name)} can't be laid over another one: {error}") from error
    return LaidOut(traced, calibration, shape)


def _calibrated(photo: Photo, name: str) -> Calibration:
    try:
        calibration = calibrate(photo)
    except EbblineError as error:
        raise CompareError(f"{_capital(name)} can't be laid over another one: {error}") from error
    if calibration.source != "sticker":
        raise without_sticker(name, calibration.source)
    return calibration


def without_sticker(name: str, source: str) -> CompareError:
    """Return the error of a photo whose scale comes from something else."""
    return CompareError(
        f"{_capital(name)} has its scale from {_A.get(source, source)}, not from a sticker, so the tilt of its camera "
        "is unknown and it can't be laid over another one: compare the numbers, and lay a sticker beside the wound "
        "next time."
    )


_A = {"ruler": "a ruler", "two points": "two marked points"}


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]
