"""The sensor: blur and noise in linear light, then the sRGB curve."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .look import PLAIN, Look
from .raster import Picture

_LEVELS = 8192


@dataclass(frozen=True)
class Sensor:
    """How a sharp picture becomes the camera's pixels.

    Attributes
    ----------
    blur_px : float
        Standard deviation of the lens blur.
    motion_px : float
        Length of the smear of a shaken camera.
    motion_deg : float
        Its direction in the photo.
    read_noise, shot_noise : float
        Noise in linear light: variance read^2 + shot * signal, where 1 is white.
    look : Look
        What the camera does to the colours after that.
    """

    blur_px: float = 0.7
    motion_px: float = 0.0
    motion_deg: float = 30.0
    read_noise: float = 0.0012
    shot_noise: float = 0.00004
    look: Look = PLAIN

    @property
    def reach(self) -> int:
        """Pixels from which blur brings light."""
        return int(np.ceil(4 * self.blur_px + self.motion_px / 2)) + 1

    def blurred(self, linear: Picture) -> Picture:
        """Return the picture, shape (H, W, 3), as the lens and a moving hand leave it."""
        if self.motion_px > 0:
            linear = np.asarray(cv2.filter2D(linear, -1, self._smear(), borderType=cv2.BORDER_REPLICATE), np.float32)
        if self.blur_px > 0:
            blurred = cv2.GaussianBlur(linear, (0, 0), self.blur_px, borderType=cv2.BORDER_REPLICATE)
            linear = np.asarray(blurred, np.float32)
        return linear

    def developed(self, linear: Picture, random: np.random.Generator) -> NDArray[np.uint8]:
        """Return 8-bit sRGB of linear light, shape (H, W, 3), with noise."""
        noise = random.standard_normal(linear.shape, np.float32)
        noise *= np.sqrt(np.float32(self.read_noise**2) + np.float32(self.shot_noise) * np.maximum(linear, 0))
        noise += linear
        return encoded(noise if self.look == PLAIN else self.look.applied(noise))

    def _smear(self) -> Picture:
        """Return a kernel of a straight smear, symmetric about its middle so that nothing moves."""
        half = int(np.ceil(self.motion_px / 2)) + 1
        grid = np.arange(-half, half + 1, dtype=np.float64)
        kernel = np.zeros((grid.size, grid.size))
        angle = np.radians(self.motion_deg)
        for along in np.linspace(-0.5, 0.5, 8 * grid.size + 1) * self.motion_px:
            x, y = along * np.cos(angle), along * np.sin(angle)
            kernel += np.outer(np.maximum(0, 1 - abs(grid - y)), np.maximum(0, 1 - abs(grid - x)))
        return np.asarray(kernel / kernel.sum(), np.float32)


def encoded(linear: Picture) -> NDArray[np.uint8]:
    """Return 8-bit sRGB of linear values; those outside 0 to 1 are cut."""
    index = np.clip(linear, 0, 1)
    index *= _LEVELS - 1
    index += np.float32(0.5)
    pixels: NDArray[np.uint8] = _CURVE[index.astype(np.uint16)]
    return pixels


def decoded(srgb: NDArray[np.float64] | tuple[float, ...]) -> NDArray[np.float64]:
    """Return linear light of sRGB values from 0 to 255."""
    value = np.asarray(srgb, dtype=np.float64) / 255
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4))


def _curve() -> NDArray[np.uint8]:
    value = np.linspace(0, 1, _LEVELS)
    srgb = np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(srgb * 255), np.uint8)


_CURVE = _curve()
