"""Marks of closed skin that are no wound: moles, redness, bruises, scars and thick skin."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from . import field as noise
from .raster import Picture
from .sensor import decoded
from .skin import new_skin, tone

_LOSS: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "mole": (0.9, 1.5, 1.9),
        "redness": (0.14, 0.85, 0.70),
        "bruise": (0.70, 1.00, 0.65),
    }
)
"""Loss of log reflectance in linear red, green and blue at full strength: by melanin, by blood near and below."""

_THICK = decoded((214, 190, 140)).astype(np.float32)
_SOFTNESS: Mapping[str, float] = MappingProxyType(
    {"mole": 0.25, "redness": 0.9, "bruise": 1.1, "scar": 0.25, "thick skin": 0.45}
)
"""How far the edge spreads, as a share of the mark's size."""

MARKS = tuple(_SOFTNESS)


@dataclass(frozen=True)
class Mark:
    """A mark on the skin.

    Attributes
    ----------
    kind : str
        One of `MARKS`.
    at_mm : tuple of float
        Its middle on the plane.
    length_mm, width_mm, turn_deg : float
        Its size along its own axes, and their turn.
    strength : float
        0 to 1.
    """

    kind: str
    at_mm: tuple[float, float]
    length_mm: float
    width_mm: float
    turn_deg: float = 0.0
    strength: float = 1.0

    def paint(self, linear: Picture, x_mm: Picture, y_mm: Picture, ita_deg: float, random: np.random.Generator) -> None:
        """Colour the reflectance of skin of this typology angle at points of the plane, in place."""
        share = self.strength * self._share(x_mm, y_mm, random)
        if self.kind in _LOSS:
            linear *= np.exp(-share[..., None] * np.array(_LOSS[self.kind], np.float32))
            return
        old = tone(ita_deg)
        new = new_skin(old) if self.kind == "scar" else _THICK * min(1.0, 0.3 + float(old[0]))
        linear += 0.9 * share[..., None] * (new - linear)

    def _share(self, x_mm: Picture, y_mm: Picture, random: np.random.Generator) -> Picture:
        """Return how strongly each point is marked, 0 to 1."""
        angle = np.radians(self.turn_deg)
        x, y = x_mm - np.float32(self.at_mm[0]), y_mm - np.float32(self.at_mm[1])
        along = (x * np.cos(angle) + y * np.sin(angle)) / (self.length_mm / 2)
        across = (y * np.cos(angle) - x * np.sin(angle)) / (self.width_mm / 2)
        pixel = max(float(np.abs(x_mm[0, -1] - x_mm[0, 0])) / x_mm.shape[1], 0.02)
        wobble = noise.fractal(x_mm.shape, max(0.7 * self.width_mm / pixel, 4.0), 3, random)
        depth = 1 - np.hypot(along, across) + 0.14 * wobble
        return np.asarray(np.clip(depth / _SOFTNESS[self.kind] + 0.3, 0, 1) * np.clip(0.85 + 0.12 * wobble, 0, 1))
