"""A contact sheet: photos side by side, with the outlines found in them and the reference's edge."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.outline import Outline

_TILE = 320  # px a side
_COLUMNS = 6
_TRUE, _FOUND = (60, 220, 60), (70, 160, 255)
_FONT = cv2.FONT_HERSHEY_SIMPLEX
_STRIP = 22  # px above each photo, for its caption

Pixels = NDArray[np.uint8]


def tile(pixels: Pixels, true: NDArray[np.bool_], found: Sequence[Outline], caption: str) -> Pixels:
    """Return one photo with the reference's edge in green and what was found in blue, shape (342, 320, 3)."""
    scale = _TILE / max(pixels.shape[:2])
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    edges, _ = cv2.findContours(true.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    rings = [ring for outline in found for ring in (outline.exterior, *outline.holes)]
    for lines, colour in (([edge[:, 0] for edge in edges], _TRUE), (rings, _FOUND)):
        fixed = [np.rint(((line + 0.5) * scale - 0.5) * 16).astype(np.int32) for line in lines]
        cv2.polylines(small, fixed, isClosed=True, color=colour, thickness=1, lineType=cv2.LINE_AA, shift=4)
    whole = np.full((_TILE + _STRIP, _TILE, 3), 30, np.uint8)
    whole[_STRIP : _STRIP + small.shape[0], : small.shape[1]] = small
    cv2.putText(whole, caption, (5, 15), _FONT, 0.42, (235, 235, 235), 1, cv2.LINE_AA)
    return whole


def sheet(tiles: Sequence[Pixels]) -> Pixels:
    """Return the tiles in rows of six."""
    rows = -(-len(tiles) // _COLUMNS)
    blank = np.full_like(tiles[0], 30)
    padded = [*tiles, *[blank] * (rows * _COLUMNS - len(tiles))]
    return np.vstack([np.hstack(padded[row * _COLUMNS : (row + 1) * _COLUMNS]) for row in range(rows)])
