"""The skin in a photo: what colour it has, or would have, at each pixel, and how unlike it a colour is.

Colours are brightness, redness ln(R/G) and yellowness ln(G/B) of linear light, as float32 arrays of shape (..., 3):
a cast adds the same amount to all pixels, a shadow changes brightness only. The skin is learnt from the photo itself,
so no tone is the usual one: what is as mottled, tanned or shaded as skin is wherever it lies between very light and
very dark passes, and only the difference to the skin nearby tells a wound.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light

Map = NDArray[np.float32]
Bytes = NDArray[np.uint8]

_DARK = 0.012  # added to linear light, 28 of 255: below it noise would have loud colours
_STEP_MM = 1.5  # grid of the skin map
_SIGMA_MM = 22.0  # its reach: follows the shading of a limb, not a wound of 30 mm
_NEAR_AIM_MM = 45.0  # skin counts most within this of the aim, a tenth as much far off: there lie beds and hands
_SPREAD = np.array((0.5, 0.18, 0.25), np.float32)  # ln units: mottled skin in brightness, redness, yellowness
_PASSING = 1.6 * _SPREAD  # the same with reddened and shaded skin
_RANGE = np.array(((-4.2, 0.2, -0.05), (0.2, 1.1, 1.3)), np.float32)  # skin of all tones, in sun and in shade
_LEAST = 0.03  # of the picture; with less, nothing can be compared with skin
_RED, _YELLOW = 0.16, 0.22  # ln units that make one unit of unlikeness: usual reddening and tan stay near it
_BRIGHT = 0.4  # the same for brightness, beyond as much again for hair, veins and half-shadow
_BEYOND_DOUBT = 6.0  # units; even darker or redder is no more wound


def colour(picture: Bytes, white: Map) -> Map:
    """Brightness, redness and yellowness of an RGB picture under a light in which ``white`` is white."""
    return colour_of_light(linear_light()[picture] / white)


def colour_of_light(linear: Map) -> Map:
    """Brightness, redness and yellowness of linear light, in which white is 1 in all channels."""
    red, green, blue = cv2.split(np.log(linear + np.float32(_DARK)))
    return np.dstack([0.3 * red + 0.6 * green + 0.1 * blue, red - green, green - blue]).astype(np.float32)


def paper(seen: Bytes) -> Map:
    """Linear colour of the brightest fifth of a sticker's RGB pixels (N, 3) that isn't clipped, greatest channel 1.

    All ones, which is daylight, where too few pixels are given.
    """
    seen = seen[seen.max(axis=1, initial=0) < 252]
    if len(seen) < 50:
        return np.ones(3, np.float32)
    total = seen.sum(axis=1)
    white = np.median(linear_light()[seen[total >= np.quantile(total, 0.8)]], axis=0) + 1e-3
    return np.asarray(white / white.max(), dtype=np.float32)


def skin_map(seen: Map, allowed: NDArray[np.bool_], away_mm: Map, mm: float) -> Map | None:
    """Map the colour that skin has, or would have, at each pixel.

    Parameters
    ----------
    seen : ndarray of shape (H, W, 3)
        Colours of the photo.
    allowed : ndarray of bool, shape (H, W)
        Pixels that may be skin.
    away_mm : ndarray of shape (H, W)
        Distance from where a wound, and so skin, is expected.
    mm : float
        Millimetres a pixel.

    Returns
    -------
    ndarray of shape (H, W, 3), or None
        None where the photo shows no skin.
    """
    height, width = allowed.shape
    step = max(1.0, _STEP_MM / mm)
    size = max(1, round(width / step)), max(1, round(height / step))
    coarse, weight = _reduced(seen, size), _reduced(allowed.astype(np.float32), size)
    outside = np.asarray(np.maximum(0, np.maximum(_RANGE[0] - coarse, coarse - _RANGE[1])), dtype=np.float32)
    weight *= _near(outside, np.float32(1 / 3) * _SPREAD)
    if weight.mean() < _LEAST:
        return None
    weight *= np.exp(-0.5 * (_reduced(away_mm, size) / _NEAR_AIM_MM) ** 2) + np.float32(0.1)
    skin = _spread(coarse, weight, _SIGMA_MM / (mm * step))
    return np.asarray(cv2.resize(skin, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _reduced(values: Map, size: tuple[int, int]) -> Map:
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _spread(seen: Map, weight: Map, sigma: float) -> Map:
    """Average the skin round each pixel, three times over, what differs from the last average counting less."""
    usual = np.array([_median(seen[..., channel].ravel(), weight.ravel()) for channel in range(3)], np.float32)
    skin: Map = np.broadcast_to(usual, seen.shape)
    for _ in range(3):
        counted = (weight * _near(seen - skin, _SPREAD))[..., np.newaxis]
        both = cv2.GaussianBlur(np.dstack([seen * counted, counted]), (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
        both = both + 0.02 * np.append(usual, 1)  # where no skin is near, the usual colour stands for it
        skin = np.asarray(both[..., :3] / both[..., 3:], dtype=np.float32)
    return skin


def _median(values: Map, weight: Map) -> float:
    order = np.argsort(values, kind="stable")
    running = np.cumsum(weight[order], dtype=np.float64)
    return float(values[order[np.searchsorted(running, running[-1] / 2)]])


def _near(difference: Map, spread: Map) -> Map:
    """Bell curve of colour differences: 1 for none."""
    return np.asarray(np.exp(-0.5 * ((difference / spread) ** 2).sum(axis=-1)), dtype=np.float32)


def like(difference: Map) -> Map:
    """Tell how well colours pass for skin, reddened and shaded included: 0 to 1, from their difference to skin."""
    return _near(difference, _PASSING)


def unlike(difference: Map) -> Map:
    """Tell in units of usual skin how far colours stand out, from their difference to skin: 0 to 6.

    Redder, yellower, lighter and darker count, the latter two beyond an allowance for shadow and hair. Paleness, less
    red than skin, counts as far as the colour is yellower too, as slough is and callus isn't.
    """
    bright, red, yellow = (difference[..., channel] for channel in range(3))
    yellow = np.maximum(yellow, 0)
    yellow = yellow + np.minimum(np.maximum(-red, 0), yellow)
    squares = (np.maximum(red, 0) / _RED) ** 2 + (yellow / _YELLOW) ** 2
    squares = squares + np.maximum(np.abs(bright) / _BRIGHT - 1, 0) ** 2
    return np.asarray(np.minimum(np.sqrt(squares), _BEYOND_DOUBT), dtype=np.float32)
