"""Proposes first outlines from colour alone: no weights, and a person corrects them.

The skin is learnt from the photo itself (`measure.skin`): a smooth map of its brightness, redness and yellowness, so
that tone, cast and uneven light cancel in the difference to it. What is redder, yellower and paler, or clearly lighter
or darker stands out. Of the connected areas that do so at any of several levels, those count that have a sharp edge,
skin all round, and lie where a wound is expected. In a closer view of each, a graph cut settles the boundary (GrabCut;
Rother et al. 2004, ACM Trans. Graph. 23, 309), and the contour of the smoothed result is the outline.

Known to fail: rims of new epithelium, nearly as pink as skin, are left out (12 % of the area where a tenth of the wound
is such a rim); sharply bordered redness, scars and callus may be taken for a wound, and so may nails, creases and the
gaps between toes where no sticker says where to look; wounds over the edge of a limb, with little skin round them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from skimage.measure import find_contours

from calibration.sticker import Points
from measure import skin
from measure.skin import Bytes, Map
from measure.view import View, cut_out, disc

Mask = NDArray[np.bool_]

FRAME_MM = 200.0
"""Without a scale: what the long side of a bedside photo spans."""

_REACH_MM = 100.0  # a wound beside a sticker ends within this of where it is expected
_AIM_SIGMA_MM = 45.0  # from the expected place to the middle of a wound as long as the longest sticker
_SEARCH_SIDE = 448  # px; 0.45 mm each, which shows an area of 10 mm2 as 50 px
_CLOSE_SIDE = 256  # px; finer than the search on wounds up to 55 mm, while a graph cut takes 50 ms
_MARGIN_MM = 1.5  # round a sticker: its cut edge, its shadow, and the blur of both
_BLUR_MM = 0.25  # evens out noise and pores, keeps the edge
_LEVELS = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5)  # units; the lowest is reddened skin, the highest blood
_BAND_MM = 0.8  # width of the inner, half of the outer side of an edge: wider than its blur
_SHARP = 1.5  # units between these bands at an open edge; erythema fades over several times their width
_LEAST_MM2, _MOST_MM2 = 10.0, 12000.0  # below lie moles and nicks; 12000 mm2 fill the window from side to side
_USUAL_MM2 = 160.0  # smaller areas must be the better in all else, because specks are many
_CUT_BY_FRAME = 0.3  # weight of what the frame cuts off: mostly things in the background
_CONVINCING = 0.1  # least score of a wound; rendered feet and limbs without one reach 0.04
_COMPANION, _MOST_WOUNDS = 0.7, 3  # share of the best score that a further wound needs; how many may be in all
_NEAR_MM = 5.0  # the graph cut may widen an area by this much
_ROUND_MM = 8.0  # least width of skin in the closer view
_GAIN = np.array((40.0, 60.0, 40.0), np.float32)  # 8-bit steps a ln unit; redness tells most
_SURE = 0.8  # likeness of skin that no graph cut overrules, or it would flood islands
_ISLAND_MM2 = 4.0  # smaller holes are glare or hair
_SMOOTH_MM = 0.35  # standard deviation; about as far as a hand-drawn line wanders


def propose_by_colour(
    pixels: Bytes, keep_out: Sequence[Points], aim_px: Points | None, mm_per_px: float | None
) -> list[Polygon]:
    """Find what stands out enough from the skin; in photo px.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB, upright.
    keep_out : sequence of ndarray of shape (N, 2)
        Outlines of stickers, in photo px; they and a margin of 1.5 mm are never wound.
    aim_px : ndarray of shape (2,), optional
        Where a wound is expected; without it the middle of the photo.
    mm_per_px : float, optional
        Scale there; without it the long side of the photo is taken for 200 mm.
    """
    last = np.array(pixels.shape[1::-1]) - 1.0
    aim = last / 2 if aim_px is None else np.clip(np.asarray(aim_px, dtype=np.float64), 0.0, last)
    return _shapes(_Photo(pixels, tuple(keep_out), aim, mm_per_px or FRAME_MM / max(pixels.shape[:2])))


def _shapes(photo: "_Photo") -> list[Polygon]:
    """Find the wounds and settle their boundaries; in photo px, none within 1 mm of another."""
    reach = _REACH_MM / photo.mm_per_px
    view = photo.window(photo.aim - reach, photo.aim + reach, _SEARCH_SIDE)
    level = skin.skin_map(view.colour, view.allowed, view.away_mm, view.mm)
    if level is None:
        return []
    shapes: list[Polygon] = []
    for find in _best(sorted(_finds(view, view.colour - level), key=lambda find: -find[0])):
        shape = _settled(photo, view, level, find)
        if shape and not any(shape.distance(other) * photo.mm_per_px < 1.0 for other in shapes):
            shapes.append(shape)
    return shapes


@dataclass(frozen=True, eq=False)
class _Photo:
    pixels: Bytes
    keep_out: tuple[Points, ...]
    aim: Points
    mm_per_px: float

    @cached_property
    def white(self) -> Map:
        """Linear colour of the stickers' paper, shape (3,)."""
        if not self.keep_out:
            return np.ones(3, np.float32)
        corners = np.concatenate(self.keep_out)
        part = self.window(corners.min(axis=0), corners.max(axis=0), _SEARCH_SIDE)
        return skin.paper(part.picture[part.covered(self.keep_out) > 0])

    def window(self, low: Points, high: Points, side: int) -> "_Window":
        """Cut out the part between two corners (x, y), reduced to at most ``side`` px."""
        part = cut_out(self.pixels, low, high, side)
        return _Window(part.picture, part.origin, part.step, self)


@dataclass(frozen=True, eq=False)
class _Window(View):
    """A part of the photo."""

    photo: _Photo

    @cached_property
    def mm(self) -> float:
        """Millimetres a pixel."""
        return self.photo.mm_per_px * float(self.step.mean())

    @cached_property
    def away_mm(self) -> Map:
        """Distance of each pixel from the place where a wound is expected."""
        (x, y), (height, width) = self.from_photo(self.photo.aim), self.picture.shape[:2]
        away_px = np.hypot(np.arange(width) - x, np.arange(height)[:, np.newaxis] - y)
        return np.asarray(self.mm * away_px, dtype=np.float32)

    @cached_property
    def allowed(self) -> Mask:
        """Tell which pixels may be wound."""
        covered = self.covered(self.photo.keep_out)
        return np.asarray(cv2.dilate(covered, disc(_MARGIN_MM / self.mm + 1)) == 0)

    @cached_property
    def colour(self) -> Map:
        """Colour of each pixel, as under white light if a sticker shows paper."""
        calm = cv2.GaussianBlur(self.picture, (0, 0), max(0.4, _BLUR_MM / self.mm))
        return skin.colour(np.asarray(calm, dtype=np.uint8), self.photo.white)


def _finds(view: _Window, difference: Map) -> Iterator[tuple[float, Mask]]:
    """Yield score and mask of each area that stands out at some level."""
    unlike, like = skin.unlike(difference), skin.like(difference)
    for level in _LEVELS:
        mask = np.asarray(((unlike > level) & view.allowed), dtype=np.uint8)
        mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc(0.5 / view.mm)), dtype=np.uint8)
        mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, disc(_BAND_MM / view.mm)), dtype=np.uint8)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4, ltype=cv2.CV_16U)
        scores = _scores(labels, stats, view, unlike, like)
        yield from ((float(scores[label]), labels == label) for label in np.flatnonzero(scores >= _CONVINCING))


def _scores(labels: NDArray[Any], stats: NDArray[Any], view: _Window, unlike: Map, like: Map) -> NDArray[np.float64]:
    """Score each label, 0 to 1: sharp edge x skin round it x near the aim x large enough x whole."""
    inner = np.where(cv2.erode(labels, disc(_BAND_MM / view.mm)) == 0, labels, 0)
    outer = np.where(labels == 0, cv2.dilate(labels, disc(2 * _BAND_MM / view.mm)), 0)
    free, count, area = np.where(view.allowed, outer, 0), len(stats), stats[:, cv2.CC_STAT_AREA] * view.mm**2
    step = _means(inner, unlike, count) - _means(free, unlike, count)
    score = np.clip(step / _SHARP, 0, 1) * _means(free, like, count) * (1 - np.exp(-area / _USUAL_MM2))
    score *= np.exp(-0.5 * (_means(labels, view.away_mm, count) / _AIM_SIGMA_MM) ** 2)
    score *= np.where(_cut(stats, labels), _CUT_BY_FRAME, 1)
    hidden = _means(outer, view.allowed, count) < 0.3  # by a sticker: too little skin to compare with
    score[(area < _LEAST_MM2) | (area > _MOST_MM2) | hidden | (np.arange(count) == 0)] = 0
    return np.asarray(score, dtype=np.float64)


def _means(labels: NDArray[Any], values: NDArray[Any], count: int) -> NDArray[np.float64]:
    """Mean value of the pixels of each label from 1 on, 0 where it has none; shape (count,)."""
    at = np.flatnonzero(labels)
    named = labels.ravel()[at]
    sums = np.bincount(named, values.ravel()[at], count)
    return np.asarray(sums / np.maximum(np.bincount(named, minlength=count), 1), dtype=np.float64)


def _cut(stats: NDArray[Any], labels: NDArray[Any]) -> Mask:
    """Tell which areas touch the border."""
    left, top, width, height = stats.T[:4]
    height_px, width_px = labels.shape
    return np.asarray((left == 0) | (top == 0) | (left + width == width_px) | (top + height == height_px))


def _best(finds: Sequence[tuple[float, Mask]]) -> list[Mask]:
    """Choose the best, and others nearly as good that don't overlap it; ``finds`` start with the best."""
    kept: list[Mask] = []
    for score, mask in finds:
        if len(kept) == _MOST_WOUNDS or score < _COMPANION * finds[0][0]:
            break
        if not any((mask & other).any() for other in kept):
            kept.append(mask)
    return kept


def _settled(photo: _Photo, view: _Window, level: Map, find: Mask) -> Polygon | None:
    """Settle the boundary of a find in a closer view; in photo px, None if too little is left."""
    box = np.array(cv2.boundingRect(find.astype(np.uint8)), dtype=np.float64)
    pad = max(_ROUND_MM / view.mm, box[2:].max() / 2)
    close = photo.window(view.to_photo(box[:2] - pad), view.to_photo(box[:2] + box[2:] + pad), _CLOSE_SIDE)
    difference = close.colour - view.onto(level, close)
    like = skin.like(difference)
    mask = _graph_cut(close, difference, like, view.onto(find.astype(np.float32), close) > 0.5)
    return _traced(_whole(mask, close.mm, like), close)


def _graph_cut(close: _Window, difference: Map, like: Map, seed: Mask) -> Bytes:
    """Divide the pixels into wound (1) and skin (0) by the colours inside and outside the seed."""
    near = cv2.dilate(seed.astype(np.uint8), disc(_NEAR_MM / close.mm)) > 0
    marks = np.select([seed, near], [np.uint8(cv2.GC_PR_FGD), np.uint8(cv2.GC_PR_BGD)], np.uint8(cv2.GC_BGD))
    surely = cv2.morphologyEx((like > _SURE).astype(np.uint8), cv2.MORPH_OPEN, disc(0.6 / close.mm)) > 0
    marks[surely | ~close.allowed] = cv2.GC_BGD
    if 5 <= np.count_nonzero(marks & 1) <= marks.size - 5:  # as many colours are learnt on each side
        flat = np.clip(128 + _GAIN * difference, 0, 255).astype(np.uint8)
        cv2.setRNGSeed(1)
        cv2.grabCut(flat, marks, (0, 0, 0, 0), np.zeros((1, 65)), np.zeros((1, 65)), 2, cv2.GC_INIT_WITH_MASK)
    return np.asarray(marks & 1, dtype=np.uint8)


def _whole(mask: Bytes, mm: float, like: Map) -> Bytes:
    """Keep the largest area, and in it those holes that are islands of skin."""
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc(0.4 / mm)), dtype=np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    stats[0, cv2.CC_STAT_AREA] = 0
    whole = np.asarray((labels == np.argmax(stats[:, cv2.CC_STAT_AREA])) & (labels > 0), dtype=np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(1 - whole, connectivity=4)
    island = (stats[:, cv2.CC_STAT_AREA] * mm**2 >= _ISLAND_MM2) & (_means(labels, like, len(stats)) > 0.5)
    whole[~(island | _cut(stats, labels))[labels]] = 1
    return whole


def _traced(mask: Bytes, close: _Window) -> Polygon | None:
    """Trace the smoothed mask, in photo px; None if too little of it is left."""
    soft = cv2.GaussianBlur(np.pad(mask.astype(np.float32), 2), (0, 0), max(0.5, _SMOOTH_MM / close.mm))
    lines = find_contours(soft, 0.5)  # type: ignore[no-untyped-call] # it ships no types
    limit = np.array(close.photo.pixels.shape[1::-1]) - 0.5
    rings = [np.clip(close.to_photo(line[:, ::-1] - 2.0), -0.5, limit) for line in lines if len(line) > 3]
    outer, *others = sorted([Polygon(), *(Polygon(ring) for ring in rings)], key=lambda ring: -ring.area)
    mm2 = close.photo.mm_per_px**2
    holes = [ring.exterior for ring in others if ring.area * mm2 >= _ISLAND_MM2 and outer.contains(ring)]
    shape = Polygon(outer.exterior, holes)
    return shape if shape.is_valid and shape.area * mm2 >= _LEAST_MM2 else None
