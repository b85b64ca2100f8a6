"""Fits the wound plane to the matched points of one or more stickers.

Three models are fitted. The *pose* knows how a camera works: six unknowns for where it stood and one for its focal
length, held by what the photo file says of it. The *homography* assumes nothing but a flat plane and has eight
unknowns. Few or narrow points suit the first, many or wide ones the second, a cropped photo or a wrong focal length
betray themselves by the pose's residuals. The one with the smaller predicted uncertainty beside the sticker is used.
Where what is left over shows that the sticker is bent, a *limb* is fitted: a pose with a cylinder in front of it.

All of them carry the lens's distortion, held by what is known of phone lenses: where the points tell it, it is
corrected, where they don't, it stays in the uncertainty. So does a bend too weak to be seen. More stickers in the
same plane each add their points and four unknowns: where they lie, how they are turned, and the size of their print.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares
from shapely.geometry import Polygon

from calibration.detect import MIN_SADDLES, Sticker
from calibration.errors import PlaneError
from calibration.plane import Deviation, Model, Neighbour, Plane, default_focal_px
from calibration.projection import Bend, Matrix, Projection
from calibration.sticker import Layout, Points

Kind = Literal["pose", "homography", "limb"]

LENS_SIGMA = 0.03
"""Standard deviation of k1 of a phone. The main lenses of seven phones in the profiles of the project lensfun have
-0.016 to +0.032, before the phone straightens the picture."""

UNKNOWN_LENS_SIGMA = 0.1
"""The same for a camera that doesn't tell its focal length: two webcams measured with a chessboard had -0.25."""

PRINT_SIGMA = 0.004
"""Relative standard deviation of the size of one sticker against another: each print may be 0.5 % off, rectangular."""

FLATTEST_MM = 2000.0
"""A radius beyond this differs so little from flat that it is left to the uncertainty."""

SHARPEST_MM = 20.0
"""A smaller radius is a fold or a finger, not a limb."""

FOCAL_SIGMA = 0.05
"""Relative standard deviation of a focal length from EXIF: rounding to whole mm, autofocus, and cropping for video
stabilisation stay within about 5 % on phones (common experience; no published figure)."""

_UNKNOWN_FOCAL_SIGMA = 0.35
"""Without EXIF: 19 to 38 mm, 35 mm equivalent, within one standard deviation."""

UNSEEN_CURVATURE = 1 / 80
"""Standard deviation of 1 / radius, in 1/mm, before the sticker is looked at: limbs have radii of 40 to 120 mm."""

_ROUNDNESS = 0.1
"""Relative standard deviation of a limb's curvature away from the sticker: limbs are no cylinders (an estimate)."""

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
_CREASED_SHARE = 0.2
_LEAST_GAIN = 12.0  # squares over their variance that a weak bend explains, three unknowns: below it nothing is there
_BEND_SIGMAS = 3.0
_SUSPICIOUS_PX = 0.3  # what is left over a flat sticker beyond this asks whether it is bent
_SUSPICIOUS_SHARE = 0.1  # of points that a flat sticker leaves out
_BEND_STARTS_DEG = (0.0, 45.0, 90.0, 135.0)
_BEND_START = 1 / 60
_MOST_CALLS = 800  # of the model in one fit; some ten suffice a step, and ten steps a fit
_TRIAL_CALLS = 80
_SIGMA_ROUNDS = 3
_SIGMA_STEADY = 0.1  # relative change of sigma below which a fit need not be repeated
_MOST_NEIGHBOURS = 4  # further stickers in one photo: more add time and no precision
_STRAY_FACTOR = 4.0  # times the main sticker's residual: another sticker beyond it is not in the same plane
_STRAY_PX = 0.5


@dataclass(frozen=True, eq=False)
class _Points:
    """Matched points: (N, 2) in mm of their layout and in px, relative sigma (N,), which are saddles, and whose."""

    mm: Points
    px: Points
    sigma: NDArray[np.float64]
    saddle: NDArray[np.bool_]
    sticker: NDArray[np.intp]

    @classmethod
    def of(cls, stickers: Sequence[Sticker]) -> "_Points":
        counts = [len(sticker.points_mm) for sticker in stickers]
        return cls(
            np.concatenate([sticker.points_mm for sticker in stickers]),
            np.concatenate([sticker.points_px for sticker in stickers]),
            np.concatenate([sticker.weight_sigma for sticker in stickers]),
            np.concatenate([np.arange(len(sticker.points_mm)) < sticker.saddles for sticker in stickers]),
            np.repeat(np.arange(len(stickers)), counts),
        )

    def where(self, keep: NDArray[np.bool_]) -> "_Points":
        return _Points(self.mm[keep], self.px[keep], self.sigma[keep], self.saddle[keep], self.sticker[keep])

    def and_also(self, other: "_Points", number: int) -> "_Points":
        """Return these points and another sticker's, which gets a number."""
        return _Points(
            np.concatenate([self.mm, other.mm]),
            np.concatenate([self.px, other.px]),
            np.concatenate([self.sigma, other.sigma]),
            np.concatenate([self.saddle, other.saddle]),
            np.concatenate([self.sticker, np.full(len(other.mm), number)]),
        )

    @property
    def saddles(self) -> int:
        return int(self.saddle.sum())


@dataclass(frozen=True)
class _Camera:
    """What is known before the points are looked at: middle of the photo, focal length and lens with their sigmas."""

    centre_px: tuple[float, float]
    focal_px: float
    focal_sigma: float
    lens_sigma: float


@dataclass(frozen=True)
class _Unknowns:
    """The order of a model's unknowns.

    First its shape (pose: rotation vector, translation in mm, logarithm of the focal length; homography: eight
    elements), then four for each further sticker (turn, shift in mm, logarithm of the print's size), then the lens's
    k1, then curvature and direction of a limb.
    """

    kind: Kind
    camera: _Camera
    others: int
    through_mm: tuple[float, float]

    @property
    def _shape(self) -> int:
        return 8 if self.kind == "homography" else 7

    @property
    def lens(self) -> int:
        """Where k1 stands."""
        return self._shape + 4 * self.others

    def projection(self, values: NDArray[np.float64]) -> Projection:
        camera, k1 = self.camera, float(values[self.lens])
        if self.kind == "homography":
            return Projection(np.append(values[:8], 1.0).reshape(3, 3), camera.focal_px, camera.centre_px, k1)
        focal = float(np.exp(values[6]))
        homography = _pose_homography(values[:6], focal, camera.centre_px)
        return Projection(homography, focal, camera.centre_px, k1, self._bend(values))

    def _bend(self, values: NDArray[np.float64]) -> Bend | None:
        if self.kind != "limb":
            return None
        curvature, axis = values[self.lens + 1 :]
        return Bend(float(curvature), float(np.degrees(axis)), self.through_mm)

    def placed(self, values: NDArray[np.float64], points: _Points) -> Points:
        """Return the points (N, 2) in mm of the first sticker's layout."""
        mm = points.mm.copy()
        for number in range(1, self.others + 1):
            own = points.sticker == number
            mm[own] = _moved(points.mm[own], values[self._placement(number)])
        return mm

    def _placement(self, number: int) -> slice:
        first = self._shape + 4 * (number - 1)
        return slice(first, first + 4)

    def residuals(self, values: NDArray[np.float64], points: _Points) -> NDArray[np.float64]:
        """Weighted differences in px, shape (2 N,)."""
        seen = self.projection(values).to_px(self.placed(values, points))
        return np.asarray(((seen - points.px) / points.sigma[:, None]).ravel(), dtype=np.float64)

    def prior(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far the unknowns are from what is known beforehand, in standard deviations."""
        held = [values[self.lens] / self.camera.lens_sigma]
        if self.kind != "homography":
            held.append((values[6] - np.log(self.camera.focal_px)) / self.camera.focal_sigma)
        if self.kind == "limb":
            held.append(values[self.lens + 1] / UNSEEN_CURVATURE)
        held += [values[self._placement(number)][3] / PRINT_SIGMA for number in range(1, self.others + 1)]
        return np.array(held)


def _moved(points_mm: Points, placement: NDArray[np.float64]) -> Points:
    """Turn, scale and shift points (N, 2)."""
    turn, x, y, size = placement
    c, s = np.exp(size) * np.cos(turn), np.exp(size) * np.sin(turn)
    moved: Points = points_mm @ np.array([(c, s), (-s, c)]) + (x, y)
    return moved


def _pose_homography(pose: NDArray[np.float64], focal: float, centre: tuple[float, float]) -> Matrix:
    """Homography of a pinhole camera: rotation vector (3), translation in mm (3)."""
    rotation = cv2.Rodrigues(pose[:3])[0]
    camera = np.array([(focal, 0.0, centre[0]), (0.0, focal, centre[1]), (0.0, 0.0, 1.0)])
    homography = camera @ np.column_stack([rotation[:, 0], rotation[:, 1], pose[3:6]])
    return np.asarray(homography / homography[2, 2], dtype=np.float64)


@dataclass(frozen=True, eq=False)
class _Fit:
    """A fitted model.

    ``jacobian`` and ``left`` are those of the weighted residuals, followed by what was known beforehand.
    """

    unknowns: _Unknowns
    values: NDArray[np.float64]
    jacobian: Matrix
    left: NDArray[np.float64]
    sigma_px: float
    points: _Points

    @property
    def projection(self) -> Projection:
        return self.unknowns.projection(self.values)

    @property
    def squares(self) -> float:
        """Weighted sum of squares."""
        return float(np.square(self.left).sum())

    def apart(self, points: _Points) -> NDArray[np.float64]:
        """Return `_apart` of points."""
        return _apart(self.unknowns, self.values, points)

    def saddle_rms(self) -> float:
        """Root-mean-square distance of the saddle points, in px."""
        return float(np.sqrt(np.square(self.apart(self.points)[self.points.saddle]).mean()))

    @property
    def tilt_deg(self) -> float:
        normal = cv2.Rodrigues(self.values[:3])[0][:, 2]
        return float(np.degrees(np.arccos(min(1.0, abs(float(normal[2]))))))


def fit_plane(stickers: Sequence[Sticker], width: int, height: int, focal_px: float | None = None) -> Plane:
    """Fit the plane that the stickers lie in.

    Parameters
    ----------
    stickers : sequence of Sticker
        Matched points; the first sticker's layout gives the coordinates. The others join where they lie in the same
        plane and were printed in the same size.
    width, height : int
        Size of the photo in px; its centre is taken for the principal point.
    focal_px : float or None
        Focal length in px, as far as the photo file tells it.

    Raises
    ------
    PlaneError
        If the points of the first sticker lie so nearly on one line that no plane follows from them.
    """
    first, *others = stickers
    if np.linalg.svd(first.points_mm - first.points_mm.mean(axis=0), compute_uv=False)[1] < _LEAST_WIDTH_MM:
        raise _on_a_line(first.layout)
    camera = _camera(width, height, focal_px)
    fits = _fit_one(_Points.of([first]), camera)
    plane = fits.plane(first.layout)
    joined, fits = _join(fits, plane, others)
    if any(neighbour.joined for neighbour in joined):
        plane = fits.plane(first.layout)
    if not uncertainty_at_aim(plane, first.layout) <= _WORST_AREA_UNCERTAINTY:
        raise _on_a_line(first.layout)
    return replace(plane, neighbours=joined)


def _on_a_line(layout: Layout) -> PlaneError:
    return PlaneError(
        f"The parts of the '{layout.name}' sticker that can be seen lie nearly on one line, so the photo's tilt is "
        "unknown. Uncover the sticker and take the photo again."
    )


def _camera(width: int, height: int, focal_px: float | None) -> _Camera:
    centre = ((width - 1) / 2, (height - 1) / 2)
    if focal_px is not None:
        return _Camera(centre, focal_px, FOCAL_SIGMA, LENS_SIGMA)
    return _Camera(centre, default_focal_px(width, height), _UNKNOWN_FOCAL_SIGMA, UNKNOWN_LENS_SIGMA)


@dataclass(frozen=True, eq=False)
class _Fits:
    """The models fitted to the same points; a limb where the sticker is bent."""

    free: _Fit
    pose: _Fit
    limb: _Fit | None
    rejected_px: Points

    def plane(self, layout: Layout) -> Plane:
        """Return the limb, else the model with the smaller uncertainty of an area beside the sticker."""
        if self.limb is not None:
            return self._described(self.limb, "limb")
        stretch, uncertainty = _stretch(self.pose, self.free)
        by_homography = self._described(self.free, "homography")
        by_pose = self._described(self.pose, "pose")
        rivals = (by_homography,) if self.pose.squares - self.free.squares > _POSE_LIMIT else (by_pose, by_homography)
        best = min(rivals, key=lambda plane: uncertainty_at_aim(plane, layout))
        return replace(best, stretch=stretch, stretch_uncertainty=uncertainty)

    def _described(self, fit: _Fit, model: Model) -> Plane:
        tilt = (self.limb or self.pose).tilt_deg
        return Plane(fit.projection, _deviations(fit), model, fit.saddle_rms(), tilt, fit.sigma_px, self.rejected_px)


def _fit_one(points: _Points, camera: _Camera) -> _Fits:
    """Fit all models to the points of one sticker.

    Points that are left out in numbers are no accidents: the sticker is creased, and all of them say how much.
    """
    middle = points.mm[points.saddle].mean(axis=0)
    through = (float(middle[0]), float(middle[1]))
    free, keep = _fit_free(points, _Unknowns("homography", camera, 0, through))
    pose = _fit_pose(points.where(keep), free)
    bent = _fit_limb(points, free, pose, keep)
    if bent is None and 1 - keep.mean() > _CREASED_SHARE:
        free, keep = _fit(free.unknowns, points, free.values), np.ones(len(keep), dtype=np.bool_)
        pose = _fit_pose(points, free)
    if bent is None:
        return _Fits(free, pose, None, points.px[~keep])
    limb, keep = bent
    return _Fits(free, pose, limb, points.px[~keep])


def _solved(
    unknowns: _Unknowns, points: _Points, start: NDArray[np.float64], sigma_px: float, most_calls: int = _MOST_CALLS
) -> OptimizeResult:
    def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.concatenate([unknowns.residuals(values, points) / sigma_px, unknowns.prior(values)])

    return least_squares(misfit, start, method="lm", x_scale="jac", max_nfev=most_calls)


def _fitted(unknowns: _Unknowns, points: _Points, solved: OptimizeResult, sigma_px: float) -> _Fit:
    return _Fit(unknowns, solved.x, solved.jac, solved.fun, sigma_px, points)


def _fit(unknowns: _Unknowns, points: _Points, start: NDArray[np.float64], sigma_px: float | None = None) -> _Fit:
    """Fit by least squares; without ``sigma_px`` it comes from what is left over at the saddle points."""
    if sigma_px is not None:
        return _fitted(unknowns, points, _solved(unknowns, points, start, sigma_px), sigma_px)
    sigma_px = _sigma_px(unknowns, points, start)
    for _ in range(_SIGMA_ROUNDS):
        solved = _solved(unknowns, points, start, sigma_px)
        start, before, sigma_px = solved.x, sigma_px, _sigma_px(unknowns, points, solved.x)
        if abs(sigma_px / before - 1) < _SIGMA_STEADY:
            break
    return _fitted(unknowns, points, solved, before)


def _sigma_px(unknowns: _Unknowns, points: _Points, values: NDArray[np.float64]) -> float:
    """Estimate the standard deviation of a saddle point from what is left over."""
    left = unknowns.residuals(values, points).reshape(-1, 2)[points.saddle]
    freedom = max(1, left.size - (len(values) - 1))  # k1 is held beforehand
    return max(_LEAST_SIGMA_PX, float(np.sqrt(np.square(left).sum() / freedom)))


def _fit_free(points: _Points, unknowns: _Unknowns) -> tuple[_Fit, NDArray[np.bool_]]:
    """Fit the homography, and tell which points it keeps.

    Points that a robust fit leaves far off are dropped: the edge of a cover or of a shadow beside them moved them.
    """
    saddles = points.where(points.saddle)
    keep = np.ones(len(points.mm), dtype=np.bool_)
    robust = cv2.findHomography(saddles.mm, saddles.px, cv2.LMEDS)[0]
    if np.size(robust) == 9:  # points on one line have none
        start = np.append((robust / robust[2, 2]).ravel()[:8], 0.0)
        keep = _near(points, np.linalg.norm(unknowns.residuals(start, points).reshape(-1, 2), axis=1))
    for _ in range(_OUTLIER_ROUNDS):
        plain = cv2.findHomography(points.mm[keep], points.px[keep], 0)[0]
        fit = _fit(unknowns, points.where(keep), np.append((plain / plain[2, 2]).ravel()[:8], 0.0))
        before, keep = keep, _near(points, fit.apart(points))
        if (keep == before).all():
            break
    return fit, before


def _near(points: _Points, apart: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which points are within some robust standard deviations of where a model puts them."""
    typical = _NORMAL_OVER_MEDIAN * float(np.median(apart[points.saddle]))
    keep = np.asarray(apart <= max(_OUTLIER_SIGMAS * typical, _LEAST_OUTLIER_PX))
    keep[~points.saddle] = True  # marker corners weigh little, and keep a row of saddles from being only a line
    return keep if keep[points.saddle].sum() >= MIN_SADDLES // 2 else np.ones(len(keep), dtype=np.bool_)


def _fit_pose(points: _Points, free: _Fit) -> _Fit:
    """Fit the camera's pose, from both poses that a small plane allows unless one is far worse."""
    unknowns = replace(free.unknowns, kind="pose")
    starts = _pose_starts(points, free, float(free.values[free.unknowns.lens]))
    fits = [_fit(unknowns, points, start, free.sigma_px) for start in starts]
    return min(fits, key=lambda fit: fit.squares)


def _pose_of(projection: Projection) -> NDArray[np.float64]:
    """Return the pose, six values, whose homography is nearest to one that no camera need have made."""
    camera = np.array(
        [
            (projection.focal_px, 0.0, projection.centre_px[0]),
            (0.0, projection.focal_px, projection.centre_px[1]),
            (0.0, 0.0, 1.0),
        ]
    )
    first, second, shift = np.linalg.solve(camera, projection.homography).T
    size = float(np.sqrt(np.linalg.norm(first) * np.linalg.norm(second)))
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second) / size]))
    return np.concatenate([cv2.Rodrigues(left @ right)[0].ravel(), shift / size])


def _pose_starts(points: _Points, free: _Fit, k1: float) -> list[NDArray[np.float64]]:
    """Poses as OpenCV's IPPE finds them (Collins and Bartoli 2014), or the nearest one where it finds none."""
    focal, centre = free.unknowns.camera.focal_px, free.unknowns.camera.centre_px
    matrix = np.array([(focal, 0.0, centre[0]), (0.0, focal, centre[1]), (0.0, 0.0, 1.0)])
    flat = np.column_stack([points.mm, np.zeros(len(points.mm))])
    _, turns, shifts, errors = cv2.solvePnPGeneric(flat, points.px, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    if not turns:
        return [np.append(_pose_of(free.projection), (np.log(focal), k1))]
    far_worse = _POSE_RIVAL * float(np.min(errors))
    return [
        np.concatenate([turn.ravel(), shift.ravel(), [np.log(focal), k1]])
        for turn, shift, error in zip(turns, shifts, np.ravel(errors), strict=True)
        if error <= far_worse
    ]


def _fit_limb(
    points: _Points, free: _Fit, pose: _Fit, keep: NDArray[np.bool_]
) -> tuple[_Fit, NDArray[np.bool_]] | None:
    """Fit a limb where the flat fit leaves a bend over; None where the sticker is flat, curled up or folded."""
    gain, weak = _weak_bend(free)
    left_out = 1 - keep[points.saddle].mean()
    if gain < _LEAST_GAIN and free.sigma_px < _SUSPICIOUS_PX and left_out < _SUSPICIOUS_SHARE:
        return None
    unknowns = replace(pose.unknowns, kind="limb")
    starts = [weak, *((_BEND_START, np.radians(axis)) for axis in _BEND_STARTS_DEG)]
    rough_px = max(_SUSPICIOUS_PX, free.sigma_px / 4)
    tried = [_solved(unknowns, points, np.append(pose.values, start), rough_px, _TRIAL_CALLS).x for start in starts]
    best = min(tried, key=lambda found: _capped(_apart(unknowns, found, points), points))
    values = _solved(unknowns, points, best, rough_px).x
    for _ in range(_OUTLIER_ROUNDS):
        keep = _near(points, _apart(unknowns, values, points))
        limb = _fit(unknowns, points.where(keep), values)
        values = limb.values
    return (limb, keep) if _is_limb(limb, free, points) else None


def _is_limb(limb: _Fit, flat: _Fit, points: _Points) -> bool:
    """Tell whether a bend is of a limb's size, well known, and explains the points much better than none."""
    curvature = float(limb.values[-2])
    if not 1 / FLATTEST_MM <= curvature <= 1 / SHARPEST_MM:
        return False
    sigma = float(np.sqrt(_inverse(limb.jacobian.T @ limb.jacobian)[-2, -2]))
    left = _capped(limb.apart(points), points)
    freedom = max(1, 2 * points.saddles - len(limb.values) + 1)
    gain = (_capped(flat.apart(points), points) - left) / max(left / freedom, _LEAST_SIGMA_PX**2)
    return curvature > _BEND_SIGMAS * sigma and gain > _BEND_SIGMAS**2


def _apart(unknowns: _Unknowns, values: NDArray[np.float64], points: _Points) -> NDArray[np.float64]:
    """Distances (N,) in px, divided by the relative sigma, of points from where a model puts them."""
    return np.asarray(np.linalg.norm(unknowns.residuals(values, points).reshape(-1, 2), axis=1))


def _capped(apart: NDArray[np.float64], points: _Points) -> float:
    """Sum of squares over the saddle points in px; one far off counts as a pixel off, or ten points would decide."""
    return float(np.square(np.minimum(apart[points.saddle], 1.0)).sum())


def _weak_bend(flat: _Fit) -> tuple[float, tuple[float, float]]:
    """Return how much a weak bend would explain, in squares over their variance, with its curvature and axis.

    A linear step: the depth of a weak bend is a quadratic form, whose larger principal curvature is the limb's.
    """
    steps = np.vstack([_bend_columns(flat), np.zeros((len(flat.left) - 2 * len(flat.points.mm), 3))])
    basis = np.linalg.qr(flat.jacobian)[0]
    steps = steps - basis @ (basis.T @ steps)
    xx, xy, yy = -np.linalg.lstsq(steps, flat.left, rcond=None)[0]
    left = flat.left + steps @ (xx, xy, yy)
    freedom = max(1, 2 * flat.points.saddles - flat.jacobian.shape[1] - 2)
    variance = max(float(np.square(left).sum()) / freedom, (_LEAST_SIGMA_PX / flat.sigma_px) ** 2)
    gain = (flat.squares - float(np.square(left).sum())) / variance
    curvatures, directions = np.linalg.eigh(np.array([(xx, xy), (xy, yy)]))
    main = int(np.abs(curvatures).argmax())
    around = directions[:, main]
    return gain, (float(curvatures[main]), float(np.arctan2(-around[0], around[1])))


def _bend_columns(flat: _Fit) -> Matrix:
    """Differentiate the weighted residuals by the curvatures of a weak bend: along x, along x and y, along y."""
    projection, points = flat.projection, flat.points
    mm = flat.unknowns.placed(flat.values, points)
    seen = np.column_stack([mm, np.ones(len(mm))]) @ projection.homography.T
    per_mm = (projection.depth[:2] - seen[:, :2] / seen[:, 2:] * projection.depth[2]) / seen[:, 2:]
    x, y = (mm - np.array(flat.unknowns.through_mm)).T
    per_mm = per_mm / (points.sigma * flat.sigma_px)[:, None]
    return np.column_stack([(depth[:, None] * per_mm).ravel() for depth in (x**2 / 2, x * y, y**2 / 2)])


def _deviations(fit: _Fit) -> dict[str, tuple[Deviation, ...]]:
    """Split the covariance of a fit by cause: what a bend adds, then what the lens adds, then the points themselves."""
    causes: dict[str, list[Deviation]] = {"curvature": [], "lens": [], "point localisation": []}
    normal = fit.jacobian.T @ fit.jacobian
    unknowns, count = fit.unknowns, len(fit.values)
    if unknowns.kind == "limb":
        bends = _root_of_last(_inverse(normal), 2)
        causes["curvature"] = [_along(fit, direction) for direction in (*bends, _rounder(fit))]
        normal, count = normal[:-2, :-2], count - 2
    else:
        _, (_, axis) = _weak_bend(fit)
        causes["curvature"] = [_bent(fit, axis), _bent(fit, axis + np.pi / 2)]
    covariance = _inverse(normal)
    causes["lens"] = [_along(fit, _direction(covariance, unknowns.lens))]
    kept = np.delete(np.arange(count), unknowns.lens)
    covariance = _inverse(normal[np.ix_(kept, kept)])
    directions = np.zeros((len(fit.values), len(kept)))
    directions[kept] = _root(covariance)
    causes["point localisation"] = [_along(fit, direction) for direction in directions.T]
    return {cause: tuple(pairs) for cause, pairs in causes.items()}


def _direction(covariance: Matrix, unknown: int) -> NDArray[np.float64]:
    """Return how all unknowns move when one moves by its standard deviation and the rest is fitted anew."""
    return np.asarray(covariance[:, unknown] / np.sqrt(covariance[unknown, unknown]))


def _root_of_last(covariance: Matrix, count: int) -> list[NDArray[np.float64]]:
    """Return the independent directions in which the last unknowns may be off, with the rest fitted anew."""
    last = covariance[-count:, -count:]
    return list((covariance[:, -count:] @ np.linalg.inv(last) @ _root(last)).T)


def _rounder(fit: _Fit) -> NDArray[np.float64]:
    """Return the direction in which the limb bends more strongly on either side of the sticker's middle."""
    direction = np.zeros(len(fit.values))
    direction[-2] = _ROUNDNESS * fit.values[-2]
    return direction


def _along(fit: _Fit, direction: NDArray[np.float64]) -> Deviation:
    change = np.zeros(len(fit.values))
    change[: len(direction)] = direction
    return fit.unknowns.projection(fit.values + change), fit.unknowns.projection(fit.values - change)


def _bent(fit: _Fit, axis: float) -> Deviation:
    """Return the projections of the bends about an axis that the points leave possible, or even hint at."""
    column = np.zeros(len(fit.left))
    s, c = np.sin(axis), np.cos(axis)
    column[: 2 * len(fit.points.mm)] = _bend_columns(fit) @ (s**2, -s * c, c**2)
    jacobian = np.column_stack([fit.jacobian, column])
    normal = jacobian.T @ jacobian
    normal[-1, -1] += UNSEEN_CURVATURE**-2
    covariance = _inverse(normal)
    sigma = float(np.sqrt(covariance[-1, -1]))
    hinted = -float((covariance @ jacobian.T @ fit.left)[-1])
    direction = covariance[:, -1] / sigma * float(np.hypot(1.0, hinted / sigma))
    through, axis_deg = fit.unknowns.through_mm, float(np.degrees(axis))
    plus, minus = (
        replace(
            fit.unknowns.projection(fit.values + sign * direction[:-1]),
            bend=Bend(sign * float(direction[-1]), axis_deg, through),
        )
        for sign in (1, -1)
    )
    return plus, minus


def _inverse(normal: Matrix) -> Matrix:
    """Invert a normal matrix, scaled first, since unknowns differ by 10**6 in size."""
    scale = np.sqrt(np.diag(normal))
    inverse: Matrix = np.linalg.pinv(normal / np.outer(scale, scale), rcond=1e-14, hermitian=True)
    return np.asarray(inverse / np.outer(scale, scale))


def _root(covariance: Matrix) -> Matrix:
    """Matrix whose columns, squared, sum to the covariance; scaled first as well."""
    scale = np.sqrt(np.diag(covariance))
    scale = np.where(scale > 0, scale, 1.0)
    values, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    root: Matrix = scale[:, None] * vectors * np.sqrt(np.clip(values, 0.0, None))
    return root


def _stretch(pose: _Fit, free: _Fit) -> tuple[float, float]:
    """Return how much longer the layout's y is printed than its x, relative, and its standard uncertainty.

    A tilt shortens one direction too, but brings perspective with it; so the camera tells them apart. So the
    pose is fitted anew with the stretch as one more unknown, from the start where it does not fit as it is.
    """
    unknowns, points, sigma_px = pose.unknowns, pose.points, pose.sigma_px

    def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
        printed = replace(points, mm=points.mm * (1.0, np.exp(values[-1])))
        return np.concatenate([unknowns.residuals(values[:-1], printed) / sigma_px, unknowns.prior(values[:-1])])

    if pose.squares - free.squares <= _POSE_LIMIT:
        solved = least_squares(misfit, np.append(pose.values, 0.0), method="lm", x_scale="jac", max_nfev=_MOST_CALLS)
    else:
        starts = [np.append(start, 0.0) for start in _pose_starts(points, free, k1=0.0)]
        tries = [least_squares(misfit, start, method="lm", x_scale="jac", max_nfev=_MOST_CALLS) for start in starts]
        solved = min(tries, key=lambda tried: float(tried.cost))
    covariance = _inverse(solved.jac.T @ solved.jac)
    return float(np.expm1(solved.x[-1])), float(np.sqrt(covariance[-1, -1]))


def uncertainty_at_aim(plane: Plane, layout: Layout) -> float:
    """Relative standard uncertainty of the area of a disc where a wound is expected, if the skin is as was found."""
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    disc = plane.to_px(np.array(layout.aim) + _AIM_RADIUS_MM * np.column_stack([np.cos(angle), np.sin(angle)]))

    def log_area(moved: Projection) -> Points:
        return np.array([np.log(Polygon(moved.to_mm(disc)).area)])

    spreads = plane.propagate(log_area, ("point localisation", "lens"))
    return float(np.linalg.norm([spread[0] for spread in spreads.values()]))


def _join(fits: _Fits, plane: Plane, others: Sequence[Sticker]) -> tuple[tuple[Neighbour, ...], _Fits]:
    """Fit the stickers together that lie in the plane of the first and have its size."""
    neighbours, points = [], (fits.limb or fits.free).points
    starts: list[NDArray[np.float64]] = []
    for other in others[:_MOST_NEIGHBOURS]:
        own = _Points.of([other])
        own = own.where(_fit_free(own, fits.free.unknowns)[1])
        neighbour, placement = _placed_by(plane, own)
        neighbours.append(neighbour)
        if neighbour.joined:
            starts.append(placement)
            points = points.and_also(own, len(starts))
    if not starts:
        return tuple(neighbours), fits
    return tuple(neighbours), _fit_together(fits, points, np.concatenate(starts))


def _placed_by(plane: Plane, points: _Points) -> tuple[Neighbour, NDArray[np.float64]]:
    """Find where another sticker lies, how large it is, and whether it agrees with the plane."""
    saddles = points.where(points.saddle)
    placement = _similarity(saddles.mm, plane.to_mm(saddles.px))
    middle = saddles.px.mean(axis=0)
    spread = plane.propagate(lambda moved: np.array([np.log(moved.mm_per_px(middle))]))
    doubt = float(np.linalg.norm([share[0] for share in spread.values()]))
    left = plane.to_px(_moved(saddles.mm, placement)) - saddles.px
    apart = float(np.sqrt(np.square(left).sum(axis=1).mean()))
    size = float(np.exp(placement[3]) - 1)
    same = abs(size) <= _OUTLIER_SIGMAS * np.hypot(doubt, PRINT_SIGMA)
    tolerated = max(_STRAY_FACTOR * plane.sigma_px, _STRAY_PX, doubt * float(np.ptp(saddles.px, axis=0).max()))
    return Neighbour(size, doubt, bool(same and apart <= tolerated)), placement


def _similarity(own_mm: Points, placed_mm: Points) -> NDArray[np.float64]:
    """Turn, shift and logarithm of size that take points to others in the least-squares sense (Umeyama 1991)."""
    own, placed = own_mm @ (1, 1j), placed_mm @ (1, 1j)
    away = own - own.mean()
    factor = np.vdot(away, placed - placed.mean()) / np.vdot(away, away)
    shift = placed.mean() - factor * own.mean()
    return np.array([np.angle(factor), shift.real, shift.imag, np.log(abs(factor))])


def _fit_together(fits: _Fits, points: _Points, placements: NDArray[np.float64]) -> _Fits:
    """Fit each model anew to the points of several stickers."""

    def again(fit: _Fit, sigma_px: float | None) -> _Fit:
        unknowns = replace(fit.unknowns, others=len(placements) // 4)
        start = np.insert(fit.values, fit.unknowns.lens, placements)
        return _fit(unknowns, points, start, sigma_px)

    free = again(fits.free, None)
    limb = again(fits.limb, None) if fits.limb else None
    return _Fits(free, again(fits.pose, free.sigma_px), limb, fits.rejected_px)
