"""Colour as light: sRGB values turned into the light that they stand for."""

from functools import cache

import numpy as np
from numpy.typing import NDArray


@cache
def linear_light() -> NDArray[np.float32]:
    """Linear light of each 8-bit sRGB value (IEC 61966-2-1), shape (256,)."""
    value = np.arange(256) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
