"""The skin round a wound laid flat: a part of the photo as the wound plane shows it, so many mm a pixel everywhere.

On it a band of so many mm round a wound is as wide on all sides, whatever the tilt of the camera, and a round patch of
skin is a disc.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import lab
from calibration.plane import Plane
from calibration.sticker import Points
from measure.skin import Bytes, Map
from measure.view import View, cut_out

Mask = NDArray[np.bool_]

STEP_MM = 0.5
"""Of a pixel. Bands and patches are 5 mm and wider; pores and most of the noise average out."""

CLIPPED_ABOVE, CLIPPED_BELOW = 248, 12
"""Of 255, the greatest channel: brighter, the colour is cut off by white; darker, it is mostly noise."""

_EVERY = 8  # pixels from one place that is carried over exactly to the next: 4 mm, in which lens and limb bend by 0.01
_LEAST_AREA = 0.2  # of the photo's px a mm2, of the middle's: skin turned away by 78 degrees shows glare and hair alone


class Colour(Protocol):
    """What turns the pixels of a photo into the colours of what it shows, as far as is needed here."""

    @property
    def lab_sigma(self) -> NDArray[np.floating]:
        """Standard deviation of a corrected colour in L*, a*, b*; shape (3,)."""

    def reflectance(self, picture: Bytes, origin: Points, step: Points) -> Map:
        """Return linear reflectance (h, w, 3) of a part of the photo at another size; see `measure.view.View`."""

    def light_sigma(self, places_px: Points) -> NDArray[np.floating]:
        """Return the relative standard uncertainty (N,) of the light at places (N, 2) of the photo."""


@dataclass(frozen=True, eq=False)
class Flat:
    """A part of the photo laid flat; pixel (column i, row j) shows ``origin_mm + STEP_MM * (i, j)``.

    Attributes
    ----------
    origin_mm : ndarray of shape (2,)
        On the wound plane.
    places_px : ndarray of shape (h, w, 2)
        Where in the photo each pixel comes from; may lie outside of it.
    seen : ndarray of bool, shape (h, w)
        Whether the photo shows it, and not from the side or from behind.
    readable : ndarray of bool, shape (h, w)
        Whether it is seen and neither clipped nor nearly black.
    light : ndarray of shape (h, w, 3)
        Linear reflectance.
    lab : ndarray of shape (h, w, 3)
        The same as CIE L*a*b*, D65.
    """

    origin_mm: Points
    places_px: Map
    seen: Mask
    readable: Mask
    light: Map
    lab: Map

    def from_mm(self, points_mm: Points) -> Points:
        """Carry points (N, 2) in mm to px of this raster."""
        return np.asarray((points_mm - self.origin_mm) / STEP_MM, dtype=np.float64)

    def to_mm(self, points: Points) -> Points:
        """Carry points (N, 2) in px of this raster to mm."""
        return np.asarray(points * STEP_MM + self.origin_mm, dtype=np.float64)

    def covered(self, rings_mm: list[Points]) -> Mask:
        """Tell which pixels lie inside any of these rings, which are in mm."""
        covered = np.zeros(self.seen.shape, np.uint8)
        for ring in rings_mm:
            cv2.fillPoly(covered, [np.rint(self.from_mm(ring) * 16).astype(np.int32)], 1, cv2.LINE_8, shift=4)
        return covered > 0


def lay_flat(pixels: Bytes, colour: Colour, plane: Plane, low_mm: Points, high_mm: Points) -> Flat:
    """Lay the part of a photo flat that shows a box of the wound plane.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB.
    colour : Colour
        The photo's colour correction.
    plane : Plane
    low_mm, high_mm : ndarray of shape (2,)
        Corners of the box on the plane.
    """
    spread = spread_out(pixels, plane.to_px, low_mm, high_mm, STEP_MM)
    view = spread.view
    light = spread.looked_up(colour.reflectance(view.picture, view.origin, view.step).astype(np.float32))
    greatest = spread.looked_up(_greatest(view.picture))
    readable = spread.seen & (greatest <= CLIPPED_ABOVE) & (greatest >= CLIPPED_BELOW)
    low = np.asarray(low_mm, dtype=np.float64)
    return Flat(low, spread.places_px, spread.seen, readable, light, lab(light))


@dataclass(frozen=True, eq=False)
class Spread:
    """Where the pixels of a raster on the skin come from in a photo.

    Attributes
    ----------
    places_px : ndarray of shape (h, w, 2)
        In the photo; may lie outside of it.
    seen : ndarray of bool, shape (h, w)
        Whether the photo shows it, and not from the side or from behind.
    view : View
        The part of the photo that is seen, reduced to about the size of the raster's pixels.
    """

    places_px: Map
    seen: Mask
    view: View

    def looked_up(self, values: NDArray[Any]) -> Map:
        """Look up values of the view's pixels, shape (H, W) or (H, W, 3), at the raster's."""
        first = (self.view.step - 1) / 2 + self.view.origin  # the middle of the view's first pixel, in the photo
        columns, rows = (((self.places_px[..., axis] - first[axis]) / self.view.step[axis]) for axis in (0, 1))
        at = columns.astype(np.float32), rows.astype(np.float32)
        found = cv2.remap(values, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(found, dtype=np.float32)


def spread_out(
    pixels: Bytes, to_px: Callable[[Points], Points], low_mm: Points, high_mm: Points, step_mm: float
) -> Spread:
    """Find where in a photo a box on the skin is seen.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB.
    to_px : callable
        Carries points (N, 2) of the skin, in mm, to the photo.
    low_mm, high_mm : ndarray of shape (2,)
        Corners of the box.
    step_mm : float
        Of a pixel; the box grows at its high sides to whole steps.
    """
    size = np.maximum(np.ceil((high_mm - low_mm) / step_mm / _EVERY), 2).astype(int)  # of the coarse grid
    x, y, faces = _places(to_px, low_mm, size, step_mm)
    height, width = pixels.shape[:2]
    seen = faces & (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
    return Spread(np.dstack([x, y]), seen, _view(pixels, x, y, seen))


def _places(
    to_px: Callable[[Points], Points], low_mm: Points, size: NDArray[np.int_], step_mm: float
) -> tuple[Map, Map, Mask]:
    """Return x and y in the photo of each pixel, and whether it faces the camera.

    Some places are carried over exactly, those between are interpolated. What turns its back, or lies behind the
    camera, is seen mirrored: one mm2 of it has a negative area in the photo.
    """
    columns, rows = (_EVERY * np.arange(-1, count + 1) + (_EVERY - 1) / 2 for count in size)
    x_mm, y_mm = np.meshgrid(columns * step_mm + low_mm[0], rows * step_mm + low_mm[1])
    coarse = to_px(np.column_stack([x_mm.ravel(), y_mm.ravel()]))
    x, y = (side.reshape(x_mm.shape) for side in coarse.T)
    area = np.gradient(x, axis=1) * np.gradient(y, axis=0) - np.gradient(x, axis=0) * np.gradient(y, axis=1)
    third = np.array(area.shape) // 3
    middle = float(np.median(area[third[0] : -third[0], third[1] : -third[1]]))
    faces = _finer((area > _LEAST_AREA * middle).astype(np.float32)) > 0.5
    return _finer(x.astype(np.float32)), _finer(y.astype(np.float32)), faces


def _finer(coarse: Map) -> Map:
    """Interpolate a grid to every pixel, without its outermost cells."""
    height, width = coarse.shape[:2]
    fine = cv2.resize(coarse, (width * _EVERY, height * _EVERY), interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine[_EVERY:-_EVERY, _EVERY:-_EVERY], dtype=np.float32)


def _view(pixels: Bytes, x: Map, y: Map, seen: Mask) -> View:
    """Cut out the part of the photo that is seen, reduced by a whole number to about the size of the raster's pixels.

    A whole number is three times as fast as any other.
    """
    some = seen[::4, ::4]
    places = np.column_stack([x[::4, ::4][some], y[::4, ::4][some]]).astype(np.float64)
    if not len(places):
        return cut_out(pixels, np.zeros(2), np.ones(2), 2)
    last = np.array(pixels.shape[1::-1]) - 1.0
    low = np.clip(np.floor(places.min(axis=0)) - 2, 0, last)
    high = np.clip(np.ceil(places.max(axis=0)) + 2, 0, last)
    px_a_pixel = np.sqrt(np.prod(high - low + 1) / max(np.count_nonzero(seen), 1))
    by = max(1, int(px_a_pixel))
    size = np.maximum((high - low + 1) // by, 1)
    return cut_out(pixels, low, low + size * by - 1, int(size.max()))


def _greatest(picture: Bytes) -> Bytes:
    red, green, blue = cv2.split(picture)
    return np.asarray(cv2.max(cv2.max(red, green), blue), dtype=np.uint8)
