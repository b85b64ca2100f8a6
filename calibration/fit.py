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

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares
from shapely.geometry import Polygon

from calibration.detect import Sticker
from calibration.deviation import deviations
from calibration.errors import PlaneError
from calibration.limb import fit_limb
from calibration.model import PRINT_SIGMA, CameraPrior, Matched, Unknowns, camera_matrix, camera_prior, moved
from calibration.plane import Model, Neighbour, Plane
from calibration.projection import Projection
from calibration.slopes import slopes
from calibration.solution import MOST_CALLS, OUTLIER_ROUNDS, OUTLIER_SIGMAS, Solution, inverse, near, solve
from calibration.sticker import Layout, Points

_POSE_LIMIT = 16.0  # growth of the weighted squares over the homography's, 4 sigma: beyond it the camera model is wrong

_POSE_RIVAL = 5.0  # times the error of the better pose: a worse one is no rival, and costs time to refine

_AIM_RADIUS_MM = 15.0

_LEAST_WIDTH_MM = 2.0  # spread of the points across their line, root sum of squares: below it they are on one line

_WORST_AREA_UNCERTAINTY = 0.25  # relative; beyond it the points are as good as on one line

_ENOUGH = 12  # saddle points, for the robust fit of four of them to say anything of the rest
_CREASED_SHARE = 0.2

_MOST_NEIGHBOURS = 4  # further stickers in one photo: more add time and no precision

_STRETCH_STEP = 1e-5  # relative; its square, which is what the difference is wrong by, is lost in rounding

_STRAY_FACTOR = 4.0  # times the main sticker's residual: another sticker beyond it is not in the same plane

_STRAY_PX = 0.5
_STRAY_GROWTH, _STRAY_FLOOR_PX = 2.0, 0.1  # of sigma, when stickers of one plane are fitted together
_SIZE_SIGMAS = 3.0


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
    saddles = first.points_mm[: first.saddles]
    if np.linalg.svd(saddles - saddles.mean(axis=0), compute_uv=False)[1] < _LEAST_WIDTH_MM:
        raise _on_a_line(first.layout)
    camera = camera_prior(width, height, focal_px)
    fits = _fit_one(Matched.of([first]), camera)
    plane = fits.plane(first.layout)
    joined, fits = join(fits, plane, others)
    if any(neighbour.joined for neighbour in joined):
        plane = fits.plane(first.layout)
    if plane.model != "limb" and not uncertainty_at_aim(plane, first.layout) <= _WORST_AREA_UNCERTAINTY:
        raise PlaneError(
            f"The '{first.layout.name}' sticker does not lie flat, or too little of it can be read: the photo's tilt "
            "is unknown. Smooth and uncover the sticker, and take the photo again."
        )
    return replace(plane, neighbours=joined)


def _on_a_line(layout: Layout) -> PlaneError:
    return PlaneError(
        f"The parts of the '{layout.name}' sticker that can be seen lie nearly on one line, so the photo's tilt is "
        "unknown. Uncover the sticker and take the photo again."
    )


@dataclass(frozen=True, eq=False)
class _Models:
    """The models fitted to the same points: a second pose where two are as likely, a limb where the sticker is bent."""

    free: Solution
    pose: Solution
    twin: Solution | None
    limb: Solution | None
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

    def _described(self, fit: Solution, model: Model) -> Plane:
        tilt = (self.limb or self.pose).tilt_deg
        twin = self.twin if model == "pose" else None
        return Plane(
            fit.projection, deviations(fit, twin), model, fit.saddle_rms(), tilt, fit.sigma_px, self.rejected_px
        )


def _fit_one(points: Matched, camera: CameraPrior) -> _Models:
    """Fit all models to the points of one sticker.

    Points that are left out in numbers are no accidents: the sticker is creased, and all of them say how much.
    """
    middle = points.mm[points.saddle].mean(axis=0)
    through = (float(middle[0]), float(middle[1]))
    free, keep = fit_free(points, Unknowns("homography", camera, 0, through))
    pose, twin = _fit_pose(points.where(keep), free)
    bent = fit_limb(points, free, pose, keep)
    if bent is None and 1 - keep.mean() > _CREASED_SHARE:
        free, keep = solve(free.unknowns, points, free.values), np.ones(len(keep), dtype=np.bool_)
        pose, twin = _fit_pose(points, free)
    if bent is None:
        return _Models(free, pose, twin, None, points.px[~keep])
    limb, keep = bent
    return _Models(free, pose, twin, limb, points.px[~keep])


def fit_free(points: Matched, unknowns: Unknowns) -> tuple[Solution, NDArray[np.bool_]]:
    """Fit the homography, and tell which points it keeps.

    Points that a robust fit leaves far off are dropped: the edge of a cover or of a shadow beside them moved them.
    """
    saddles = points.where(points.saddle)
    keep = np.ones(len(points.mm), dtype=np.bool_)
    robust = cv2.findHomography(saddles.mm, saddles.px, cv2.LMEDS)[0] if points.saddles >= _ENOUGH else np.empty(0)
    if np.size(robust) == 9:  # points on one line have none
        start = np.append((robust / robust[2, 2]).ravel()[:8], 0.0)
        keep = near(points, np.linalg.norm(unknowns.residuals(start, points).reshape(-1, 2), axis=1))
    for _ in range(OUTLIER_ROUNDS):
        plain = cv2.findHomography(points.mm[keep], points.px[keep], 0)[0]
        fit = solve(unknowns, points.where(keep), np.append((plain / plain[2, 2]).ravel()[:8], 0.0))
        before, keep = keep, near(points, fit.apart(points))
        if (keep == before).all():
            break
    return fit, before


def _fit_pose(points: Matched, free: Solution) -> tuple[Solution, Solution | None]:
    """Fit the camera's pose, from both poses that a small plane allows; the second one too where it may be right."""
    unknowns = replace(free.unknowns, kind="pose")
    starts = _pose_starts(points, free, float(free.values[free.unknowns.lens]))
    fits = [solve(unknowns, points, start, free.sigma_px) for start in starts]
    best, *rest = sorted(fits, key=lambda fit: fit.squares)
    near = [fit for fit in rest if fit.squares - best.squares < _POSE_LIMIT]
    return best, near[0] if near else None


def _pose_of(projection: Projection) -> NDArray[np.float64]:
    """Return the pose, six values, whose homography is nearest to one that no camera need have made."""
    camera = camera_matrix(projection.focal_px, projection.centre_px)
    first, second, shift = np.linalg.solve(camera, projection.homography).T
    size = float(np.sqrt(np.linalg.norm(first) * np.linalg.norm(second)))
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second) / size]))
    return np.concatenate([cv2.Rodrigues(left @ right)[0].ravel(), shift / size])


def _pose_starts(points: Matched, free: Solution, k1: float) -> list[NDArray[np.float64]]:
    """Poses as OpenCV's IPPE finds them (Collins and Bartoli 2014), or the nearest one where it finds none."""
    focal, centre = free.unknowns.camera.focal_px, free.unknowns.camera.centre_px
    matrix = camera_matrix(focal, centre)
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


def _stretch(pose: Solution, free: Solution) -> tuple[float, float]:
    """Return how much longer the layout's y is printed than its x, relative, and its standard uncertainty.

    A tilt shortens one direction too, but brings perspective with it; so the camera tells them apart. So the
    pose is fitted anew with the stretch as one more unknown, from the start where it does not fit as it is.
    """
    unknowns, points, sigma_px = pose.unknowns, pose.points, pose.sigma_px

    def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
        printed = replace(points, mm=points.mm * (1.0, np.exp(values[-1])))
        return np.concatenate([unknowns.residuals(values[:-1], printed) / sigma_px, unknowns.prior(values[:-1])])

    def by_unknown(values: NDArray[np.float64]) -> NDArray[np.float64]:
        printed = replace(points, mm=points.mm * (1.0, np.exp(values[-1])))
        known = np.vstack([slopes(unknowns, values[:-1], printed) / sigma_px, unknowns.prior_slopes()])
        step = np.append(np.zeros(len(values) - 1), _STRETCH_STEP)
        return np.column_stack([known, (misfit(values + step) - misfit(values - step)) / (2 * _STRETCH_STEP)])

    def fitted(start: NDArray[np.float64]) -> OptimizeResult:
        return least_squares(misfit, start, jac=by_unknown, method="lm", x_scale="jac", max_nfev=MOST_CALLS)

    if pose.squares - free.squares <= _POSE_LIMIT:
        solved = fitted(np.append(pose.values, 0.0))
    else:
        own = points.where(points.sticker == 0)
        placements = free.values[8 : free.unknowns.lens]
        starts = [np.append(np.insert(start, 7, placements), 0.0) for start in _pose_starts(own, free, k1=0.0)]
        solved = min(map(fitted, starts), key=lambda tried: float(tried.cost))
    covariance = inverse(solved.jac.T @ solved.jac)
    return float(np.expm1(solved.x[-1])), float(np.sqrt(covariance[-1, -1]))


def uncertainty_at_aim(plane: Plane, layout: Layout) -> float:
    """Relative standard uncertainty of the area of a disc where a wound is expected, if the skin is as was found."""
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    disc = plane.to_px(np.array(layout.aim) + _AIM_RADIUS_MM * np.column_stack([np.cos(angle), np.sin(angle)]))

    def log_area(moved: Projection) -> Points:
        points = moved.to_mm(disc)
        return np.array([np.log(Polygon(points).area) if np.isfinite(points).all() else np.nan])

    spreads = plane.propagate(log_area, ("point localisation", "lens"))
    return float(np.linalg.norm([spread[0] for spread in spreads.values()]))


def join(fits: _Models, plane: Plane, others: Sequence[Sticker]) -> tuple[tuple[Neighbour, ...], _Models]:
    """Fit the stickers together that lie in the plane of the first and have its size."""
    neighbours, points = [], (fits.limb or fits.free).points
    starts: list[NDArray[np.float64]] = []
    for other in others[:_MOST_NEIGHBOURS]:
        own = Matched.of([other])
        own = own.where(fit_free(own, fits.free.unknowns)[1])
        neighbour, placement = _placed_by(plane, own)
        neighbours.append(neighbour)
        if neighbour.joined:
            starts.append(placement)
            points = points.and_also(own, len(starts))
    if not starts:
        return tuple(neighbours), fits
    together = _fit_together(fits, points, np.concatenate(starts))
    if _agree(together, fits):
        return tuple(neighbours), together
    return tuple(replace(neighbour, joined=False) for neighbour in neighbours), fits


def _agree(together: _Models, alone: _Models) -> bool:
    """Tell whether the stickers, fitted together, leave about as little over as the first alone, in equal sizes."""
    fit, own = (models.limb or models.free for models in (together, alone))
    sizes = fit.values[fit.unknowns.sizes]
    steady = fit.sigma_px <= _STRAY_GROWTH * max(own.sigma_px, _STRAY_FLOOR_PX)
    return steady and bool((np.abs(sizes) <= _SIZE_SIGMAS * PRINT_SIGMA).all())


def _placed_by(plane: Plane, points: Matched) -> tuple[Neighbour, NDArray[np.float64]]:
    """Find where another sticker lies, how large it is, and whether it agrees with the plane."""
    saddles = points.where(points.saddle)
    on_skin = plane.to_mm(saddles.px)
    if not np.isfinite(on_skin).all():
        unknown = np.full(4, np.nan)
        return Neighbour(float("nan"), float("nan"), joined=False, placement=(0.0, 0.0, 0.0, 0.0)), unknown
    placement = _similarity(saddles.mm, on_skin)
    middle = saddles.px.mean(axis=0)
    doubt = plane.scale_uncertainty(middle)
    left = plane.to_px(moved(saddles.mm, placement)) - saddles.px
    apart = float(np.sqrt(np.square(left).sum(axis=1).mean()))
    size = float(np.exp(placement[3]) - 1)
    same = abs(size) <= OUTLIER_SIGMAS * np.hypot(doubt, PRINT_SIGMA)
    tolerated = max(_STRAY_FACTOR * plane.sigma_px, _STRAY_PX, doubt * float(np.ptp(saddles.px, axis=0).max()))
    turn, x, y, log_size = placement.tolist()
    return Neighbour(size, doubt, bool(same and apart <= tolerated), (turn, x, y, log_size)), placement


def _similarity(own_mm: Points, placed_mm: Points) -> NDArray[np.float64]:
    """Turn, shift and logarithm of size that take points to others in the least-squares sense (Umeyama 1991)."""
    own, placed = own_mm @ (1, 1j), placed_mm @ (1, 1j)
    away = own - own.mean()
    factor = np.vdot(away, placed - placed.mean()) / np.vdot(away, away)
    shift = placed.mean() - factor * own.mean()
    return np.array([np.angle(factor), shift.real, shift.imag, np.log(abs(factor))])


def _fit_together(fits: _Models, points: Matched, placements: NDArray[np.float64]) -> _Models:
    """Fit each model anew to the points of several stickers."""

    def again(fit: Solution, sigma_px: float | None) -> Solution:
        unknowns = replace(fit.unknowns, others=len(placements) // 4)
        start = np.insert(fit.values, fit.unknowns.lens, placements)
        return solve(unknowns, points, start, sigma_px)

    free = again(fits.free, None)
    limb = again(fits.limb, None) if fits.limb else None
    twin = again(fits.twin, free.sigma_px) if fits.twin else None
    return _Models(free, again(fits.pose, free.sigma_px), twin, limb, fits.rejected_px)
