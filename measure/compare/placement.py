"""A rigid move on the skin, by which one visit's wound plane is laid on another's."""

from dataclasses import dataclass

import numpy as np
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from calibration.projection import Matrix
from calibration.sticker import Points


@dataclass(frozen=True)
class Placement:
    """A turn, then a shift; nothing is stretched.

    Attributes
    ----------
    turn_deg : float
        Clockwise as it is looked at (y is down).
    shift_mm : tuple of two float
        To the right and down, of what lay at the origin.
    """

    turn_deg: float = 0.0
    shift_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def _turn(self) -> Matrix:
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return np.array([[c, -s], [s, c]])

    def moved(self, points_mm: Points) -> Points:
        """Move points (N, 2)."""
        return np.asarray(points_mm @ self._turn.T + np.array(self.shift_mm))

    def back(self, points_mm: Points) -> Points:
        """Move points (N, 2) back to where they came from."""
        return np.asarray((points_mm - np.array(self.shift_mm)) @ self._turn)

    def of(self, shape: Polygon) -> Polygon:
        """Move a shape."""
        return affine_transform(shape, [*self._turn.ravel().tolist(), *self.shift_mm])

    def then(self, following: "Placement") -> "Placement":
        """Return this move and another one after it as one."""
        x, y = following.moved(np.array([self.shift_mm]))[0].tolist()
        return Placement(within_half(self.turn_deg + following.turn_deg), (x, y))


def about(middle_mm: Points, turn_deg: float, shift_mm: Points) -> Placement:
    """Return the move that turns about a point (2,), which itself only shifts."""
    turned = Placement(turn_deg).moved(middle_mm[None])[0]
    x, y = (middle_mm + shift_mm - turned).tolist()
    return Placement(within_half(turn_deg), (x, y))


def within_half(turn_deg: float) -> float:
    """Return the same turn between -180 and 180 degrees."""
    return float((turn_deg + 180) % 360 - 180)
