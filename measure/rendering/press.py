"""The press: what the drawn colours become on paper."""

from dataclasses import dataclass
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from skimage.color import deltaE_ciede2000, lab2rgb, rgb2lab

from .sensor import decoded

PAPER = (0.86, 0.855, 0.83)
"""Reflectance of the paper in linear red, green and blue: not quite white."""

_FARTHEST = 60.0  # CIELAB units at which a colour that is off is looked for


@dataclass(frozen=True)
class Press:
    """A printer, its ink and its paper.

    Attributes
    ----------
    ink : float
        Reflectance of printed black, relative to the paper.
    paper : tuple of float
        Reflectance of the paper in linear red, green and blue.
    error : float
        How far a patch is off its colour in CIEDE2000: half to one and a half times as much, in a direction of its own.
    seed : int
        Of the directions; a press gives the same colour the same error wherever it prints it.
    """

    ink: float = 0.035
    paper: tuple[float, float, float] = PAPER
    error: float = 0.0
    seed: int = 0

    def reflectance(self) -> NDArray[np.float32]:
        """Return a table from drawn 8-bit values to reflectance relative to the paper, shape (256,)."""
        return (self.ink + (1 - self.ink) * decoded(np.arange(256.0))).astype(np.float32)

    def printed(self, name: str, srgb: tuple[int, int, int]) -> NDArray[np.float32]:
        """Return the linear colour that a named patch gets, relative to the paper, shape (3,)."""
        meant = np.asarray(self.reflectance()[np.array(srgb)], np.float32)
        if not self.error:
            return meant
        random = np.random.default_rng((self.seed, crc32(name.encode())))
        lab = rgb2lab(_encoded(meant))
        off = self.error * random.uniform(0.5, 1.5)
        while True:
            way = random.standard_normal(3)
            colour = _off(lab, way / np.linalg.norm(way), off)
            if self.ink <= colour.min() and colour.max() <= 1:
                return np.asarray(colour, np.float32)


def _off(lab: NDArray[np.float64], way: NDArray[np.float64], off: float) -> NDArray[np.float64]:
    """Return the linear colour that lies so many CIEDE2000 off a colour in CIELAB, in a direction there."""
    far = brentq(lambda step: _difference(lab, lab + step * way) - off, 0.0, _FARTHEST)
    return decoded(255 * lab2rgb(lab + far * way))


def _difference(lab: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(deltaE_ciede2000(lab, other))  # type: ignore[no-untyped-call]


def _encoded(linear: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return sRGB from 0 to 1, not rounded, of linear values from 0 to 1."""
    value = linear.astype(np.float64)
    return np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)


PRESS = Press()
"""A good printer: colours as drawn, black not quite black."""
