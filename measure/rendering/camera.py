"""The camera: where it stands over the wound plane, and which pixel sees which millimetre.

The plane has x to the right, y down the photo and z into the body; the camera stands at negative z. Pixel centres lie
at whole numbers.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .limb import Limb

FULL_FRAME_DIAGONAL_MM = 43.267
"""Diagonal of 36 x 24 mm film, to which equivalent focal lengths refer."""

_HORIZON = 0.02  # of the distance: nearer to the horizon than that, the plane is held back


@dataclass(frozen=True)
class Camera:
    """Lens, sensor and standpoint.

    Attributes
    ----------
    width, height : int
        Pixels of the photo.
    focal_px : float, optional
        Focal length in pixels; without it that of a 26 mm equivalent, as in most telephones.
    distance_mm : float
        From the lens to the point aimed at.
    tilt_deg : float
        Angle between the optical axis and the normal of the plane.
    tilt_towards_deg : float
        Direction on the plane in which the camera stands off the normal; 0 is +x, 90 is +y.
    roll_deg : float
        Turn of the camera about its axis.
    aim_mm : tuple of float, optional
        Point of the plane in the middle of the photo; without it the middle of wound and stickers.
    k1 : float
        Radial distortion: a point at r (in focal lengths) is imaged at r (1 + k1 r^2).
    """

    width: int = 4032
    height: int = 3024
    focal_px: float | None = None
    distance_mm: float = 300.0
    tilt_deg: float = 10.0
    tilt_towards_deg: float = 90.0
    roll_deg: float = 0.0
    aim_mm: tuple[float, float] | None = None
    k1: float = 0.0

    @property
    def focal(self) -> float:
        """Focal length in pixels."""
        return self.focal_px or 26.0 / FULL_FRAME_DIAGONAL_MM * float(np.hypot(self.width, self.height))

    @property
    def focal_35mm(self) -> float:
        """Focal length in mm on 36 x 24 mm film with the same diagonal angle of view."""
        return self.focal * FULL_FRAME_DIAGONAL_MM / float(np.hypot(self.width, self.height))


@dataclass(frozen=True)
class View:
    """A camera aimed at a point of the plane, or of the limb that touches it; mm on a limb are unrolled."""

    camera: Camera
    aim_mm: tuple[float, float]
    limb: Limb | None = None

    @cached_property
    def rotation(self) -> NDArray[np.float64]:
        """Rotation from plane axes to camera axes, shape (3, 3)."""
        tilt, towards = np.radians((self.camera.tilt_deg, self.camera.tilt_towards_deg))
        lean = _about_z(towards) @ _about_y(-tilt) @ _about_z(-towards)
        return np.asarray(_about_z(np.radians(-self.camera.roll_deg)) @ lean.T)

    @cached_property
    def standpoint(self) -> NDArray[np.float64]:
        """Centre of the lens in mm, shape (3,)."""
        axis = self.rotation[2]
        aim = np.array([*self.aim_mm, 0.0]) if self.limb is None else self.limb.place(np.array([self.aim_mm]))[0]
        return np.asarray(aim - self.camera.distance_mm * axis)

    def homography(self, lift_mm: float = 0.0) -> NDArray[np.float64]:
        """Return the 3 x 3 matrix from mm on the plane, or on one ``lift_mm`` above it, to undistorted pixels."""
        camera = self.camera
        inner = np.array(
            [[camera.focal, 0, (camera.width - 1) / 2], [0, camera.focal, (camera.height - 1) / 2], [0, 0, 1]]
        )
        shift = self.rotation @ (np.array([0.0, 0.0, -lift_mm]) - self.standpoint)
        matrix = inner @ np.column_stack([self.rotation[:, :2], shift])
        return np.asarray(matrix / matrix[2, 2])

    def project(self, points_mm: NDArray[np.float64], lift_mm: float = 0.0) -> NDArray[np.float64]:
        """Return photo pixels, shape (N, 2), of points in mm, shape (N, 2), with lens distortion."""
        if self.limb is not None:
            return self._distorted(self._pinhole(self.limb.place(points_mm, lift_mm)))
        seen = np.column_stack([points_mm, np.ones(len(points_mm))]) @ self.homography(lift_mm).T
        return self._distorted(seen[:, :2] / seen[:, 2:])

    def px_per_mm(self, point_mm: NDArray[np.float64]) -> float:
        """Return the scale at a point: square root of the area in pixels of one mm2."""
        corners = np.asarray(point_mm) + np.array([(0, 0), (0.1, 0), (0, 0.1)])
        origin, right, down = self.project(corners)
        return 10.0 * float(np.sqrt(abs(np.linalg.det(np.stack([right - origin, down - origin])))))

    def millimetres(
        self, columns: NDArray[np.float64], rows: NDArray[np.float64], lift_mm: float = 0.0
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return x and y in mm seen by each pixel of a raster given by its columns (W,) and rows (H,).

        Beyond the horizon the plane is continued by points far away, beside a limb by points behind it.
        """
        u, v = self._undistorted(columns[None, :], rows[:, None])
        if self.limb is not None:
            x, y = self.limb.unrolled(self.standpoint, self._rays(u, v), lift_mm)
            return x.astype(np.float32), y.astype(np.float32)
        back = np.linalg.inv(self.homography(lift_mm))
        back /= back[2] @ np.array([(self.camera.width - 1) / 2, (self.camera.height - 1) / 2, 1.0])
        x, y, w = (row[0] * u + row[1] * v + row[2] for row in back)
        w = np.maximum(w, _HORIZON)
        return (x / w).astype(np.float32), (y / w).astype(np.float32)

    @property
    def _centre(self) -> tuple[float, float]:
        return (self.camera.width - 1) / 2, (self.camera.height - 1) / 2

    def _pinhole(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return undistorted pixels, shape (N, 2), of points in space, shape (N, 3)."""
        seen = (points - self.standpoint) @ self.rotation.T
        return self._centre + self.camera.focal * seen[:, :2] / seen[:, 2:]

    def _rays(self, u: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Return the directions in x, y and z in which undistorted pixels look."""
        x, y = (u - self._centre[0]) / self.camera.focal, (v - self._centre[1]) / self.camera.focal
        return tuple(right * x + down * y + ahead for right, down, ahead in self.rotation.T)

    def _distorted(self, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
        if self.camera.k1 == 0.0:
            return pixels
        centre = np.array([(self.camera.width - 1) / 2, (self.camera.height - 1) / 2])
        offset = (pixels - centre) / self.camera.focal
        return np.asarray(centre + (pixels - centre) * (1 + self.camera.k1 * (offset**2).sum(axis=1, keepdims=True)))

    def _undistorted(
        self, u: NDArray[np.float64], v: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Invert the distortion by Newton steps on the radius."""
        k1 = self.camera.k1
        if k1 == 0.0:
            return u, v
        x, y = u - (self.camera.width - 1) / 2, v - (self.camera.height - 1) / 2
        seen = np.hypot(x, y) / self.camera.focal
        radius = seen
        for _ in range(5):
            radius = radius - (radius * (1 + k1 * radius**2) - seen) / (1 + 3 * k1 * radius**2)
        ratio = 1 / (1 + k1 * radius**2)
        return x * ratio + (self.camera.width - 1) / 2, y * ratio + (self.camera.height - 1) / 2


def _about_z(angle: float) -> NDArray[np.float64]:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _about_y(angle: float) -> NDArray[np.float64]:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
