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
_ENOUGH_BLOCKS = 1000  # to tell the direction of a group
_STRIP_BLOCKS = 16
_LEAST_REACH = 6.0  # blocks along the middle of a sector, of a band askew of it by 45 degrees
_MAX_GROUPS = 4  # of a sector
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
    found = list(_rows_of_blocks(_tensors(np.asarray(small, dtype=np.uint8), (columns, rows)), reduction * _BLOCK_PX))
    return sorted(found, key=lambda band: -band.half_length)[:_MAX_BANDS]


def _tensors(gray: Gray, size: tuple[int, int]) -> Values:
    """Return the mean products of the changes in x and in y of each block, (xx, yy, xy), shape (3, rows, columns)."""
    tensors = np.empty((3, size[1], size[0]), np.float32)
    for first in range(0, size[1], _STRIP_BLOCKS):  # strips stay in the processor's cache
        last = min(first + _STRIP_BLOCKS, size[1])
        top, bottom = first * _BLOCK_PX, last * _BLOCK_PX
        above = min(top, 1)
        part = gray[top - above : bottom + 1]
        rows = slice(above, above + bottom - top)
        x, y = (cv2.Sobel(part, cv2.CV_16S, *order, ksize=1)[rows] for order in ((1, 0), (0, 1)))
        for tensor, (one, other) in zip(tensors, ((x, x), (y, y), (x, y)), strict=True):
            product = cv2.multiply(one, other, dtype=cv2.CV_32F)
            tensor[first:last] = cv2.resize(product, (size[0], last - first), interpolation=cv2.INTER_AREA)
    return tensors


def _rows_of_blocks(tensors: Values, block_px: int) -> Iterator[Band]:
    """Yield bands in groups of touching blocks that change in about the same direction."""
    xx, yy, xy = tensors
    change = xx + yy
    steady = (np.hypot(xx - yy, 2 * xy) > _LEAST_COHERENCE * change) & (change > _LEAST_CHANGE)
    rows, columns = np.nonzero(steady)
    blocks = tensors[:, rows, columns].astype(np.float64)
    xx, yy, xy = blocks
    direction = np.degrees(0.5 * np.arctan2(2 * xy, xx - yy))
    places = np.column_stack([columns, rows])
    for sector in np.arange(0.0, 180.0, _SECTOR_DEG):
        (chosen,) = np.nonzero(np.abs((direction - sector + 90.0) % 180.0 - 90.0) <= _SECTOR_DEG)
        for group in _groups(places[chosen], steady.shape, np.radians(sector)):
            yield from _bands_in(places[chosen[group]].astype(np.float64), blocks[:, chosen[group]], block_px)


def _groups(places: NDArray[np.int_], shape: tuple[int, ...], angle: float) -> Iterator[NDArray[np.int_]]:
    """Yield which blocks at places (N, 2) touch or nearly do: the groups that reach farthest at an angle."""
    touching = np.zeros(shape, np.uint8)
    touching[places[:, 1], places[:, 0]] = 1
    labels = cv2.connectedComponents(cv2.dilate(touching, np.ones((3, 3), np.uint8)))[1]
    own = labels[places[:, 1], places[:, 0]]
    order = np.argsort(own, kind="stable")
    starts = np.flatnonzero(np.diff(own[order], prepend=-1))
    if len(starts) == 0:
        return
    along = places[order] @ np.array([np.cos(angle), np.sin(angle)])
    reach = np.maximum.reduceat(along, starts) - np.minimum.reduceat(along, starts)
    ends = np.append(starts[1:], len(places))
    reach[ends - starts < _LEAST_BLOCKS] = 0.0
    for group in np.argsort(-reach)[:_MAX_GROUPS]:
        if reach[group] >= _LEAST_REACH:
            yield order[starts[group] : ends[group]]


def _bands_in(places: Points, blocks: Points, block_px: int) -> Iterator[Band]:
    """Yield the one or two fullest rows of blocks at places (N, 2) with tensors (3, N)."""
    xx, yy, xy = blocks.sum(axis=1)
    change = 0.5 * np.arctan2(2 * xy, xx - yy)
    middle = places.mean(axis=0)
    along = _direction(places - middle, change)
    where, across = (places - middle) @ along, (places - middle) @ np.array([-along[1], along[0]])
    level = np.rint(across - across.min()).astype(int)
    filling = np.bincount(level).astype(np.float64)
    for _ in range(2):
        peak = int(filling.argmax())
        low = high = peak
        while low > 0 and filling[low - 1] > 0.5 * filling[peak]:
            low -= 1
        while high + 1 < len(filling) and filling[high + 1] > 0.5 * filling[peak]:
            high += 1
        chosen = (level >= low) & (level <= high)
        if filling[peak] < 0.5 * _LEAST_LENGTH:
            return
        band = _band(where[chosen], blocks[:, chosen], change, block_px)
        if band:
            offset = (low + high) / 2 + across.min()
            yield Band(
                middle=(middle + along * band[0] + offset * np.array([-along[1], along[0]]) + 0.5) * block_px - 0.5,
                along=along,
                half_length=band[1] * block_px,
                half_width=(high - low + 1) / 2 * block_px,
                lean=band[2],
            )
        filling[low : high + 1] = 0


def _direction(offsets: Points, change: float) -> Points:
    """Return the direction in which blocks at offsets (N, 2) fill the fewest rows, as a unit vector."""
    turns = change + np.radians(np.arange(-_LARGEST_SKEW_DEG, _LARGEST_SKEW_DEG + 0.5, 1.0))
    some = offsets[:: 1 + len(offsets) // _ENOUGH_BLOCKS]
    across = some @ np.stack([-np.sin(turns), np.cos(turns)])
    level = np.rint(across - across.min(axis=0)).astype(int)
    fullness = [float(np.square(np.bincount(one)).sum()) for one in level.T]
    best = turns[int(np.argmax(fullness))]
    return np.array([np.cos(best), np.sin(best)])


def _band(
    where: NDArray[np.float64], blocks: Points, change: float, block_px: int
) -> tuple[float, float, tuple[float, float]] | None:
    """Return middle and half length along a row, in blocks, and the lean of its lines; None if it is too short."""
    low, high = np.percentile(where, (1, 99))
    if high - low + 1 < _LEAST_LENGTH:
        return None
    xx, yy, xy = blocks
    own = 0.5 * np.arctan2(2 * xy, xx - yy) - change
    own = (own + np.pi / 2) % np.pi - np.pi / 2
    middle = (low + high) / 2
    slope, offset = np.polyfit(where - middle, own, 1, w=np.sqrt(np.hypot(xx - yy, 2 * xy)))
    return middle, (high - low + 1) / 2, (change + offset + np.pi / 2, slope / block_px)
