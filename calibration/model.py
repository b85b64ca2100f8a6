"""What is fitted: matched points, what is known of the camera beforehand, and the unknowns of each model."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.detect import Sticker
from calibration.plane import default_focal_px
from calibration.projection import Bend, Matrix, Projection
from calibration.sticker import Points

Kind = Literal["pose", "homography", "limb"]

LENS_SIGMA = 0.03
"""Standard deviation of k1 of a phone. The main lenses of seven phones in the profiles of the project lensfun have
-0.016 to +0.032, before the phone straightens the picture."""

UNKNOWN_LENS_SIGMA = 0.1
"""The same for a camera that doesn't tell its focal length: two webcams measured with a chessboard had -0.25."""

PRINT_SIGMA = 0.004
"""Relative standard deviation of the size of one sticker against another: each print may be 0.5 % off, rectangular."""

FOCAL_SIGMA = 0.05
"""Relative standard deviation of a focal length from EXIF: rounding to whole mm, autofocus, and cropping for video
stabilisation stay within about 5 % on phones (common experience; no published figure)."""

_UNKNOWN_FOCAL_SIGMA = 0.35
"""Without EXIF: 19 to 38 mm, 35 mm equivalent, within one standard deviation."""

UNSEEN_CURVATURE = 1 / 80
"""Standard deviation of 1 / radius, in 1/mm, before the sticker is looked at: limbs have radii of 40 to 120 mm."""

FOCAL_SLOT = 6
"""Where the logarithm of the focal length stands among the unknowns of a pose."""


@dataclass(frozen=True, eq=False)
class Matched:
    """Matched points: (N, 2) in mm of their layout and in px, relative sigma (N,), which are saddles, and whose."""

    mm: Points
    px: Points
    sigma: NDArray[np.float64]
    saddle: NDArray[np.bool_]
    sticker: NDArray[np.intp]

    @classmethod
    def of(cls, stickers: Sequence[Sticker]) -> "Matched":
        """Return the points of stickers, each with its sticker's number."""
        counts = [len(sticker.points_mm) for sticker in stickers]
        return cls(
            np.concatenate([sticker.points_mm for sticker in stickers]),
            np.concatenate([sticker.points_px for sticker in stickers]),
            np.concatenate([sticker.weight_sigma for sticker in stickers]),
            np.concatenate([np.arange(len(sticker.points_mm)) < sticker.saddles for sticker in stickers]),
            np.repeat(np.arange(len(stickers)), counts),
        )

    def where(self, keep: NDArray[np.bool_]) -> "Matched":
        """Return the points for which ``keep`` (N,) is true."""
        return Matched(self.mm[keep], self.px[keep], self.sigma[keep], self.saddle[keep], self.sticker[keep])

    def and_also(self, other: "Matched", number: int) -> "Matched":
        """Return these points and another sticker's, which gets a number."""
        return Matched(
            np.concatenate([self.mm, other.mm]),
            np.concatenate([self.px, other.px]),
            np.concatenate([self.sigma, other.sigma]),
            np.concatenate([self.saddle, other.saddle]),
            np.concatenate([self.sticker, np.full(len(other.mm), number)]),
        )

    @property
    def saddles(self) -> int:
        """How many of the points are saddle points."""
        return int(self.saddle.sum())


@dataclass(frozen=True)
class CameraPrior:
    """What is known before the points are looked at: middle of the photo, focal length and lens with their sigmas."""

    centre_px: tuple[float, float]
    focal_px: float
    focal_sigma: float
    lens_sigma: float


def camera_prior(width: int, height: int, focal_px: float | None) -> CameraPrior:
    """Return what is known of the camera of a photo of this size; ``focal_px`` as far as its file tells it."""
    centre = ((width - 1) / 2, (height - 1) / 2)
    if focal_px is not None:
        return CameraPrior(centre, focal_px, FOCAL_SIGMA, LENS_SIGMA)
    return CameraPrior(centre, default_focal_px(width, height), _UNKNOWN_FOCAL_SIGMA, UNKNOWN_LENS_SIGMA)


@dataclass(frozen=True)
class Unknowns:
    """The order of a model's unknowns.

    First its shape (pose: rotation vector, translation in mm, logarithm of the focal length; homography: eight
    elements), then four for each further sticker (turn, shift in mm, logarithm of the print's size), then the lens's
    k1, then curvature and direction of a limb.
    """

    kind: Kind
    camera: CameraPrior
    others: int
    through_mm: tuple[float, float]

    @property
    def _shape(self) -> int:
        return 8 if self.kind == "homography" else 7

    @property
    def lens(self) -> int:
        """Where k1 stands."""
        return self._shape + 4 * self.others

    @property
    def sizes(self) -> NDArray[np.intp]:
        """Where the logarithms of the further stickers' sizes stand."""
        return self._shape + 3 + 4 * np.arange(self.others)

    def projection(self, values: NDArray[np.float64]) -> Projection:
        """Return the projection that the unknowns stand for."""
        camera, k1 = self.camera, float(values[self.lens])
        if self.kind == "homography":
            return Projection(np.append(values[:8], 1.0).reshape(3, 3), camera.focal_px, camera.centre_px, k1)
        focal = float(np.exp(values[FOCAL_SLOT]))
        homography = _pose_homography(values[:6], focal, camera.centre_px)
        return Projection(homography, focal, camera.centre_px, k1, self.bend(values))

    def bend(self, values: NDArray[np.float64]) -> Bend | None:
        """Return the limb; None where the skin is flat."""
        if self.kind != "limb":
            return None
        curvature, axis = values[self.lens + 1 :]
        return Bend(float(curvature), float(np.degrees(axis)), self.through_mm)

    def placed(self, values: NDArray[np.float64], points: Matched) -> Points:
        """Return the points (N, 2) in mm of the first sticker's layout."""
        mm = points.mm.copy()
        for number in range(1, self.others + 1):
            own = points.sticker == number
            mm[own] = moved(points.mm[own], values[self._placement(number)])
        return mm

    def placed_by(self, values: NDArray[np.float64], points: Matched) -> NDArray[np.float64]:
        """Return how `placed` changes with each unknown of the further stickers, shape (4 others, N, 2)."""
        changes = np.zeros((4 * self.others, len(points.mm), 2))
        for number in range(1, self.others + 1):
            own = points.sticker == number
            turn, _, _, size = values[self._placement(number)]
            from_middle = moved(points.mm[own], np.array([turn, 0.0, 0.0, size]))
            first = 4 * (number - 1)
            changes[first, own] = np.column_stack([-from_middle[:, 1], from_middle[:, 0]])
            changes[first + 1, own], changes[first + 2, own] = (1.0, 0.0), (0.0, 1.0)
            changes[first + 3, own] = from_middle
        return changes

    def _placement(self, number: int) -> slice:
        first = self._shape + 4 * (number - 1)
        return slice(first, first + 4)

    def residuals(self, values: NDArray[np.float64], points: Matched) -> NDArray[np.float64]:
        """Weighted differences in px, shape (2 N,)."""
        seen = self.projection(values).to_px(self.placed(values, points))
        return np.asarray(((seen - points.px) / points.sigma[:, None]).ravel(), dtype=np.float64)

    def prior(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far the unknowns are from what is known beforehand, in standard deviations."""
        held = [values[self.lens] / self.camera.lens_sigma]
        if self.kind != "homography":
            held.append((values[FOCAL_SLOT] - np.log(self.camera.focal_px)) / self.camera.focal_sigma)
        if self.kind == "limb":
            held.append(values[self.lens + 1] / UNSEEN_CURVATURE)
        held += [values[self._placement(number)][3] / PRINT_SIGMA for number in range(1, self.others + 1)]
        return np.array(held)

    def prior_slopes(self) -> Matrix:
        """Return how `prior` changes with each unknown, one row for each of its values."""
        held = [(self.lens, self.camera.lens_sigma)]
        if self.kind != "homography":
            held.append((FOCAL_SLOT, self.camera.focal_sigma))
        if self.kind == "limb":
            held.append((self.lens + 1, UNSEEN_CURVATURE))
        held += [(int(slot), PRINT_SIGMA) for slot in self.sizes]
        count = self.lens + (3 if self.kind == "limb" else 1)
        slopes = np.zeros((len(held), count))
        for row, (slot, sigma) in enumerate(held):
            slopes[row, slot] = 1 / sigma
        return slopes


def moved(points_mm: Points, placement: NDArray[np.float64]) -> Points:
    """Turn, scale and shift points (N, 2)."""
    turn, x, y, size = placement
    c, s = np.exp(size) * np.cos(turn), np.exp(size) * np.sin(turn)
    moved: Points = points_mm @ np.array([(c, s), (-s, c)]) + (x, y)
    return moved


def camera_matrix(focal_px: float, centre_px: tuple[float, float]) -> Matrix:
    """Return the matrix (3, 3) of a pinhole camera with square pixels."""
    return np.array([(focal_px, 0.0, centre_px[0]), (0.0, focal_px, centre_px[1]), (0.0, 0.0, 1.0)])


def _pose_homography(pose: NDArray[np.float64], focal: float, centre: tuple[float, float]) -> Matrix:
    """Homography of a pinhole camera: rotation vector (3), translation in mm (3)."""
    seen = cv2.Rodrigues(pose[:3])[0]
    seen[:, 2] = pose[3:6]
    homography = camera_matrix(focal, centre) @ seen
    return np.asarray(homography / homography[2, 2], dtype=np.float64)
