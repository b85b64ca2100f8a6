"""A wound's bed: its part of the photo in true colours, reduced, with what each pixel stands for on the wound plane."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.plane import Plane
from calibration.sticker import Points
from measure.flat import Colour, Mask
from measure.outline import Outline
from measure.skin import Bytes, Map
from measure.view import View, cut_out, disc

STEP_MM = 0.25
"""Of a pixel: granules are 1 to 2 mm wide, and strands of slough about one."""

MOST_PX = 400
"""Of the longer side: a wound that is larger has larger regions too, and time is short."""

EDGE_MM = 0.6
"""From the edge inward colours count less and less: there skin and bed mix in one pixel, and no line is surer."""

_MARGIN_MM = 12.0  # round the wound, where its skin is looked at
_SKIN_FROM_MM = 3.0  # from the edge: nearer lies reddened, soaked and new skin
_LEAST_SKIN = 200  # pixels: 12 mm2
_FINER = 2  # as fine as that specks are taken away
_SPECK_MM = 0.2  # radius of a shining spot of fluid on a granule: the bed beside it tells what lies under it
_SUPERSAMPLED = 4  # of the outline's cover of a pixel
_GRID = 13  # places along a side at which the area of a pixel is worked out


@dataclass(frozen=True, eq=False)
class Bed:
    """A wound's bed and its surroundings.

    Attributes
    ----------
    view : View
        The reduced part of the photo.
    mm_per_px : float
        Of the view, at the wound's middle.
    linear : ndarray of shape (h, w, 3)
        Linear reflectance.
    area_mm2 : ndarray of shape (h, w)
        On the wound plane, of the part of each pixel inside the outline.
    depth_mm : ndarray of shape (h, w)
        Distance from the edge inside the outline, 0 outside.
    skin : ndarray of shape (3,) or None
        Linear reflectance of the skin round the wound, where it can be seen.
    light_sigma : float
        Relative standard uncertainty of the light on it.
    """

    view: View
    mm_per_px: float
    linear: Map
    area_mm2: Map
    depth_mm: Map
    skin: Map | None
    light_sigma: float

    @property
    def inside(self) -> Mask:
        """Where the wound is, shape (h, w)."""
        return np.asarray(self.area_mm2 > 0)


def bed_of(pixels: Bytes, colour: Colour, plane: Plane, outline: Outline, keep_out: Sequence[Points] = ()) -> Bed:
    """Cut a wound's bed out of a photo and correct its colours.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB.
    colour : Colour
        The photo's colour correction.
    plane : Plane
    outline : Outline
        Of the wound, in px of the photo.
    keep_out : sequence of ndarray of shape (N, 2)
        Rings in px round what is neither this wound nor skin.
    """
    low, high = outline.exterior.min(axis=0), outline.exterior.max(axis=0)
    middle = (low + high) / 2
    mm = plane.mm_per_px(middle)
    side = min(MOST_PX, math.ceil((float((high - low).max()) * mm + 2 * _MARGIN_MM) / STEP_MM))
    fine = cut_out(pixels, low - _MARGIN_MM / mm, high + _MARGIN_MM / mm, _FINER * side)
    view = _reduced(fine, _SPECK_MM / (mm * float(fine.step.mean())))
    linear = colour.reflectance(view.picture, view.origin, view.step)
    mm_per_px = mm * float(view.step.mean())
    cover = _cover(view, outline)
    inside = (cover > 0.5).astype(np.uint8)
    depth = _distance(inside) * mm_per_px
    skin = _skin(linear, _distance(1 - inside) * mm_per_px, view.covered(keep_out))
    sigma = float(colour.light_sigma(middle[np.newaxis])[0])
    area = cover * _area_of_pixels(view, plane)
    return Bed(view, mm_per_px, linear, area, depth, skin, sigma)


def _reduced(fine: View, speck_px: float) -> View:
    """Take small bright specks out of a view, and halve it."""
    calm = cv2.morphologyEx(fine.picture, cv2.MORPH_OPEN, disc(speck_px))
    height, width = calm.shape[:2]
    size = np.maximum(1, np.rint(np.array((width, height)) / _FINER)).astype(int)
    small = cv2.resize(calm, size.tolist(), interpolation=cv2.INTER_AREA)
    return View(np.asarray(small, np.uint8), fine.origin, fine.step * (width, height) / size)


def _cover(view: View, outline: Outline) -> Map:
    """Return how much of each pixel lies inside the outline, shape (h, w)."""
    height, width = view.picture.shape[:2]
    finer = np.zeros((height * _SUPERSAMPLED, width * _SUPERSAMPLED), np.uint8)
    rings = [(view.from_photo(ring) + 0.5) * _SUPERSAMPLED - 0.5 for ring in (outline.exterior, *outline.holes)]
    edges = [np.rint(ring * 16).astype(np.int32) for ring in rings]
    cv2.fillPoly(finer, edges, 255, cv2.LINE_8, 4)
    cv2.polylines(finer, edges, isClosed=True, color=128, lineType=cv2.LINE_8, shift=4)  # crossed by the edge: half
    return np.asarray(cv2.resize(finer, (width, height), interpolation=cv2.INTER_AREA) / np.float32(255), np.float32)


def _area_of_pixels(view: View, plane: Plane) -> Map:
    """Return mm2 on the wound plane of each pixel, from a coarse grid: it changes slowly."""
    height, width = view.picture.shape[:2]
    x, y = np.meshgrid(np.linspace(0, width - 1, _GRID), np.linspace(0, height - 1, _GRID))
    at = view.to_photo(np.column_stack([x.ravel(), y.ravel()]))
    across, down = np.diag(view.step) / 2
    right, below = (plane.to_mm(at + half) - plane.to_mm(at - half) for half in (across, down))
    area = np.abs(right[:, 0] * below[:, 1] - right[:, 1] * below[:, 0])
    area[~np.isfinite(area)] = np.nanmedian(area)  # beside a limb, where no wound can be
    columns, rows = (np.linspace(0, _GRID - 1, count, dtype=np.float32) for count in (width, height))
    table = area.reshape(_GRID, _GRID).astype(np.float32)
    return np.asarray(cv2.remap(table, *np.meshgrid(columns, rows), cv2.INTER_LINEAR), np.float32)


def _distance(covered: Bytes) -> Map:
    """Return px from the nearest pixel that is 0; where there is none, more than any lies apart."""
    most = float(sum(covered.shape))
    return np.asarray(np.minimum(cv2.distanceTransform(covered, cv2.DIST_L2, 5), most), np.float32)


def _skin(linear: Map, away_mm: Map, kept_out: Bytes) -> Map | None:
    ring = (away_mm > _SKIN_FROM_MM) & (kept_out == 0)
    return np.median(linear[ring], axis=0).astype(np.float32) if np.count_nonzero(ring) >= _LEAST_SKIN else None
