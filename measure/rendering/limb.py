"""A limb: skin, wound and stickers lie on a cylinder instead of on a plane.

Everything on the surface keeps two coordinates in mm, as if the skin were unrolled: straight along the limb, and along
the arc round it. The plane z = 0 touches the cylinder along one line; there both coincide.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .raster import Picture

Points = NDArray[np.float64]

_AMBIENT = 0.45
_SHADOW_MM = 15.0  # over which the limb's shadow on what lies behind it fades
_LIGHT_HEIGHT = 2.0  # of the light above the plane, relative to its sideways reach
_WIDEST_MM = 380.0  # half the width of skin that is painted, within reach of the ground's picture
_FARTHEST_MM = 1e4


@dataclass(frozen=True)
class Limb:
    """A cylinder that curves away from the camera.

    Attributes
    ----------
    radius_mm : float
        Of the skin; what is lifted lies on a wider cylinder round the same axis.
    axis_deg : float
        Direction of the limb on the plane; 0 is +x, 90 is +y.
    through_mm : tuple of float
        A point of the line along which the plane touches it.
    """

    radius_mm: float
    axis_deg: float = 0.0
    through_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def axes(self) -> Points:
        """Unit vectors on the plane along the limb and across it, as rows."""
        c, s = np.cos(np.radians(self.axis_deg)), np.sin(np.radians(self.axis_deg))
        return np.array([[c, s], [-s, c]])

    @property
    def edge_mm(self) -> float:
        """Arc from the line of contact to where the painted skin ends: the far side of the limb."""
        return min(np.pi * self.radius_mm, _WIDEST_MM)

    def place(self, points_mm: Points, lift_mm: float = 0.0) -> Points:
        """Return points in space, shape (N, 3), of unrolled points, shape (N, 2).

        The arc is that on the surface itself: paper above the skin is not stretched.
        """
        along, arc = ((np.asarray(points_mm) - self.through_mm) @ self.axes.T).T
        angle = arc / (self.radius_mm + lift_mm)
        across = (self.radius_mm + lift_mm) * np.sin(angle)
        depth = 2 * self.radius_mm * np.sin(angle / 2) ** 2 - lift_mm * np.cos(angle)
        return np.column_stack([np.column_stack([along, across]) @ self.axes + self.through_mm, depth])

    def unrolled(self, start: Points, rays: Sequence[Points], lift_mm: float = 0.0) -> tuple[Points, Points]:
        """Return the unrolled x and y at which rays first meet the limb.

        Parameters
        ----------
        start : ndarray, shape (3,)
            Where all rays start, outside the limb.
        rays : sequence of three ndarrays
            Directions in x, y and z.
        lift_mm : float
            Height above the skin.

        Returns
        -------
        tuple of two ndarrays
            In mm. A ray that misses continues beyond the limb's far side by the distance at which it passes.
        """
        radius, (along, across) = self.radius_mm, self.axes
        from_line = start[:2] - self.through_mm
        offset, height = float(from_line @ across), float(start[2])
        sideways = rays[0] * across[0] + rays[1] * across[1]
        square = np.maximum(sideways**2 + rays[2] ** 2, 1e-12)
        approach = sideways * offset + rays[2] * (height - radius)
        rest = offset**2 + height * (height - 2 * radius) - lift_mm * (2 * radius + lift_mm)
        inside = approach**2 - square * rest  # of the quadratic square t2 + 2 approach t + rest = 0
        hit = (inside >= 0) & (approach < 0)
        first = rest / np.maximum(np.abs(approach) + np.sqrt(np.maximum(inside, 0)), 1e-12)
        reach = np.clip(np.where(hit, first, -approach / square), 0, _FARTHEST_MM)
        angle = np.arctan2(offset + reach * sideways, radius - height - reach * rays[2])
        passing = ((radius - height) * sideways + offset * rays[2]) / np.sqrt(square)
        beyond = np.sign(passing) * (self.edge_mm + np.abs(passing) - radius - lift_mm)
        straight = float(from_line @ along) + reach * (rays[0] * along[0] + rays[1] * along[1])
        arc = np.where(hit, (radius + lift_mm) * angle, beyond)
        x, y = (self.through_mm[i] + straight * along[i] + arc * across[i] for i in (0, 1))
        return x, y

    def depth(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return mm inside the painted skin at unrolled points; negative for what lies behind the limb."""
        return np.asarray(self.edge_mm - np.abs(self._arc(x_mm, y_mm)), np.float32)

    def shade(self, x_mm: Picture, y_mm: Picture, light: tuple[float, float]) -> Picture:
        """Return the light on the curved skin relative to that on the plane (Lambert's cosine law).

        Behind the limb it grows back to 1, so that no bright seam shows along its sides.
        """
        arc = self._arc(x_mm, y_mm)
        angle = arc / self.radius_mm
        towards = float(self.axes[1] @ light) / _LIGHT_HEIGHT
        facing = np.maximum(np.cos(angle) + towards * np.sin(angle), 0)
        behind = 1 - (1 - _AMBIENT) * np.exp(-np.maximum(np.abs(arc) - self.edge_mm, 0) / _SHADOW_MM)
        shade = np.where(np.abs(arc) < self.edge_mm, _AMBIENT + (1 - _AMBIENT) * facing, behind)
        return shade.astype(np.float32)

    def _arc(self, x_mm: Picture, y_mm: Picture) -> Picture:
        across = self.axes[1]
        return np.asarray((x_mm - self.through_mm[0]) * across[0] + (y_mm - self.through_mm[1]) * across[1])
