"""How millimetres on the skin become pixels of the photo, and back: a flat or a bent surface, seen through a lens.

Points on the skin are *unrolled* millimetres: on a limb, lengths along its surface. Paper on a cylinder bends
without stretching, so the layout's own millimetres stay true there, and so do areas and perimeters of polygons in them.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from calibration.sticker import Points

Matrix = NDArray[np.float64]

_NEWTON_STEPS = 5  # of the lens's radius: k1 of 0.05 at the corner of a wide photo is exact to 1e-9 after 4
_FOLD = 2 / (3 * np.sqrt(3))  # largest r (1 + k1 r**2), times the root of -k1
_LEAST_DISCRIMINANT = 1e-6  # of a ray that grazes the limb: beyond it, it misses


def project(homography: Matrix, points: Points) -> Points:
    """Map points of shape (N, 2) through a homography (3, 3)."""
    mapped = points @ homography[:, :2].T + homography[:, 2]
    return mapped[:, :2] / mapped[:, 2:]


@dataclass(frozen=True)
class Bend:
    """A cylinder that touches the wound plane along a line.

    Attributes
    ----------
    curvature : float
        1 / radius in 1/mm; positive where the skin falls away from the camera on both sides of the line.
    axis_deg : float
        Direction of the line on the layout, from x towards y.
    through_mm : tuple of float
        A point of the line.
    """

    curvature: float
    axis_deg: float
    through_mm: tuple[float, float]

    @property
    def axes(self) -> tuple[Points, Points]:
        """Unit vectors (2,) along the axis and round the limb."""
        angle = np.radians(self.axis_deg)
        return np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])

    def rolled(self, points_mm: Points) -> tuple[Points, Matrix]:
        """Return unrolled points (N, 2) as places over the tangent plane (N, 2) and depths behind it (N,), in mm."""
        _, around = self.axes
        arc = (points_mm - self.through_mm) @ around
        half = self.curvature * arc / 2
        chord = arc * np.sinc(half / np.pi)
        depth = self.curvature * chord**2 / 2
        return points_mm + (chord * np.cos(half) - arc)[:, None] * around, depth

    def met(self, at_plane_mm: Points, slope: Points) -> Points:
        """Return where rays meet the cylinder, unrolled, shape (N, 2); NaN where they miss it.

        A ray is at ``at_plane_mm + slope * depth``, both of shape (N, 2).
        """
        along, around = self.axes
        away = at_plane_mm - np.array(self.through_mm)
        first, growth, k = away @ around, slope @ around, self.curvature
        middle = 1 - k * first * growth
        discriminant = middle**2 - k**2 * first**2 * (1 + growth**2)
        root = np.sqrt(np.where(discriminant > _LEAST_DISCRIMINANT, discriminant, np.nan))
        depth = k * first**2 / (middle + root)
        turn = np.arctan2(k * (first + growth * depth), 1 - k * depth)
        arc = turn / k
        lengthwise = away @ along + (slope @ along) * depth
        met: Points = np.outer(lengthwise, along) + np.outer(arc, around) + np.array(self.through_mm)
        return met

    def turn_deg(self, points_mm: Points) -> NDArray[np.float64]:
        """Return by how much the skin has turned at points (N, 2) from where the cylinder touches the plane."""
        _, around = self.axes
        turn: NDArray[np.float64] = np.degrees(self.curvature * ((points_mm - np.array(self.through_mm)) @ around))
        return turn


@dataclass(frozen=True, eq=False)
class Projection:
    """How millimetres on the skin become pixels of the photo.

    Attributes
    ----------
    homography : ndarray of shape (3, 3)
        From mm of the sticker's layout, on the tangent plane, to px of a lens without distortion; last element 1.
    focal_px : float
        Focal length; it only matters where something lies out of the plane.
    centre_px : tuple of float
        The middle of the picture, taken for the lens's axis.
    k1 : float
        Radial distortion: a point at r focal lengths from the middle is seen at r (1 + k1 r**2).
    bend : Bend or None
        The limb, where the skin is not flat.
    """

    homography: Matrix
    focal_px: float
    centre_px: tuple[float, float]
    k1: float = 0.0
    bend: Bend | None = None

    def to_px(self, points_mm: Points) -> Points:
        """Map points (N, 2) on the skin, in mm, to the photo."""
        if self.bend is None:
            return self._distorted(project(self.homography, points_mm))
        places, depth = self.bend.rolled(points_mm)
        seen = places @ self.homography[:, :2].T + self.homography[:, 2] + depth[:, None] * self.depth
        return self._distorted(seen[:, :2] / seen[:, 2:])

    def to_mm(self, points_px: Points) -> Points:
        """Map points (N, 2) of the photo to the skin, in mm; NaN where a limb is not seen."""
        back = np.column_stack([self._undistorted(points_px), np.ones(len(points_px))]) @ self._inverse.T
        at_plane: Points = back[:, :2] / back[:, 2:]
        if self.bend is None:
            return at_plane
        away = self._inverse @ self.depth
        return self.bend.met(at_plane, away[2] * at_plane - away[:2])

    def sees(self, points_px: Points) -> bool:
        """Tell whether all points (N, 2) of the photo show the near side of the skin, this side of its horizon."""
        undistorted = np.column_stack([self._undistorted(points_px), np.ones(len(points_px))])
        return bool((undistorted @ self._inverse[2] > 0).all() and np.isfinite(self.to_mm(points_px)).all())

    def mm_per_px(self, point_px: Points) -> float:
        """Millimetres a pixel at a point (2,): the square root of the area that one pixel covers; NaN off the skin."""
        step = 0.5 * np.array([(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)])
        left, right, top, bottom = self.to_mm(np.asarray(point_px, dtype=np.float64) + step)
        if not np.isfinite([left, right, top, bottom]).all():
            return float("nan")
        return float(np.sqrt(abs(np.linalg.det(np.column_stack([right - left, bottom - top])))))

    def px_steps(self, points_mm: Points, step_mm: float) -> Matrix:
        """Return what ``step_mm`` along x and y is in px at each point: shape (N, 2, 2), columns are the steps."""
        halves = step_mm / 2 * np.eye(2)
        x, y = (self.to_px(points_mm + half) - self.to_px(points_mm - half) for half in halves)
        return np.stack([x, y], axis=2)

    def deeper(self, depth_mm: float) -> "Projection":
        """Return the projection of a surface that lies farther from the camera, or nearer where negative.

        On a limb it is a cylinder round the same axis, whose radius is as much smaller.
        """
        homography = self.homography.copy()
        homography[:, 2] += depth_mm * self.depth
        bend = self.bend and replace(self.bend, curvature=self.bend.curvature / (1 - self.bend.curvature * depth_mm))
        return replace(self, homography=homography / homography[2, 2], bend=bend)

    @cached_property
    def depth(self) -> Matrix:
        """How the homogeneous pixel grows a mm behind the plane, shape (3,).

        The columns of a homography are those of a camera matrix times a rotation, so its third one follows from them.
        """
        (x, y), focal = self.centre_px, self.focal_px
        (a, b), (c, d), (e, f) = self.homography[:, :2].tolist()  # plain numbers: a fit asks for this at every step
        a, b, c, d = (a - x * e) / focal, (b - x * f) / focal, (c - y * e) / focal, (d - y * f) / focal
        size = math.sqrt(math.hypot(a, c, e) * math.hypot(b, d, f))
        across, down, ahead = (c * f - e * d) / size, (e * b - a * f) / size, (a * d - c * b) / size
        return np.array([focal * across + x * ahead, focal * down + y * ahead, ahead])

    @cached_property
    def _inverse(self) -> Matrix:
        """Inverse of the homography, positive in its last row where the sticker is."""
        return np.asarray(np.linalg.inv(self.homography), dtype=np.float64)

    def _distorted(self, points: Points) -> Points:
        if self.k1 == 0.0:
            return points
        away = points - self.centre_px
        growth = self.k1 / self.focal_px**2 * np.einsum("ij,ij->i", away, away)
        distorted: Points = points + growth[:, None] * away
        return distorted

    def _undistorted(self, points_px: Points) -> Points:
        """Invert the distortion by Newton steps on the radius."""
        if self.k1 == 0.0:
            return points_px
        away = points_px - np.array(self.centre_px)
        seen = np.linalg.norm(away, axis=1, keepdims=True) / self.focal_px
        if self.k1 < 0:  # beyond where the radial law turns back, nothing is seen
            seen = np.where(seen < _FOLD / np.sqrt(-self.k1), seen, np.nan)
        radius = seen
        for _ in range(_NEWTON_STEPS):
            radius = radius - (radius * (1 + self.k1 * radius**2) - seen) / (1 + 3 * self.k1 * radius**2)
        undistorted: Points = np.array(self.centre_px) + away / (1 + self.k1 * radius**2)
        return undistorted
