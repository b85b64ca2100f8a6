"""A part of a photo, reduced or enlarged, that knows where it lies in the photo."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.sticker import Points
from measure.skin import Bytes, Map


@dataclass(frozen=True, eq=False)
class View:
    """A part of a photo at another size.

    Attributes
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        RGB.
    origin : ndarray of shape (2,)
        Its first corner (x, y) in photo px.
    step : ndarray of shape (2,)
        Photo px a pixel of the view, in x and y.
    """

    picture: Bytes
    origin: Points
    step: Points

    def to_photo(self, points: Points) -> Points:
        """Carry points of shape (N, 2) from px of the view to px of the photo."""
        return np.asarray((points + 0.5) * self.step - 0.5 + self.origin, dtype=np.float64)

    def from_photo(self, points: Points) -> Points:
        """Carry points of shape (N, 2) from px of the photo to px of the view."""
        return np.asarray((points - self.origin + 0.5) / self.step - 0.5, dtype=np.float64)

    def onto(self, values: Map, other: "View") -> Map:
        """Look up values at this view's pixels at the pixels of another view."""
        placement = np.column_stack([np.diag(other.step / self.step), self.from_photo(other.to_photo(np.zeros(2)))])
        size, flags = other.picture.shape[1::-1], cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        looked_up = cv2.warpAffine(values, placement, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(looked_up, np.float32)

    def covered(self, rings: Sequence[Points]) -> Bytes:
        """Return 1 at the pixels inside any of these rings, which are in photo px."""
        covered = np.zeros(self.picture.shape[:2], np.uint8)
        for ring in rings:
            cv2.fillPoly(covered, [np.rint(self.from_photo(ring)).astype(np.int32)], 1)
        return covered


def cut_out(pixels: Bytes, low: Points, high: Points, side: int, most: float = 1.0) -> View:
    """Cut out the part of a photo between two corners (x, y) and bring its long side to ``side`` px.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
    low, high : ndarray of shape (2,)
        In photo px; what lies outside the photo is left away.
    side : int
    most : float
        Largest magnification; at 1 parts smaller than ``side`` stay as they are.
    """
    last = np.array(pixels.shape[1::-1]) - 1
    left, top = origin = np.clip(np.floor(low), 0, last).astype(int)
    right, bottom = np.clip(np.ceil(high), 0, last).astype(int) + 1
    full = np.array((right - left, bottom - top))
    scale = min(most, side / full.max())
    size = np.maximum(1, np.rint(full * scale)).astype(int)
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    picture = cv2.resize(pixels[top:bottom, left:right], size.tolist(), interpolation=way)
    return View(np.asarray(picture, dtype=np.uint8), origin.astype(np.float64), full / size)


def disc(radius: float) -> Bytes:
    """Return a round structuring element of at least 1 px radius."""
    side = 2 * max(1, round(radius)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), dtype=np.uint8)
