"""Fits the wound plane to the matched points of a sticker, with its covariance.

Two models are fitted. The *pose* model knows how a camera works: six unknowns for where it stood and one for its focal
length, held by what the photo file says of it. The *homography* assumes nothing but a flat plane and has eight
unknowns. Few or narrow points suit the first, many or wide ones the second, a cropped photo or a wrong focal length
betray themselves by the pose's residuals. The one with the smaller predicted uncertainty beside the sticker is used.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares
from shapely.geometry import Polygon

from calibration.detect import MIN_SADDLES, Sticker, project
from calibration.errors import PlaneError
from calibration.sticker import Layout, Points

Matrix = NDArray[np.float64]
Model = Literal["pose", "homography", "two points", "ruler"]

_KNOWN_FOCAL_SIGMA = 0.05
"""Relative standard deviation of a focal length from EXIF: rounding to whole mm, autofocus, and cropping for video
stabilisation stay within about 5 % on phones (common experience; no published figure)."""

_UNKNOWN_FOCAL_MM = 27.0
_UNKNOWN_FOCAL_SIGMA = 0.35
"""Without EXIF: 35-mm-equivalent focal length of a phone's main camera, 19 to 38 mm within one standard deviation."""

FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
"""Of the film picture that EXIF's 35 mm equivalent focal length refers to."""

_LEAST_SIGMA_PX = 0.02  # no lens and sensor place points better than this, however small the residuals happen to be
_POSE_LIMIT = 16.0  # growth of the weighted squares over the homography's, 4 sigma: beyond it the camera model is wrong
_POSE_RIVAL = 5.0  # times the error of the better pose: a worse one is no rival, and costs time to refine
_AIM_RADIUS_MM = 15.0
_LEAST_WIDTH_MM = 2.0  # spread of the points across their line, root sum of squares: below it they are on one line
_OUTLIER_SIGMAS = 4.0
_OUTLIER_ROUNDS = 3
_NORMAL_OVER_MEDIAN = 0.85  # standard deviation of x and of y over the median distance, for a normal distribution
_LEAST_OUTLIER_PX = 0.12  # a point as close as this is never an outlier
_WORST_AREA_UNCERTAINTY = 0.25  # relative; beyond it the points are as good as on one line


@dataclass(frozen=True, eq=False)
class Plane:
    """The wound plane: how millimetres on it become pixels of the photo.

    Attributes
    ----------
    homography : ndarray of shape (3, 3)
        From mm of the sticker's layout to px, last element 1.
    covariance : ndarray of shape (8, 8)
        Of the first eight elements of the homography, row by row.
    model : {"pose", "homography", "two points", "ruler"}
        Which model was used; see `calibration.two_points` and `calibration.ruler` for the last two.
    residual_px : float
        Root-mean-square distance between saddle points and where the plane puts them.
    tilt_deg : float
        Angle between the camera's optical axis and the plane's normal.
    sigma_px : float
        Estimated standard deviation of a saddle point, in x or y.
    """

    homography: Matrix
    covariance: Matrix
    model: Model
    residual_px: float
    tilt_deg: float
    sigma_px: float

    def to_px(self, points_mm: Points) -> Points:
        """Map points (N, 2) on the plane, in mm, to the photo."""
        return project(self.homography, points_mm)

    def to_mm(self, points_px: Points) -> Points:
        """Map points (N, 2) of the photo to the plane, in mm."""
        return project(np.asarray(np.linalg.inv(self.homography), dtype=np.float64), points_px)

    def sees(self, points_px: Points) -> bool:
        """Tell whether all points (N, 2) of the photo lie on the near side of the plane's horizon."""
        depth = np.column_stack([points_px, np.ones(len(points_px))]) @ np.linalg.inv(self.homography)[2]
        return bool((depth > 0).all())

    def mm_per_px(self, point_px: Points) -> float:
        """Millimetres a pixel at a point (2,): the square root of the area that one pixel covers."""
        step = 0.5 * np.array([(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)])
        left, right, top, bottom = self.to_mm(np.asarray(point_px, dtype=np.float64) + step)
        return float(np.sqrt(abs(np.linalg.det(np.column_stack([right - left, bottom - top])))))

    def propagate(self, quantity: Callable[["Plane"], Points]) -> NDArray[np.float64]:
        """Return the standard uncertainty of a quantity that follows from the plane, to first order (JCGM 100, 5.1.2).

        Parameters
        ----------
        quantity : callable
            Takes a plane, returns an ndarray of shape (M,).

        Returns
        -------
        ndarray of shape (M,)
            Standard uncertainties, from central differences along the principal axes of the covariance.
        """
        halves = [(quantity(plus) - quantity(minus)) / 2 for plus, minus in self._deviations()]
        uncertainty: NDArray[np.float64] = np.sqrt(np.sum(np.square(halves), axis=0))
        return uncertainty

    def _deviations(self) -> Iterator[tuple["Plane", "Plane"]]:
        """Yield pairs of planes one standard deviation away, along each independent direction."""
        for direction in _root(self.covariance).T:
            yield self._moved(direction), self._moved(-direction)

    def _moved(self, change: NDArray[np.float64]) -> "Plane":
        homography = self.homography + np.append(change, 0.0).reshape(3, 3)
        return Plane(homography, self.covariance, self.model, self.residual_px, self.tilt_deg, self.sigma_px)


def _root(covariance: Matrix) -> Matrix:
    """Matrix whose columns, squared, sum to the covariance; scaled first, since elements differ by 10**6 in size."""
    scale = np.sqrt(np.diag(covariance))
    scale = np.where(scale > 0, scale, 1.0)
    values, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    root: Matrix = scale[:, None] * vectors * np.sqrt(np.clip(values, 0.0, None))
    return root


def fit_plane(sticker: Sticker, width: int, height: int, focal_px: float | None = None) -> Plane:
    """Fit the plane that the sticker lies in.

    Parameters
    ----------
    sticker : Sticker
        Matched points of one sticker.
    width, height : int
        Size of the photo in px; its centre is taken for the principal point.
    focal_px : float or None
        Focal length in px, as far as the photo file tells it.

    Raises
    ------
    PlaneError
        If the points lie so nearly on one line that no plane follows from them.
    """
    if np.linalg.svd(sticker.points_mm - sticker.points_mm.mean(axis=0), compute_uv=False)[1] < _LEAST_WIDTH_MM:
        raise _on_a_line(sticker.layout)
    points = _Observed(sticker.points_mm, sticker.points_px, sticker.weight_sigma, sticker.saddles).without_outliers()
    free = _fit_homography(points)
    pose = _fit_pose(points, free, (width, height), focal_px)
    plane = _better(free, pose, points, sticker.layout)
    if not _uncertainty_at_aim(plane, sticker.layout) <= _WORST_AREA_UNCERTAINTY:
        raise _on_a_line(sticker.layout)
    return plane


def _on_a_line(layout: Layout) -> PlaneError:
    return PlaneError(
        f"The parts of the '{layout.name}' sticker that can be seen lie nearly on one line, so the photo's tilt is "
        "unknown. Uncover the sticker and take the photo again."
    )


@dataclass(frozen=True, eq=False)
class _Observed:
    """Matched points: (N, 2) in mm and px, relative sigma (N,), of which the first ``saddles`` are saddle points."""

    mm: Points
    px: Points
    sigma: NDArray[np.float64]
    saddles: int

    def residuals(self, homography: Matrix) -> NDArray[np.float64]:
        """Weighted differences in px, shape (2 N,)."""
        return ((project(homography, self.mm) - self.px) / self.sigma[:, None]).ravel()

    def saddle_rms(self, homography: Matrix) -> float:
        """Root-mean-square distance of the saddle points, in px."""
        apart = project(homography, self.mm[: self.saddles]) - self.px[: self.saddles]
        return float(np.sqrt(np.square(apart).sum(axis=1).mean()))

    def without_outliers(self) -> "_Observed":
        """Drop points that a robust fit leaves far off: the edge of a cover or of a shadow beside them moved them."""
        robust = cv2.findHomography(self.mm[: self.saddles], self.px[: self.saddles], cv2.LMEDS)[0]
        if np.size(robust) != 9:  # points on one line have none
            return self
        kept = self._near(np.asarray(robust, dtype=np.float64))
        for _ in range(_OUTLIER_ROUNDS):
            kept = self._near(_free_model(_solve_free(kept).x))
        return kept

    def _near(self, homography: Matrix) -> "_Observed":
        """Return the points within some robust standard deviations of where a homography puts them."""
        apart = np.linalg.norm(self.residuals(homography).reshape(-1, 2), axis=1)
        typical = _NORMAL_OVER_MEDIAN * float(np.median(apart[: self.saddles]))
        keep = apart <= max(_OUTLIER_SIGMAS * typical, _LEAST_OUTLIER_PX)
        keep[self.saddles :] = True  # marker corners weigh little, and keep a row of saddles from being only a line
        if keep[: self.saddles].sum() < MIN_SADDLES // 2:
            return self
        return _Observed(self.mm[keep], self.px[keep], self.sigma[keep], int(keep[: self.saddles].sum()))


@dataclass(frozen=True, eq=False)
class _Fit:
    """A fitted model: homography, covariance of its eight elements, weighted sum of squares, sigma in px."""

    homography: Matrix
    covariance: Matrix
    squares: float
    sigma_px: float
    tilt_deg: float = float("nan")


def _solve_free(points: _Observed) -> OptimizeResult:
    start = cv2.findHomography(points.mm, points.px, 0)[0]
    return least_squares(
        lambda h: points.residuals(_free_model(h)), (start / start[2, 2]).ravel()[:8], method="lm", x_scale="jac"
    )


def _free_model(parameters: NDArray[np.float64]) -> Matrix:
    return np.append(parameters, 1.0).reshape(3, 3)


def _fit_homography(points: _Observed) -> _Fit:
    """Fit eight unknowns by least squares; sigma comes from what is left over at the saddle points."""
    solved = _solve_free(points)
    squares = float(2 * solved.cost)
    saddle_squares = float(np.square(solved.fun[: 2 * points.saddles]).sum())
    sigma = max(_LEAST_SIGMA_PX, float(np.sqrt(saddle_squares / max(1, 2 * points.saddles - 8))))
    return _Fit(_free_model(solved.x), _covariance(solved.jac) * sigma**2, squares / sigma**2, sigma)


def _covariance(jacobian: Matrix) -> Matrix:
    """Inverse of the normal matrix, with its columns scaled to length one first."""
    scale = np.linalg.norm(jacobian, axis=0)
    scaled = jacobian / scale
    inverse: Matrix = np.linalg.pinv(scaled.T @ scaled, rcond=1e-14, hermitian=True) / np.outer(scale, scale)
    return inverse


def _fit_pose(points: _Observed, free: _Fit, size: tuple[int, int], focal_px: float | None) -> _Fit:
    """Fit six unknowns of the camera's pose and its focal length, which is held by a prior."""
    prior, prior_sigma = _focal_prior(size, focal_px)
    centre = ((size[0] - 1) / 2, (size[1] - 1) / 2)

    def misfit(pose: NDArray[np.float64]) -> NDArray[np.float64]:
        apart = points.residuals(_pose_model(pose, centre)) / free.sigma_px
        return np.append(apart, (pose[6] - np.log(prior)) / prior_sigma)

    starts = _pose_starts(points, centre, prior)
    solved = min((least_squares(misfit, start, method="lm", x_scale="jac") for start in starts), key=_cost)
    sensitivity = _sensitivity(lambda pose: _pose_model(pose, centre).ravel()[:8], solved.x)
    covariance = sensitivity @ _covariance(solved.jac) @ sensitivity.T
    normal = cv2.Rodrigues(solved.x[:3])[0][:, 2]
    tilt = float(np.degrees(np.arccos(min(1.0, abs(float(normal[2]))))))
    return _Fit(_pose_model(solved.x, centre), covariance, 2 * _cost(solved), free.sigma_px, tilt)


def _cost(solved: OptimizeResult) -> float:
    return float(solved.cost)


def _focal_prior(size: tuple[int, int], focal_px: float | None) -> tuple[float, float]:
    """Focal length in px and its relative standard deviation."""
    if focal_px is not None:
        return focal_px, _KNOWN_FOCAL_SIGMA
    return _UNKNOWN_FOCAL_MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(*size)), _UNKNOWN_FOCAL_SIGMA


def _pose_model(pose: NDArray[np.float64], centre: tuple[float, float]) -> Matrix:
    """Homography of a pinhole camera: rotation vector (3), translation in mm (3), logarithm of the focal length."""
    rotation = cv2.Rodrigues(pose[:3])[0]
    focal = float(np.exp(pose[6]))
    camera = np.array([(focal, 0.0, centre[0]), (0.0, focal, centre[1]), (0.0, 0.0, 1.0)])
    homography = camera @ np.column_stack([rotation[:, 0], rotation[:, 1], pose[3:6]])
    return np.asarray(homography / homography[2, 2], dtype=np.float64)


def _pose_starts(points: _Observed, centre: tuple[float, float], focal: float) -> list[NDArray[np.float64]]:
    """Both poses that a small plane allows (Collins and Bartoli 2014, as OpenCV's IPPE), unless one is far worse."""
    camera = np.array([(focal, 0.0, centre[0]), (0.0, focal, centre[1]), (0.0, 0.0, 1.0)])
    flat = np.column_stack([points.mm, np.zeros(len(points.mm))])
    _, turns, shifts, errors = cv2.solvePnPGeneric(flat, points.px, camera, None, flags=cv2.SOLVEPNP_IPPE)
    far_worse = _POSE_RIVAL * float(np.min(errors))
    return [
        np.concatenate([turn.ravel(), shift.ravel(), [np.log(focal)]])
        for turn, shift, error in zip(turns, shifts, np.ravel(errors), strict=True)
        if error <= far_worse
    ]


def _sensitivity(model: Callable[[NDArray[np.float64]], Points], at: NDArray[np.float64]) -> Matrix:
    """Differentiate a model by its parameters, from central differences."""
    steps = 1e-6 * np.maximum(1.0, np.abs(at))
    columns = [
        (model(at + step * axis) - model(at - step * axis)) / (2 * step)
        for step, axis in zip(steps, np.eye(len(at)), strict=True)
    ]
    return np.column_stack(columns)


def _better(free: _Fit, pose: _Fit, points: _Observed, layout: Layout) -> Plane:
    """Return the plane with the smaller uncertainty of an area beside the sticker, if the camera model holds."""
    by_pose = _plane(pose, "pose", points, pose.tilt_deg)
    by_homography = _plane(free, "homography", points, pose.tilt_deg)
    if pose.squares - free.squares > _POSE_LIMIT:
        return by_homography
    return min((by_pose, by_homography), key=lambda plane: _uncertainty_at_aim(plane, layout))


def _plane(fit: _Fit, model: Model, points: _Observed, tilt_deg: float) -> Plane:
    return Plane(fit.homography, fit.covariance, model, points.saddle_rms(fit.homography), tilt_deg, fit.sigma_px)


def _uncertainty_at_aim(plane: Plane, layout: Layout) -> float:
    """Relative standard uncertainty of the area of a disc where a wound is expected."""
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    disc = plane.to_px(np.array(layout.aim) + _AIM_RADIUS_MM * np.column_stack([np.cos(angle), np.sin(angle)]))
    area = Polygon(plane.to_mm(disc)).area
    return float(plane.propagate(lambda moved: np.array([Polygon(moved.to_mm(disc)).area]))[0] / area)
