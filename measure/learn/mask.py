"""Reads what a person marked as wound: a grey picture of two values, the larger one is the wound."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from measure.learn.picture import ExamplesError, opened

Levels = NDArray[np.int64]
"""Grey levels, of shape (H, W)."""

_EXPECTED = "expected is a grey picture of two values, black where there is no wound and white where there is"
_DEEP = ("I", "F")  # how the names of modes with more than 8 bits start

_STRAY = 0.02  # of the way from one value to the other: JPEG leaves an even area not quite even
_FEW_OTHERS = 5  # with so few, each is meant; JPEG and smooth edges leave more
_EDGE_PX, _EDGE_SHARE = 8, 0.01  # how far from the edge greys may lie: a block of JPEG, or a part of the long side
_MOST_GREYS = 0.05  # share of the frame


def read_mask(path: Path) -> NDArray[np.bool_]:
    """Return where there is wound, of shape (H, W), upright.

    A mask of two values is taken as it is, be they 0 and 255, 0 and 1, or others. Of further greys, as JPEG or a smooth
    edge leaves them, a small share near the edge is let through and parted in the middle.

    Raises
    ------
    ExamplesError
        If it is missing or damaged, uses colour or transparency, is white all over, or has greys elsewhere.
    """
    levels = _levels(opened(path, "draw one, all black where there is no wound"), path)
    low, high = int(levels.min()), int(levels.max())
    if low == high:
        if high:
            raise ExamplesError(f"{path} is the same all over, and not black; {_EXPECTED}, all black for no wound.")
        return np.zeros(levels.shape, np.bool_)
    mask = np.asarray(2 * levels > low + high)
    if _has_other_greys(levels, mask, low, high):
        raise ExamplesError(f"{path} has more than two values, and not only at the edge; {_EXPECTED}.")
    return mask


def _levels(picture: Image.Image, path: Path) -> Levels:
    if picture.mode.startswith(_DEEP):
        return np.asarray(picture, np.int64)
    red, green, blue, alpha = np.moveaxis(np.asarray(picture.convert("RGBA")), 2, 0)
    if not (np.array_equal(red, green) and np.array_equal(red, blue)):
        raise ExamplesError(f"{path} has colours; {_EXPECTED}.")
    if alpha.min() < alpha.dtype.type(255):
        raise ExamplesError(f"{path} has transparent parts; {_EXPECTED}, and no transparency.")
    return np.asarray(red, np.int64)


def _has_other_greys(levels: Levels, mask: NDArray[np.bool_], low: int, high: int) -> bool:
    """Whether there are values between the two that no edge explains."""
    others = np.unique(levels[(levels > low) & (levels < high)])
    if not others.size:
        return False
    stray = _STRAY * (high - low) if others.size > _FEW_OTHERS else 0.0
    between = (levels > low + stray) & (levels < high - stray)
    reach = max(_EDGE_PX, round(_EDGE_SHARE * max(levels.shape)))
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    edge = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_GRADIENT, kernel) > 0
    return bool((between & ~edge).any() or between.mean() > _MOST_GREYS)
