"""Tells whether a sticker is bent round a limb, and fits the cylinder."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calibration.model import Matched, Unknowns
from calibration.projection import Matrix
from calibration.solution import (
    LEAST_SIGMA_PX,
    OUTLIER_ROUNDS,
    OUTLIER_SIGMAS,
    Solution,
    apart_px,
    inverse,
    near,
    solve,
    solved,
)

FLATTEST_MM = 2000.0
"""A radius beyond this differs so little from flat that it is left to the uncertainty."""

SHARPEST_MM = 20.0
"""A smaller radius is a fold or a finger, not a limb."""

_LEAST_GAIN = 12.0  # squares over their variance that a weak bend explains, three unknowns: below it nothing is there

_BEND_SIGMAS = 3.0

_SUSPICIOUS_PX = 0.3  # what is left over a flat sticker beyond this asks whether it is bent

_SUSPICIOUS_SHARE = 0.1  # of points that a flat sticker leaves out

_AXES_DEG = (0.0, 45.0, 90.0, 135.0)

_GENTLE, _STRONG = 1 / 60, 1 / 38  # curvatures to start from

_TRIAL_CALLS = 14


def fit_limb(
    points: Matched, free: Solution, pose: Solution, keep: NDArray[np.bool_]
) -> tuple[Solution, NDArray[np.bool_]] | None:
    """Fit a limb where the flat fit leaves a bend over; None where the sticker is flat, curled up or folded."""
    gain, weak = weak_bend(free)
    left_out = 1 - keep[points.saddle].mean()
    if gain < _LEAST_GAIN and free.sigma_px < _SUSPICIOUS_PX and left_out < _SUSPICIOUS_SHARE:
        return None
    unknowns = replace(pose.unknowns, kind="limb")
    gentle = [weak, *((_GENTLE, np.radians(axis)) for axis in _AXES_DEG)]
    for bends in (gentle, [(_STRONG, np.radians(axis)) for axis in _AXES_DEG]):
        starts = [np.append(pose.values, bend) for bend in bends]
        limb, keep = _from_best(unknowns, points, starts, max(_SUSPICIOUS_PX, free.sigma_px / 4))
        if _is_limb(limb, free, points):
            return limb, keep
        if max(limb.sigma_px, free.sigma_px) < _SUSPICIOUS_PX:
            break
    return None


def _from_best(
    unknowns: Unknowns, points: Matched, starts: list[NDArray[np.float64]], rough_px: float
) -> tuple[Solution, NDArray[np.bool_]]:
    """Fit a limb from the start that leads farthest in a few steps, and tell which points it keeps."""
    tried = [solved(unknowns, points, start, rough_px, _TRIAL_CALLS).x for start in starts]
    best = min(tried, key=lambda found: _capped(apart_px(unknowns, found, points), points))
    values = solved(unknowns, points, best, rough_px).x
    for _ in range(OUTLIER_ROUNDS):
        keep = near(points, apart_px(unknowns, values, points))
        limb = solve(unknowns, points.where(keep), values)
        values = limb.values
    return limb, keep


def _is_limb(limb: Solution, flat: Solution, points: Matched) -> bool:
    """Tell whether a bend is of a limb's size, well known, and explains the points much better than none."""
    curvature = float(limb.values[-2])
    if not 1 / FLATTEST_MM <= curvature <= 1 / SHARPEST_MM:
        return False
    sigma = float(np.sqrt(inverse(limb.jacobian.T @ limb.jacobian)[-2, -2]))
    cap_px = max(1.0, OUTLIER_SIGMAS * limb.sigma_px)
    left = _capped(limb.apart(points), points, cap_px)
    freedom = max(1, 2 * points.saddles - len(limb.values) + 1)
    gain = (_capped(flat.apart(points), points, cap_px) - left) / max(left / freedom, LEAST_SIGMA_PX**2)
    return curvature > _BEND_SIGMAS * sigma and gain > _BEND_SIGMAS**2


def _capped(apart: NDArray[np.float64], points: Matched, cap_px: float = 1.0) -> float:
    """Sum of squares over the saddle points in px; one far off counts as at the cap, or ten points would decide."""
    return float(np.square(np.minimum(apart[points.saddle], cap_px)).sum())


def weak_bend(flat: Solution) -> tuple[float, tuple[float, float]]:
    """Return how much a weak bend would explain, in squares over their variance, with its curvature and axis.

    A linear step: the depth of a weak bend is a quadratic form, whose larger principal curvature is the limb's.
    """
    steps = np.vstack([bend_columns(flat), np.zeros((len(flat.left) - 2 * len(flat.points.mm), 3))])
    basis = np.linalg.qr(flat.jacobian)[0]
    steps = steps - basis @ (basis.T @ steps)
    xx, xy, yy = -np.linalg.lstsq(steps, flat.left, rcond=None)[0]
    left = flat.left + steps @ (xx, xy, yy)
    freedom = max(1, 2 * flat.points.saddles - flat.jacobian.shape[1] - 2)
    variance = max(float(np.square(left).sum()) / freedom, (LEAST_SIGMA_PX / flat.sigma_px) ** 2)
    gain = (flat.squares - float(np.square(left).sum())) / variance
    curvatures, directions = np.linalg.eigh(np.array([(xx, xy), (xy, yy)]))
    main = int(np.abs(curvatures).argmax())
    around = directions[:, main]
    return gain, (float(curvatures[main]), float(np.arctan2(-around[0], around[1])))


def bend_columns(flat: Solution) -> Matrix:
    """Differentiate the weighted residuals by the curvatures of a weak bend: along x, along x and y, along y."""
    projection, points = flat.projection, flat.points
    mm = flat.unknowns.placed(flat.values, points)
    seen = np.column_stack([mm, np.ones(len(mm))]) @ projection.homography.T
    per_mm = (projection.depth[:2] - seen[:, :2] / seen[:, 2:] * projection.depth[2]) / seen[:, 2:]
    x, y = (mm - np.array(flat.unknowns.through_mm)).T
    per_mm = per_mm / (points.sigma * flat.sigma_px)[:, None]
    return np.column_stack([(depth[:, None] * per_mm).ravel() for depth in (x**2 / 2, x * y, y**2 / 2)])
