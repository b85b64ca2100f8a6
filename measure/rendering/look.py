"""The look of a camera: how it mixes and bends the colours of linear light before it writes them as sRGB."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from .raster import Picture

_STEPS = 4096
_LUMA = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB (IEC 61966-2-1)

Matrix = tuple[tuple[float, float, float], ...]


@dataclass(frozen=True)
class Look:
    """What a camera does to linear light once it is exposed.

    Attributes
    ----------
    matrix : tuple of tuple of float
        From red, green and blue to red, green and blue; rows sum to 1, so that neutral stays neutral.
    exponent : float
        Power of linear light: above 1 midtones are darker; white stays.
    contrast : float
        Strength of an S-curve of the encoded values, -1 to 1: above 0 midtones are steeper and both ends flatter.
    """

    matrix: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    exponent: float = 1.0
    contrast: float = 0.0

    def applied(self, linear: Picture) -> Picture:
        """Return linear light as the camera writes it, shape (H, W, 3); what lies outside 0 to 1 is cut."""
        mixed = np.asarray(np.clip(linear @ np.array(self.matrix, np.float32).T, 0, 1), np.float32)
        if self.exponent == 1 and self.contrast == 0:
            return mixed
        steps = np.linspace(0, 1, _STEPS)
        # steps of the square root are as fine in the shadows as 8 bits of sRGB need
        return np.asarray(np.interp(np.sqrt(mixed), steps, self._toned(steps**2)), np.float32)

    def _toned(self, linear: NDArray[np.float64]) -> NDArray[np.float64]:
        light = linear**self.exponent
        value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        value = value + self.contrast * value * (1 - value) * (2 * value - 1)
        return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4))


def saturation(factor: float) -> Matrix:
    """Return the matrix that moves colours away from the grey of their luminance (above 1) or towards it (below 1)."""
    matrix = factor * np.eye(3) + (1 - factor) * np.tile(_LUMA, (3, 1))
    return tuple(tuple(row) for row in matrix.tolist())


PLAIN = Look()
"""Colours as they are."""

LOOKS: Mapping[str, Look] = MappingProxyType(
    {
        "plain": PLAIN,
        "vivid phone": Look(saturation(1.15), contrast=0.2),
        "flat": Look(saturation(0.85), exponent=0.9, contrast=-0.1),
        "display P3": Look(((0.8225, 0.1775, 0.0), (0.0332, 0.9668, 0.0), (0.0171, 0.0724, 0.9105))),
    }
)
"""Looks by name, strengths from memory of general photography.

Telephones tune photos to please: stronger colours and a steeper middle ("vivid phone"). Cameras set to a neutral or
flat style, and hazy lenses, do the opposite ("flat"). Telephones that write Display P3 and lose the profile on the way
are read as sRGB: the matrix from linear sRGB to linear Display P3, both D65, makes every colour paler ("display P3").
"""
