"""What gives a photo its scale: a sticker, a plain ruler in its place, or two points that a person marked."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon

from calibration.detect import Sticker, find_stickers
from calibration.errors import RulerNotFoundError, RulerUnclearError, StickerError, StickerNotFoundError
from calibration.fit import fit_plane
from calibration.model import moved
from calibration.plane import Neighbour, Plane
from calibration.ruler import Ruler, find_ruler, ruler_plane
from calibration.sticker import Points
from calibration.two_points import two_point_plane
from measure.photo import Photo

TwoPoints = tuple[float, float, float, float, float]
"""A scale given by hand: x1, y1, x2, y2 in px of the photo, and the distance in mm."""

PRINT_SCALE_SIGMA = 0.005 / np.sqrt(3)
"""Relative standard uncertainty of a sticker's print: the sheet asks to throw away prints more than 0.5 % off, and
nothing is known within that (rectangular distribution, JCGM 100:2008, 4.3.7)."""

GRADUATION_SIGMA = 0.005 / np.sqrt(3)
"""Relative standard uncertainty of a plain ruler's graduation: printed paper rulers are off by up to 0.5 %, as the
prints of our own stickers may be (rectangular distribution, JCGM 100:2008, 4.3.7); steel and plastic ones by less."""

_STEP_MM = 10.0  # of a sticker's outline, which is bent on a limb

UNKNOWN_TILT_DEG = 20.0
"""A photo taken with care but without a sticker is tilted by up to this much (common practice; no published figure)."""


@dataclass(frozen=True, eq=False)
class Calibration:
    """What gives a photo its scale.

    Attributes
    ----------
    source : {"sticker", "ruler", "two points"}
        Where the scale comes from.
    plane : Plane
        The wound plane.
    stickers : tuple of Sticker
        All that were found; the first one set the plane.
    scale_components : mapping of str to float
        Relative standard uncertainties of a length, by cause, beside the plane's own covariance.
    ruler : Ruler, optional
        What set the plane where no sticker was found.
    anchor_px : ndarray of shape (2,), optional
        Where the scale of a ruler or of two points holds; a tilt changes it away from there.
    sticker_unused : bool
        Whether a sticker is in the photo, though the scale was given by hand.
    """

    source: Literal["sticker", "ruler", "two points"]
    plane: Plane
    stickers: tuple[Sticker, ...]
    scale_components: Mapping[str, float]
    ruler: Ruler | None = None
    anchor_px: Points | None = None
    sticker_unused: bool = False

    @property
    def sticker_outlines_px(self) -> list[Points]:
        """Outlines of stickers or ruler, where no wound can be; the first sticker's by the fitted plane."""
        if self.ruler:
            return [self.ruler.outline_px]
        if not self.stickers:
            return []
        first, *others = self.stickers
        own = self.plane.to_px(
            shapely.get_coordinates(shapely.segmentize(Polygon(first.layout.outline), _STEP_MM))[:-1]
        )
        neighbours = (*self.plane.neighbours, *[None] * len(others))
        return [own, *(self._placed_px(*both) for both in zip(others, neighbours, strict=False))]

    def _placed_px(self, sticker: Sticker, neighbour: Neighbour | None) -> Points:
        """Outline in the photo of another sticker, where it was found to lie; else the box round its points."""
        if neighbour is None or math.isnan(neighbour.size):
            return _around(sticker.points_px)
        return self.plane.to_px(moved(sticker.layout.outline, np.array(neighbour.placement)))

    def tilt_share(self, place_px: Points) -> float:
        """Relative standard uncertainty of a length at a place (2,) that an unknown tilt adds away from the anchor.

        What lies nearer to the camera by the distance times the sine of the tilt looks larger by that over the
        camera's distance.
        """
        if self.anchor_px is None:
            return 0.0
        away_px = float(np.linalg.norm(place_px - self.anchor_px))
        return away_px / self.plane.projection.focal_px * float(np.sin(np.radians(UNKNOWN_TILT_DEG) / np.sqrt(3)))

    def relative_uncertainty(self, place_px: Points) -> float:
        """Relative standard uncertainty of mm per px at a place (2,)."""
        return math.hypot(self.plane.scale_uncertainty(place_px), *self.scale_components.values())

    @property
    def aim_px(self) -> Points | None:
        """Where a wound is expected, shape (2,)."""
        if not self.stickers:
            return None
        aim: Points = self.plane.to_px(np.array([self.stickers[0].layout.aim]))[0]
        return aim


def _around(points: Points) -> Points:
    """Corners (4, 2) of the upright box round points."""
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])


def calibrate(photo: Photo, scale: TwoPoints | None = None) -> Calibration:
    """Find the scale of a photo: from two points if they are given, else from the sticker, else from a plain ruler.

    Raises
    ------
    StickerError, PlaneError
        If there is no sticker that fixes a plane, and no ruler that can be read.
    ScaleError
        If the two points can't be used.
    """
    if scale:
        return replace(_by_hand(scale, photo), sticker_unused=_shows_sticker(photo))
    try:
        return _by_sticker(photo)
    except StickerNotFoundError as missing:
        return _by_ruler(photo, missing)


def _shows_sticker(photo: Photo) -> bool:
    try:
        return bool(find_stickers(photo.pixels))
    except StickerError:
        return False


def _by_sticker(photo: Photo) -> Calibration:
    stickers = find_stickers(photo.pixels)
    plane = fit_plane(stickers, photo.width, photo.height, photo.focal_px)
    return Calibration("sticker", plane, stickers, {"print scale": float(PRINT_SCALE_SIGMA)})


def _by_ruler(photo: Photo, missing: StickerNotFoundError) -> Calibration:
    """Take the scale of a plain ruler; where one is there but can't be read, the sticker's error says that too."""
    try:
        ruler = find_ruler(photo.pixels)
    except RulerNotFoundError:
        raise missing from None
    except RulerUnclearError as unclear:
        if type(missing) is not StickerNotFoundError:  # the photo is at fault, not the ruler
            raise missing from None
        raise StickerNotFoundError(f"{missing} {unclear}") from unclear
    components = {"ruler graduation": float(GRADUATION_SIGMA), "tilt not corrected": _tilt_sigma()}
    plane = ruler_plane(ruler, (photo.width, photo.height), photo.focal_px)
    return Calibration("ruler", plane, (), components, ruler, anchor_px=ruler.points_px.mean(axis=0))


def _by_hand(scale: TwoPoints, photo: Photo) -> Calibration:
    """Take the scale of two points; an unknown tilt shortens or lengthens it by up to its cosine."""
    x1, y1, x2, y2, distance_mm = scale
    plane = two_point_plane((x1, y1), (x2, y2), distance_mm, (photo.width, photo.height), photo.focal_px)
    middle = np.array([(x1 + x2) / 2, (y1 + y2) / 2])
    return Calibration("two points", plane, (), {"tilt not corrected": _tilt_sigma()}, anchor_px=middle)


def _tilt_sigma() -> float:
    """Relative standard uncertainty of a length by an unknown tilt (rectangular distribution, JCGM 100:2008, 4.3.7)."""
    return float((1 - np.cos(np.radians(UNKNOWN_TILT_DEG))) / np.sqrt(3))
