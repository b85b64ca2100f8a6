"""A scale without a sticker: two points that a person marked, with the known distance between them."""

import numpy as np

from calibration.errors import ScaleError
from calibration.plane import Plane

MIN_DISTANCE_PX = 50.0
"""Two points closer than this can't be marked well enough: a pixel's error would be more than 2 %."""

_POINT_SIGMA_PX = 1.0  # a careful tap on a zoomed photo (common practice; no published figure)


def two_point_plane(start_px: tuple[float, float], end_px: tuple[float, float], distance_mm: float) -> Plane:
    """Return the plane of a camera that looked straight at two points a known distance apart.

    Tilt can't be known from two points: it is NaN, and no tilt is corrected.

    Parameters
    ----------
    start_px, end_px : tuple of two float
        The points in the photo.
    distance_mm : float
        Their distance in mm.

    Raises
    ------
    ScaleError
        If the distance is not a positive number, or the points are too close together.
    """
    apart = float(np.hypot(end_px[0] - start_px[0], end_px[1] - start_px[1]))
    if not (np.isfinite(distance_mm) and distance_mm > 0):
        raise ScaleError(f"A distance of {distance_mm:g} mm was given for the scale: it must be more than 0.")
    if not apart >= MIN_DISTANCE_PX:
        raise ScaleError(
            f"The two points of the scale are {apart:.0f} pixels apart: mark two that are at least "
            f"{MIN_DISTANCE_PX:.0f} apart, the farther the better."
        )
    px_per_mm = apart / distance_mm
    both = np.array([1.0, 0, 0, 0, 1.0, 0, 0, 0])
    sigma = px_per_mm * np.sqrt(2) * _POINT_SIGMA_PX / apart
    return Plane(
        homography=np.diag([px_per_mm, px_per_mm, 1.0]),
        covariance=np.outer(both, both) * sigma**2,
        model="two points",
        residual_px=float("nan"),
        tilt_deg=float("nan"),
        sigma_px=_POINT_SIGMA_PX,
    )
