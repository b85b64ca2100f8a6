"""What a wound leaves on gauze: blood, old or fresh, and exudate."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from . import field as noise
from .raster import Picture, Raster
from .sensor import decoded

_COLOURS: Mapping[str, tuple[int, int, int]] = MappingProxyType(
    {"fresh blood": (138, 22, 24), "old blood": (98, 50, 34), "thin blood": (206, 122, 110), "exudate": (206, 184, 112)}
)

STAINS = tuple(_COLOURS)


@dataclass(frozen=True)
class Stain:
    """A stain round a point of the plane.

    Attributes
    ----------
    kind : str
        One of `STAINS`.
    at_mm : tuple of float
        Its middle.
    size_mm : float
        Its usual diameter.
    """

    kind: str
    at_mm: tuple[float, float]
    size_mm: float

    def soak(self, colour: Picture, raster: Raster, random: np.random.Generator) -> None:
        """Stain a cloth's linear colour, shape (H, W, 3), in place: its threads stay visible, its rim is darker."""
        x, y = raster.axes()
        away = np.hypot(x - np.float32(self.at_mm[0]), y - np.float32(self.at_mm[1])) / (self.size_mm / 2)
        size = 0.5 * self.size_mm * raster.px_per_mm
        depth = 1 - away + 0.22 * noise.fractal(raster.shape, size, 4, random, decay=0.6)
        soaked = np.clip(depth / 0.2 + 0.5, 0, 1)
        patchy = np.clip(0.78 + 0.16 * noise.fractal(raster.shape, 0.6 * size, 3, random), 0.25, 1)
        rim = np.exp(-((depth - 0.08) ** 2) / 0.008)
        strength = soaked * np.clip(patchy + 0.2 * rim, 0, 1) * 0.95
        dye = decoded(_COLOURS[self.kind]).astype(np.float32)
        threads = colour.mean(axis=2, keepdims=True) / max(float(colour.mean()), 1e-6)
        colour += strength[..., None] * (dye * threads - colour)
