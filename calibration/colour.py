"""Colour as light: sRGB values turned into the light that they stand for, and into what an eye makes of it.

Linear light is red, green and blue in the primaries of sRGB, shape (..., 3), 1 for a perfect white diffuser under
daylight D65. Lab is CIE L*a*b* for D65 and the 2 degree observer (CIE 15:2004).
"""

from functools import cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from skimage.color import deltaE_ciede2000

Map = NDArray[np.float32]

_STEPS = 8192  # of the table from linear light to sRGB: 0.4 of an 8-bit value apart in the dark, less in the light
_XYZ_OF_RGB = np.array(
    ((0.4123908, 0.3575843, 0.1804808), (0.2126390, 0.7151687, 0.0721923), (0.0193308, 0.1191948, 0.9505322))
)
"""CIE XYZ of linear light: from the chromaticities of primaries and white of IEC 61966-2-1."""

_WHITE = _XYZ_OF_RGB.sum(axis=1)  # XYZ of D65; neutral light then has a* = b* = 0 exactly
_BEND = (6 / 29) ** 3  # CIE 15:2004, 8.2.1.1: below it the cube root goes over into a straight line
_SLOPE, _OFFSET = (29 / 6) ** 2 / 3, 4 / 29


@cache
def linear_light() -> Map:
    """Linear light of each 8-bit sRGB value (IEC 61966-2-1), shape (256,)."""
    value = np.arange(256) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


@cache
def _values() -> NDArray[np.uint8]:
    light = np.linspace(0, 1, _STEPS)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * value), dtype=np.uint8)


def encoded(linear: ArrayLike) -> NDArray[np.uint8]:
    """Return 8-bit sRGB of linear light; what lies outside 0 to 1 is cut."""
    place = np.clip(np.asarray(linear, np.float32), 0, 1) * np.float32(_STEPS - 1) + np.float32(0.5)
    return np.asarray(_values()[place.astype(np.uint16)], dtype=np.uint8)


def lab(linear: ArrayLike) -> Map:
    """Return Lab of linear light; light above 1 and a little below 0 has its Lab too."""
    light = np.asarray(linear, np.float32)
    relative = _mixed(light, _XYZ_OF_RGB / _WHITE[:, np.newaxis])
    root = relative if not relative.size else cv2.pow(np.maximum(relative, np.float32(_BEND)), 1 / 3)
    bent = np.where(relative > _BEND, root.reshape(relative.shape), np.float32(_SLOPE) * relative + np.float32(_OFFSET))
    return _mixed(bent, np.array(((0, 116, 0), (500, -500, 0), (0, 200, -200))), (-16, 0, 0))


def linear_of_lab(colour: ArrayLike) -> Map:
    """Return the linear light that has this Lab; colours that sRGB can't show lie outside 0 to 1."""
    bent = _mixed(np.asarray(colour, np.float32), _FROM_LAB, np.full(3, 16 / 116))
    relative = np.where(bent > 6 / 29, bent**3, (bent - np.float32(_OFFSET)) / np.float32(_SLOPE))
    return _mixed(relative.astype(np.float32), np.linalg.inv(_XYZ_OF_RGB) * _WHITE)


_FROM_LAB = np.array(((1 / 116, 1 / 500, 0), (1 / 116, 0, 0), (1 / 116, 0, -1 / 200)))


def _mixed(values: Map, matrix: NDArray[np.float64], offset: ArrayLike = (0, 0, 0)) -> Map:
    """Multiply colours (..., 3) by a matrix and add an offset."""
    affine = np.column_stack([matrix, np.asarray(offset, np.float64)])
    flat = np.ascontiguousarray(values).reshape(-1, 1, 3)
    if not flat.size:
        return values
    return np.asarray(cv2.transform(flat, affine), dtype=np.float32).reshape(values.shape)


def difference(one: ArrayLike, other: ArrayLike) -> NDArray[np.float64]:
    """Return the colour difference CIEDE2000 of Lab colours (..., 3): shape (...,); 1 is just visible side by side."""
    lab_one, lab_other = np.asarray(one, np.float64), np.asarray(other, np.float64)
    return np.asarray(deltaE_ciede2000(lab_one, lab_other), dtype=np.float64)  # type: ignore[no-untyped-call]
