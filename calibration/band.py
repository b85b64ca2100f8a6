"""Finds bands in a photo: places where many parallel lines stand side by side, as the graduations of a ruler do.

The picture is cut into small blocks and each block's structure tensor (Bigun and Granlund, 1987) tells in which
direction its brightness changes. Along an edge such blocks lie in a row *across* that direction; along a ruler's
graduations they lie in a row *along* it. That alone leaves few places to look at.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.sticker import Points

Gray = NDArray[np.uint8]
Values = NDArray[np.float32]

_BLOCK_PX = 8  # of the reduced picture: shorter than the shortest graduations of a readable ruler are long
_REDUCTIONS = (1, 3)  # lines 3 to 16 px apart are seen in the photo itself, 9 to 50 px apart in one of a third
_LEAST_COHERENCE = 0.55  # 1: all changes in one direction, 0: none preferred; graduations under blur and noise keep 0.7
_LEAST_CHANGE = 4.0  # mean square change of grey value over two pixels: faint, but above the noise of a sensor
_SECTOR_DEG = 15.0  # half the range of directions gathered at a time, and the step from one to the next
_LEAST_BLOCKS = 8
_LEAST_LENGTH = 9.0  # blocks: 70 px, the 20 mm that a ruler must show at 4 px a mm
_LARGEST_SKEW_DEG = 28.0  # between the band and the changes in it: a right angle under 45 degrees of tilt, and a margin
_MAX_BANDS = 10  # of each reduction


@dataclass(frozen=True, eq=False)
class Band:
    """A place where parallel lines stand side by side.

    Attributes
    ----------
    middle : ndarray of shape (2,)
        In px of the photo.
    along : ndarray of shape (2,)
        Unit vector from line to line.
    half_length, half_width : float
        Reach to either side of the middle, in px.
    lean : tuple of two float
        Direction of the lines in radians at the middle, and its change a px along the band.
    """

    middle: Points
    along: Points
    half_length: float
    half_width: float
    lean: tuple[float, float]


def find_bands(gray: Gray) -> list[Band]:
    """Return the bands of a grey picture (H, W), the longest first.

    Parameters
    ----------
    gray : ndarray of uint8, shape (H, W)
        Upright.
    """
    bands = [band for reduction in _REDUCTIONS for band in _bands_of(gray, reduction)]
    return sorted(bands, key=lambda band: -band.half_length)


def _bands_of(gray: Gray, reduction: int) -> list[Band]:
    """Return the longest bands seen in a reduced picture."""
    rows, columns = (side // (reduction * _BLOCK_PX) for side in gray.shape)
    if min(rows, columns) < _LEAST_LENGTH:
        return []
    size = columns * _BLOCK_PX, rows * _BLOCK_PX
    part = gray[: size[1] * reduction, : size[0] * reduction]
    small = part if reduction == 1 else cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    found = list(_rows_of_blocks(_tensors(small, (columns, rows)), reduction * _BLOCK_PX))
    return sorted(found, key=lambda band: -band.half_length)[:_MAX_BANDS]


def _tensors(gray: Gray, size: tuple[int, int]) -> Values:
    """Return the mean products of the changes in x and in y of each block, (xx, yy, xy), shape (3, rows, columns)."""
    x = cv2.Sobel(gray, cv2.CV_16S, 1, 0, ksize=1)
    y = cv2.Sobel(gray, cv2.CV_16S, 0, 1, ksize=1)
    return np.stack(
        [
            cv2.resize(cv2.multiply(one, other, dtype=cv2.CV_32F), size, interpolation=cv2.INTER_AREA)
            for one, other in ((x, x), (y, y), (x, y))
        ]
    )


def _rows_of_blocks(tensors: Values, block_px: int) -> Iterator[Band]:
    """Yield groups of touching blocks that lie in a row along the direction in which they change."""
    xx, yy, xy = tensors
    change = xx + yy
    coherence = np.hypot(xx - yy, 2 * xy) / np.maximum(change, 1e-6)
    direction = np.degrees(0.5 * np.arctan2(2 * xy, xx - yy))
    steady = (coherence > _LEAST_COHERENCE) & (change > _LEAST_CHANGE)
    for middle in np.arange(0.0, 180.0, _SECTOR_DEG):
        off = (direction - middle + 90.0) % 180.0 - 90.0
        chosen = steady & (np.abs(off) <= _SECTOR_DEG)
        touching = cv2.dilate(chosen.astype(np.uint8), np.ones((3, 3), np.uint8))
        count, labels, stats, _ = cv2.connectedComponentsWithStats(touching)
        longest = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
        for label in range(1, count):
            if longest[label] < _LEAST_LENGTH:
                continue
            left, top, width, height = stats[label, :4]
            window = slice(top, top + height), slice(left, left + width)
            rows, columns = np.nonzero((labels[window] == label) & chosen[window])
            places = np.column_stack([columns + left, rows + top]).astype(np.float64)
            band = _band(places, tensors[:, places[:, 1].astype(int), places[:, 0].astype(int)], block_px)
            if band:
                yield band


def _band(places: Points, tensors: Values, block_px: int) -> Band | None:
    """Return the band that blocks at places (N, 2) with their tensors (3, N) make; None if it runs another way."""
    if len(places) < _LEAST_BLOCKS:
        return None
    middle = places.mean(axis=0)
    values, vectors = np.linalg.eigh(np.cov((places - middle).T))
    along = vectors[:, 1]
    xx, yy, xy = tensors.sum(axis=1, dtype=np.float64)
    change = 0.5 * np.arctan2(2 * xy, xx - yy)
    if np.dot(along, (np.cos(change), np.sin(change))) < 0:
        along = -along
    skew = np.degrees(np.arccos(np.clip(np.dot(along, (np.cos(change), np.sin(change))), -1, 1)))
    where = (places - middle) @ along
    low, high = np.percentile(where, (1, 99))
    if high - low + 1 < _LEAST_LENGTH or skew > _LARGEST_SKEW_DEG or values[1] < 2.0 * values[0]:
        return None
    across = np.abs((places - middle) @ np.array([-along[1], along[0]]))
    return Band(
        middle=(middle + along * (low + high) / 2 + 0.5) * block_px - 0.5,
        along=along,
        half_length=float(high - low + 1) / 2 * block_px,
        half_width=float(np.percentile(across, 98) + 0.5) * block_px,
        lean=_lean(where - (low + high) / 2, tensors, change, block_px),
    )


def _lean(where: Points, tensors: Values, change: float, block_px: int) -> tuple[float, float]:
    """Return the direction of the lines and how it turns along the band, from blocks at ``where`` (N,)."""
    xx, yy, xy = tensors
    own = 0.5 * np.arctan2(2 * xy, xx - yy) - change
    own = (own + np.pi / 2) % np.pi - np.pi / 2
    weight = np.sqrt(np.hypot(xx - yy, 2 * xy))
    slope, offset = np.polyfit(where, own, 1, w=weight) if np.ptp(where) > 0 else (0.0, 0.0)
    return change + offset + np.pi / 2, slope / block_px
