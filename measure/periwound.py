"""The surroundings of one wound laid flat: how far from its edge each place lies, and which of them show skin.

What counts as skin follows from the photo itself (`measure.skin`): a smooth map of the colour that skin has nearby, and
how far a pixel may differ from it. Reddened skin may be much redder than its surroundings and somewhat darker, gauze,
paper and gloves are paler than any skin, hair is a thin dark line.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from calibration.plane import Plane
from calibration.sticker import Points
from measure import skin
from measure.flat import STEP_MM, Colour, Flat, Mask, lay_flat
from measure.outline import Outline, finer, map_outline
from measure.scale import Calibration
from measure.skin import Bytes, Map
from measure.view import disc

REACH_MM = 75.0
"""How far from a wound's edge skin is looked at: a hand's breadth. Farther off lie other parts of the body, sole or
back of a foot, whose skin has another colour of its own."""

EDGE_MM = 0.5
"""Skin this near to a wound's edge is left out: there bed and skin mix in one pixel, and the outline is no surer."""

STICKER_MARGIN_MM = 2.0
"""Round a sticker: its cut edge, its shadow, and the blur of both."""

_LONGEST_MM = 2.0  # edges of an outline are cut to this before they are laid flat: a limb bends by 0.01 mm in it
_BED_MARGIN_MM = 2.0  # from what skin is learnt: new pink or soaked skin at the rim is none that is usual
_RIM_MM = 5.0  # from a wound's edge: what is too pale or too wet there to pass for skin does not cut a wound off
_MOST_MM = 500.0  # of the raster's side; a control patch that a person chose may lie far off
_SQUARE_MM = 2.5  # of the map of usual skin, which changes over 20 mm and more
_HALF = 0.5  # of such a square must be usable
_LOW = np.array((-1.0, -0.28, -0.5), np.float32)  # ln units from the skin nearby, in brightness, redness, yellowness:
_HIGH = np.array((0.6, 0.9, 0.5), np.float32)  # shade, gauze, bruise below; glare, redness, slough and callus above
_RANGE = np.array(((-4.2, 0.12, -0.1), (0.2, 1.5, 1.3)), np.float32)  # skin of all tones, in sun and shade, reddened
_HAIR_MM = 1.0  # half the width of a dark line that counts as hair, or as the gap between two toes
_HAIR_DARKER = 0.18  # ln units by which it is darker than both its sides; the relief of skin reaches 0.1
_SPECK_MM = 0.75  # half the width of what is too small to be told from noise


@dataclass(frozen=True, eq=False)
class Periwound:
    """One wound and its surroundings, on a raster of the wound plane.

    Attributes
    ----------
    flat : Flat
        The raster and its colours.
    away_mm : ndarray of shape (h, w)
        Distance from the edge of this wound, 0 inside of it.
    from_any_mm : ndarray of shape (h, w)
        Distance from the edge of the nearest wound of the photo, 0 inside.
    stickers : ndarray of bool, shape (h, w)
        Where a sticker or a ruler lies.
    skin : ndarray of bool, shape (h, w)
        Where skin can be seen well enough to tell its colour.
    joined : ndarray of bool, shape (h, w)
        Where it belongs to the same part of the body: nothing but skin, wounds and stickers lies between.
    """

    flat: Flat
    away_mm: Map
    from_any_mm: Map
    stickers: Mask
    skin: Mask
    joined: Mask


def surroundings(  # noqa: PLR0913, PLR0917 - what a photo is, and which of its wounds
    pixels: Bytes,
    colour: Colour,
    calibration: Calibration,
    outlines: Sequence[Outline],
    which: int,
    also_mm: Points | None = None,
) -> Periwound:
    """Lay the surroundings of a wound flat and find the skin in them.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        The photo, RGB.
    colour : Colour
        Its colour correction.
    calibration : Calibration
    outlines : sequence of Outline
        Of all its wounds.
    which : int
        The wound, counted from 0.
    also_mm : ndarray of shape (2,), optional
        A place on the wound plane that is looked at too.

    Raises
    ------
    OutlineError
        If an outline can't be laid flat.
    """
    wounds = [_laid_flat(outline, calibration.plane) for outline in outlines]
    low, high = _box(wounds[which], also_mm)
    flat = lay_flat(pixels, colour, calibration.plane, low, high)
    inside = [flat.covered([np.asarray(wound.exterior.coords)]) for wound in wounds]
    own, any_of_them = inside[which], np.logical_or.reduce(inside)
    stickers = flat.covered(_stickers_mm(calibration))
    from_any_mm = _distance(any_of_them)
    away_mm = _distance(own) if len(wounds) > 1 else from_any_mm
    by_sticker = _distance(stickers) <= STICKER_MARGIN_MM
    usable = flat.readable & ~by_sticker & (from_any_mm > EDGE_MM)
    skin_seen = usable & _skin(flat, usable, from_any_mm)
    joined = skin_seen & _joined(skin_seen | by_sticker | (from_any_mm <= _RIM_MM), own)
    return Periwound(flat, away_mm, from_any_mm, stickers, skin_seen, joined)


def _laid_flat(outline: Outline, plane: Plane) -> Polygon:
    longest_px = _LONGEST_MM / plane.mm_per_px(outline.exterior.mean(axis=0))
    return map_outline(finer(outline, longest_px) if np.isfinite(longest_px) else outline, plane.to_mm)


def _box(wound: Polygon, also_mm: Points | None) -> tuple[Points, Points]:
    """Return the corners of the part of the plane that is looked at."""
    low, high = np.array(wound.bounds[:2]) - REACH_MM, np.array(wound.bounds[2:]) + REACH_MM
    if also_mm is not None and np.isfinite(also_mm).all():
        nearby = np.clip(also_mm, low - _MOST_MM / 2, high + _MOST_MM / 2)
        low, high = np.minimum(low, nearby - 10), np.maximum(high, nearby + 10)
    return low, high


def _stickers_mm(calibration: Calibration) -> list[Points]:
    rings = (calibration.plane.to_mm(ring) for ring in calibration.sticker_outlines_px)
    return [ring[np.isfinite(ring).all(axis=1)] for ring in rings if np.isfinite(ring).all(axis=1).sum() > 2]


def _distance(covered: Mask) -> Map:
    """Return mm from the nearest covered pixel; without one nothing is near."""
    if not covered.any():
        return np.full(covered.shape, np.inf, np.float32)
    away = cv2.distanceTransform((~covered).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(STEP_MM * away, dtype=np.float32)


def _joined(body: Mask, own: Mask) -> Mask:
    """Tell which pixels of the body are connected with the wound."""
    _, labels = cv2.connectedComponents(body.astype(np.uint8), connectivity=4)
    mine = np.unique(labels[own])
    return np.asarray(np.isin(labels, mine[mine > 0]) if len(mine) else np.zeros_like(body))


def _skin(flat: Flat, usable: Mask, from_any_mm: Map) -> Mask:
    """Tell which pixels have the colour of skin, reddened or not."""
    seen = skin.colour_of_light(np.maximum(flat.light, 0))
    level = _level(seen, usable & (from_any_mm > _BED_MARGIN_MM), from_any_mm)
    if level is None:
        return np.zeros(usable.shape, np.bool_)
    within = _between(seen - level, _LOW, _HIGH) & _between(seen, *_RANGE)
    whole = cv2.morphologyEx((within & usable).astype(np.uint8), cv2.MORPH_OPEN, disc(_SPECK_MM / STEP_MM))
    return np.asarray((whole > 0) & ~_hair(seen[..., 0]))


def _level(seen: Map, allowed: Mask, away_mm: Map) -> Map | None:
    """Map the colour that skin has nearby, from the means of small squares; None where there is no skin."""
    height, width = allowed.shape
    size = max(1, round(width * STEP_MM / _SQUARE_MM)), max(1, round(height * STEP_MM / _SQUARE_MM))
    share = cv2.resize(allowed.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    means = cv2.resize(seen * allowed[..., np.newaxis], size, interpolation=cv2.INTER_AREA)
    means = means / np.maximum(share, np.float32(1e-3))[..., np.newaxis]
    away = cv2.resize(np.minimum(away_mm, np.float32(_MOST_MM)), size, interpolation=cv2.INTER_AREA)
    level = skin.skin_map(
        means.astype(np.float32), np.asarray(share > _HALF), np.asarray(away, dtype=np.float32), _SQUARE_MM
    )
    if level is None:
        return None
    return np.asarray(cv2.resize(level, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _between(values: Map, low: Map, high: Map) -> Mask:
    return np.asarray(cv2.inRange(values, low.astype(np.float64), high.astype(np.float64)) > 0)


def _hair(brightness: Map) -> Mask:
    """Tell which pixels belong to a thin dark line."""
    lines = cv2.morphologyEx(brightness, cv2.MORPH_BLACKHAT, disc(_HAIR_MM / STEP_MM))
    return np.asarray(lines > _HAIR_DARKER)
