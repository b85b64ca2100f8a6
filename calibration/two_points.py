"""A scale without a sticker: two points that a person marked, with the known distance between them."""

import numpy as np

from calibration.errors import ScaleError
from calibration.plane import Plane, straight_plane

MIN_DISTANCE_PX = 50.0
"""Two points closer than this can't be marked well enough: a pixel's error would be more than 2 %."""

_POINT_SIGMA_PX = 1.0  # a careful tap on a zoomed photo (common practice; no published figure)


MM_PER_PX_RANGE = (0.005, 2.0)
"""From a microscope to a whole person in the picture; outside it a number was mistyped."""


def two_point_plane(
    start_px: tuple[float, float],
    end_px: tuple[float, float],
    distance_mm: float,
    size_px: tuple[int, int],
    focal_px: float | None = None,
) -> Plane:
    """Return the plane of a camera that looked straight at two points a known distance apart.

    Tilt can't be known from two points: it is NaN, and no tilt is corrected.

    Parameters
    ----------
    start_px, end_px : tuple of two float
        The points in the photo.
    distance_mm : float
        Their distance in mm.
    size_px : tuple of two int
        Width and height of the photo.
    focal_px : float or None
        Focal length in px, as far as the photo file tells it.

    Raises
    ------
    ScaleError
        If the points are not in the photo or too close together, or the distance makes no sensible scale.
    """
    if not all(0 <= value < side for point in (start_px, end_px) for value, side in zip(point, size_px, strict=True)):
        raise ScaleError(
            f"A point of the scale lies outside the photo of {size_px[0]} x {size_px[1]} pixels: give both in pixels."
        )
    apart = float(np.hypot(end_px[0] - start_px[0], end_px[1] - start_px[1]))
    if apart < MIN_DISTANCE_PX:
        raise ScaleError(
            f"The two points of the scale are {apart:.0f} pixels apart: mark two that are at least "
            f"{MIN_DISTANCE_PX:.0f} apart, the farther the better."
        )
    low, high = MM_PER_PX_RANGE
    if not low <= distance_mm / apart <= high:
        raise ScaleError(
            f"A distance of {distance_mm:g} mm was given for points {apart:.0f} pixels apart: "
            f"between {low * apart:.0f} and {high * apart:.0f} mm make sense, so check the number."
        )
    relative_sigma = float(np.sqrt(2) * _POINT_SIGMA_PX / apart)
    return straight_plane(distance_mm / apart, relative_sigma, size_px, focal_px, "two points", _POINT_SIGMA_PX)
