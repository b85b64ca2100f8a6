"""Least squares: the unknowns of one model that fit the matched points best, and which points they keep."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares

from calibration.detect import MIN_SADDLES
from calibration.model import Matched, Unknowns
from calibration.projection import Matrix, Projection
from calibration.slopes import slopes

LEAST_SIGMA_PX = 0.02  # no lens and sensor place points better than this, however small the residuals happen to be

OUTLIER_SIGMAS = 4.0

OUTLIER_ROUNDS = 3

MOST_CALLS = 60  # steps of one fit; ten or so suffice

_NORMAL_OVER_MEDIAN = 0.85  # standard deviation of x and of y over the median distance, for a normal distribution

_UNKNOWNS_IN_POINTS = 4  # points, of two coordinates each, that eight unknowns use up
_LEAST_OUTLIER_PX = 0.12  # a point as close as this is never an outlier

_SIGMA_ROUNDS = 3

_SIGMA_STEADY = 0.1  # relative change of sigma below which a fit need not be repeated


@dataclass(frozen=True, eq=False)
class Solution:
    """A fitted model.

    ``jacobian`` and ``left`` are those of the weighted residuals, followed by what was known beforehand.
    """

    unknowns: Unknowns
    values: NDArray[np.float64]
    jacobian: Matrix
    left: NDArray[np.float64]
    sigma_px: float
    points: Matched

    @property
    def projection(self) -> Projection:
        """The projection that was found."""
        return self.unknowns.projection(self.values)

    @property
    def squares(self) -> float:
        """Weighted sum of squares."""
        return float(np.square(self.left).sum())

    def apart(self, points: Matched) -> NDArray[np.float64]:
        """Return `apart_px` of points."""
        return apart_px(self.unknowns, self.values, points)

    def saddle_rms(self) -> float:
        """Root-mean-square distance of the saddle points, in px."""
        return float(np.sqrt(np.square(self.apart(self.points)[self.points.saddle]).mean()))

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the normal of the plane; not for a homography."""
        normal = cv2.Rodrigues(self.values[:3])[0][:, 2]
        return float(np.degrees(np.arccos(min(1.0, abs(float(normal[2]))))))


def solved(
    unknowns: Unknowns, points: Matched, start: NDArray[np.float64], sigma_px: float, most_calls: int = MOST_CALLS
) -> OptimizeResult:
    """Run the least squares alone, as SciPy returns it."""

    def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.concatenate([unknowns.residuals(values, points) / sigma_px, unknowns.prior(values)])

    known = unknowns.prior_slopes()

    def exact(values: NDArray[np.float64]) -> Matrix:
        return np.vstack([slopes(unknowns, values, points) / sigma_px, known])

    by = "2-point" if unknowns.kind == "homography" else exact
    return least_squares(misfit, start, jac=by, method="lm", x_scale="jac", max_nfev=most_calls)


def _solution(unknowns: Unknowns, points: Matched, solved: OptimizeResult, sigma_px: float) -> Solution:
    return Solution(unknowns, solved.x, solved.jac, solved.fun, sigma_px, points)


def solve(unknowns: Unknowns, points: Matched, start: NDArray[np.float64], sigma_px: float | None = None) -> Solution:
    """Fit by least squares; without ``sigma_px`` it comes from what is left over at the saddle points."""
    if sigma_px is not None:
        return _solution(unknowns, points, solved(unknowns, points, start, sigma_px), sigma_px)
    sigma_px = _sigma_px(unknowns, points, start)
    for _ in range(_SIGMA_ROUNDS):
        result = solved(unknowns, points, start, sigma_px)
        start, before, sigma_px = result.x, sigma_px, _sigma_px(unknowns, points, result.x)
        if abs(sigma_px / before - 1) < _SIGMA_STEADY:
            break
    return _solution(unknowns, points, result, before)


def _sigma_px(unknowns: Unknowns, points: Matched, values: NDArray[np.float64]) -> float:
    """Estimate the standard deviation of a saddle point from what is left over."""
    left = unknowns.residuals(values, points).reshape(-1, 2)[points.saddle]
    freedom = max(1, left.size - (len(values) - 1))  # k1 is held beforehand
    return max(LEAST_SIGMA_PX, float(np.sqrt(np.square(left).sum() / freedom)))


def near(points: Matched, apart: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which points are within some robust standard deviations of where a model puts them.

    Eight unknowns fitted to few points leave less over than the points scatter, which is made up for.
    """
    few = np.sqrt(points.saddles / max(1.0, points.saddles - _UNKNOWNS_IN_POINTS))
    typical = _NORMAL_OVER_MEDIAN * few * float(np.median(apart[points.saddle]))
    keep = np.asarray(apart <= max(OUTLIER_SIGMAS * typical, _LEAST_OUTLIER_PX))
    keep[~points.saddle] = True  # marker corners weigh little, and keep a row of saddles from being only a line
    return keep if keep[points.saddle].sum() >= MIN_SADDLES else np.ones(len(keep), dtype=np.bool_)


def apart_px(unknowns: Unknowns, values: NDArray[np.float64], points: Matched) -> NDArray[np.float64]:
    """Distances (N,) in px, divided by the relative sigma, of points from where a model puts them."""
    return np.asarray(np.linalg.norm(unknowns.residuals(values, points).reshape(-1, 2), axis=1))


def inverse(normal: Matrix) -> Matrix:
    """Invert a normal matrix, scaled first, since unknowns differ by 10**6 in size."""
    scale = np.sqrt(np.diag(normal))
    inverse: Matrix = np.linalg.pinv(normal / np.outer(scale, scale), rcond=1e-14, hermitian=True)
    return np.asarray(inverse / np.outer(scale, scale))


def root(covariance: Matrix) -> Matrix:
    """Matrix whose columns, squared, sum to the covariance; scaled first as well."""
    scale = np.sqrt(np.diag(covariance))
    scale = np.where(scale > 0, scale, 1.0)
    values, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    root: Matrix = scale[:, None] * vectors * np.sqrt(np.clip(values, 0.0, None))
    return root
