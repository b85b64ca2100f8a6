"""Proposes a first outline from colour alone; needs no weights, and a person corrects it.

The skin explains itself: its level of brightness, redness (ln R/G) and yellowness (ln G/B) is estimated from the photo
as a smooth map, so that skin tone, cast and uneven light cancel in the difference to it. What is redder, yellower and
paler, or clearly lighter or darker than the skin stands out; of all connected areas that do so at any of ten levels,
those are taken that have a sharp edge, skin all round, and lie where a wound is expected. In a closer view of each,
a graph cut settles the boundary between the colours inside and outside (GrabCut; Rother et al. 2004, ACM Trans.
Graph. 23, 309), and the contour of the smoothed result is returned.

Known to fail: new epithelium and sharply bordered redness, which have almost the same colour; wounds in pale callus,
whose rim may be taken in; eschar on very dark skin in shadow; nails, deep creases and gaps between toes, which may be
taken for a wound where no sticker says where it is; wounds over the edge of a limb, with little skin round them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from skimage.measure import find_contours

from calibration.sticker import Points
from measure.outline import Outline, from_polygon, simplify

METHOD = "colour 1"
"""Name and version, stored with every result."""

Map = NDArray[np.float32]
Mask = NDArray[np.bool_]

_FRAME_MM = 200.0  # without a scale: what the long side of a bedside photo usually spans
_REACH_MM = 100.0  # a wound beside a sticker ends within this of the place where it is expected
_AIM_SIGMA_MM = 45.0  # wounds up to twice as far from the sticker as intended lose little; beyond, other things begin
_SEARCH_SIDE = 448  # px: 0.45 mm each, enough to tell a wound of 4 mm from a speck
_CLOSE_SIDE = 320  # px: the boundary is then placed within 0.1 mm on wounds up to 20 mm; more only costs time
_MARGIN_MM = 1.5  # round a sticker: its cut edge, its shadow and the blur of both
_DARK = 0.012  # linear; about 28 in 8 bits: below it, noise and black clothes would have loud colours
_SKIN_STEP_MM = 1.5  # the skin's level changes slowly, so it is estimated on this grid
_SKIN_SIGMA_MM = 22.0  # wider than shading of a limb, narrower than half of it
_SKIN_SPREAD = np.array((0.5, 0.18, 0.25), np.float32)  # of skin in brightness, redness, yellowness: 2 sigma of mottle
_LEAST_SKIN = 0.03  # of the window; with less there is nothing to compare with
_RED, _YELLOW = 0.16, 0.22  # ln units: how far reddened or tanned skin strays
_BRIGHT = 0.4  # ln units: half-shadow, veins and hair stay within; beyond it, the same amount counts as one
_MOST = 6.0  # unlike skin beyond doubt
_LEVELS = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5)
_SHARP = 2.0  # step of unlikeness over 2 mm at an open wound's edge; redness and bruises fade over 5 mm and more
_LEAST_MM2, _MOST_MM2 = 10.0, 12000.0  # below lie moles and nicks; above, clothes and the far background
_USUAL_MM2 = 160.0  # smaller areas must stand out more: specks are more frequent than small wounds
_CONVINCING = 0.3
_COMPANION = 0.5  # of the best find's score, for a second wound
_MOST_WOUNDS = 3
_ISLAND_MM2 = 4.0  # smaller holes are glare or hair
_SMOOTH_MM = 0.35  # standard deviation, 0.8 mm across at half height: keeps corners that a nurse would draw
_TOLERANCE_MM = 0.15


@dataclass(frozen=True, eq=False)
class Proposal:
    """Outlines that a method suggests.

    Attributes
    ----------
    outlines : tuple of Outline
        In photo pixels, largest first; empty where no wound was found.
    method : str
        Name and version of the method.
    """

    outlines: tuple[Outline, ...]
    method: str


def propose_outlines(
    pixels: NDArray[np.uint8],
    *,
    keep_out: Sequence[Points] = (),
    aim_px: Points | None = None,
    mm_per_px: float | None = None,
) -> Proposal:
    """Propose the outlines of the wounds in a photo, or none where nothing stands out from the skin.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB, upright.
    keep_out : sequence of ndarray of shape (N, 2)
        Polygons in photo px that can't be wound, such as the outline of a sticker.
    aim_px : ndarray of shape (2,), optional
        Where a wound is expected; without it the middle of the photo.
    mm_per_px : float, optional
        Scale there; without it the long side of the photo is taken to span 200 mm.
    """
    photo = _Photo.of(pixels, keep_out, aim_px, mm_per_px)
    view = photo.window(photo.aim_px - _REACH_MM / photo.mm_per_px, photo.aim_px + _REACH_MM / photo.mm_per_px, _SEARCH_SIDE)
    level = _skin_level(view)
    if level is None:
        return Proposal((), METHOD)
    finds = _best(list(_finds(view, view.colour - level)))
    shapes = [shape for find in finds for shape in _settled(photo, view, level, find)]
    shapes = [shape for i, shape in enumerate(shapes) if not any(shape.intersects(other) for other in shapes[:i])]
    shapes.sort(key=lambda shape: -shape.area)
    tolerance = _TOLERANCE_MM / photo.mm_per_px
    return Proposal(tuple(simplify(from_polygon(shape), tolerance) for shape in shapes), METHOD)


@dataclass(frozen=True, eq=False)
class _Window:
    """A part of the photo, reduced; ``origin`` is its corner and ``step`` its pixel, both (x, y) in photo px.

    ``allowed`` tells pixels that may be wound, ``white`` is the linear colour of paper, greatest channel 1.
    """

    picture: NDArray[np.uint8]
    allowed: Mask
    origin: Points
    step: Points
    mm: float
    aim: Points
    white: Map

    def to_photo(self, points: Points) -> Points:
        return (points + 0.5) * self.step - 0.5 + self.origin

    def to_window(self, points: Points) -> Points:
        return (points - self.origin + 0.5) / self.step - 0.5

    @cached_property
    def colour(self) -> Map:
        """Brightness, redness and yellowness in ln units, shape (H, W, 3)."""
        light = np.log(_LINEAR[cv2.GaussianBlur(self.picture, (0, 0), max(0.4, 0.25 / self.mm))] / self.white + _DARK)
        red, green, blue = cv2.split(light)
        return np.dstack([0.3 * red + 0.6 * green + 0.1 * blue, red - green, green - blue])


@dataclass(frozen=True, eq=False)
class _Photo:
    pixels: NDArray[np.uint8]
    keep_out: Sequence[Points]
    aim_px: Points
    mm_per_px: float

    @classmethod
    def of(cls, pixels, keep_out, aim_px, mm_per_px):
        height, width = pixels.shape[:2]
        corner = np.array((width - 1.0, height - 1.0))
        aim = corner / 2 if aim_px is None else np.clip(np.asarray(aim_px, np.float64), 0, corner)
        return cls(pixels, keep_out, aim, mm_per_px or _FRAME_MM / max(height, width))

    def window(self, low: Points, high: Points, side: int, white: Map | None = None) -> _Window:
        """Cut out the part from ``low`` to ``high`` (x, y), reduced to at most ``side`` px."""
        height, width = self.pixels.shape[:2]
        left, top = np.clip(np.floor(low), 0, (width - 1, height - 1)).astype(int)
        right, bottom = np.clip(np.ceil(high), 0, (width - 1, height - 1)).astype(int) + 1
        part = self.pixels[top:bottom, left:right]
        scale = max(1.0, max(part.shape[:2]) / side)
        size = (max(1, round(part.shape[1] / scale)), max(1, round(part.shape[0] / scale)))
        picture = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
        origin, step = np.array((left, top), float), np.array((part.shape[1] / size[0], part.shape[0] / size[1]))
        mm = self.mm_per_px * float(step.mean())
        covered = np.zeros(picture.shape[:2], np.uint8)
        for ring in self.keep_out:
            cv2.fillPoly(covered, [np.rint((ring - origin + 0.5) / step - 0.5).astype(np.int32)], 1)
        allowed = cv2.dilate(covered, _disc(_MARGIN_MM / mm + 1)) == 0
        if white is None:
            white = _paper(picture[covered > 0])
        aim = (self.aim_px - origin + 0.5) / step - 0.5
        return _Window(picture, allowed, origin, step, mm, aim, white)


def _linear() -> Map:
    value = np.arange(256) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


_LINEAR = _linear()


def _paper(covered: NDArray[np.uint8]) -> Map:
    """White of the sticker's paper..."""
    unclipped = covered[covered.max(axis=1) < 252] if len(covered) else covered
    if len(unclipped) < 50:
        return np.ones(3, np.float32)
    brightness = unclipped.sum(axis=1, dtype=np.int32)
    white = np.median(_LINEAR[unclipped[brightness >= np.quantile(brightness, 0.8)]], axis=0)
    return (white / white.max()).astype(np.float32)


def _disc(radius: float) -> NDArray[np.uint8]:
    side = 2 * max(1, round(radius)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))


def _skin_level(view: _Window) -> Map | None:
    height, width = view.picture.shape[:2]
    factor = max(1.0, _SKIN_STEP_MM / view.mm)
    size = max(1, round(width / factor)), max(1, round(height / factor))
    colour = cv2.resize(view.colour, size, interpolation=cv2.INTER_AREA)
    allowed = cv2.resize(view.allowed.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    plausible = allowed * _plausible_skin(colour)
    if plausible.mean() < _LEAST_SKIN:
        return None
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    away = np.hypot(x - view.aim[0] / factor, y - view.aim[1] / factor) * view.mm * factor
    plausible = plausible * (0.2 + np.exp(-0.5 * (away / 50.0) ** 2)).astype(np.float32)
    usual = _usual(colour.reshape(-1, 3), plausible.ravel())
    level = np.broadcast_to(usual, colour.shape)
    sigma = _SKIN_SIGMA_MM / (view.mm * factor)
    for _ in range(3):
        weight = plausible * _near(colour - level, _SKIN_SPREAD)
        total = cv2.GaussianBlur(weight, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
        colours = cv2.GaussianBlur(colour * weight[..., None], (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
        level = (colours + 0.02 * usual) / (total[..., None] + 0.02)
    return cv2.resize(level.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)


def _plausible_skin(colour: Map) -> Map:
    low, high = np.array((-4.2, 0.2, -0.05), np.float32), np.array((0.2, 1.1, 1.3), np.float32)
    soft = np.array((0.13, 0.033, 0.05), np.float32)
    outside = np.maximum(np.maximum(low - colour, colour - high), 0)
    return _near(outside, 2 * soft)


def _near(difference: Map, spread: Map) -> Map:
    return np.exp(-0.5 * ((difference / spread) ** 2).sum(axis=-1))


def _usual(colour: Map, weight: Map) -> Map:
    """Mode by mean shift from the weighted median."""
    order = np.argsort(colour, axis=0)
    running = np.cumsum(weight[order], axis=0)
    middle = (running < running[-1] / 2).sum(axis=0)
    usual = np.take_along_axis(colour, np.take_along_axis(order, middle[None], 0), 0)[0]
    for _ in range(8):
        near = weight * _near(colour - usual, np.array((0.6, 0.25, 0.3), np.float32))
        usual = (near @ colour) / max(float(near.sum()), 1e-6)
    return usual.astype(np.float32)


def _unlike_skin(difference: Map) -> Map:
    bright, red, yellow = cv2.split(difference)
    yellow = np.maximum(yellow, 0)
    yellow = yellow + np.minimum(np.maximum(-red, 0), yellow)
    bright = np.maximum(np.abs(bright) / _BRIGHT - 1, 0)
    return np.minimum(np.sqrt((np.maximum(red, 0) / _RED) ** 2 + (yellow / _YELLOW) ** 2 + bright**2), _MOST)


_SKIN_WIDE = np.array((0.7, 0.3, 0.4), np.float32)


@dataclass(frozen=True, eq=False)
class _Find:
    mask: Mask
    level: float
    score: float


def _finds(view: _Window, difference: Map) -> Iterator[_Find]:
    unlike, skin = _unlike_skin(difference), _near(difference, _SKIN_WIDE)
    x, y = np.meshgrid(np.arange(unlike.shape[1]), np.arange(unlike.shape[0]))
    away = np.hypot(x - view.aim[0], y - view.aim[1]) * view.mm
    for level in _LEVELS:
        mask = ((unlike > level) & view.allowed).astype(np.uint8)
        mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _disc(0.5 / view.mm))
        mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, _disc(0.8 / view.mm))
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
        labels = labels.astype(np.uint16)
        wide = cv2.dilate(labels, _disc(1.6 / view.mm))
        ring = np.where((labels == 0), wide, 0)
        inner = np.where(cv2.erode(mask, _disc(0.8 / view.mm)) == 0, labels, 0)
        def mean(where, values):
            n = np.bincount(where.ravel(), minlength=count); return np.bincount(where.ravel(), values.ravel(), count) / np.maximum(n, 1)
        seen = mean(ring, view.allowed)
        ringa = np.where(view.allowed, ring, 0)
        step = mean(inner, unlike) - mean(ringa, unlike)
        around = mean(ringa, skin)
        dist = mean(labels, away)
        area = stats[:, 4] * view.mm**2
        edge = (stats[:, 0] == 0) | (stats[:, 1] == 0) | (stats[:, 0] + stats[:, 2] == unlike.shape[1]) | (stats[:, 1] + stats[:, 3] == unlike.shape[0])
        score = np.minimum(step / _SHARP, 1) * around * np.exp(-0.5 * (dist / _AIM_SIGMA_MM) ** 2) * (1 - np.exp(-area / _USUAL_MM2)) * np.where(edge, .3, 1)
        ok = (area > _LEAST_MM2) & (area < _MOST_MM2) & (seen > 0.3)
        for i in np.flatnonzero(ok):
            if i: yield _Find(labels == i, level, float(score[i]))


def _best(finds):
    finds = sorted(finds, key=lambda f: -f.score)
    if not finds or finds[0].score < _CONVINCING: return []
    kept = []
    for f in finds:
        if f.score < max(_CONVINCING, _COMPANION * finds[0].score) or len(kept) == _MOST_WOUNDS: break
        if not any((f.mask & k.mask).any() for k in kept): kept.append(f)
    return kept

GC = dict(scale=(30., 60., 40.), near=5., core=.6, iters=3, core_label=cv2.GC_FGD)

def _settled(photo, view, level, find):
    rows, columns = np.nonzero(find.mask)
    low, high = np.array((columns.min(), rows.min())), np.array((columns.max(), rows.max()))
    pad = np.maximum(8 / view.mm, 0.5 * (high - low).max())
    low, high = np.maximum(low - pad, 0).astype(int), np.minimum(high + pad, np.array(find.mask.shape[::-1]) - 1).astype(int)
    close = photo.window(view.to_photo(low - .5), view.to_photo(high + .5), _CLOSE_SIDE, view.white)
    h, w = close.picture.shape[:2]
    m = np.array([[*(close.step / view.step)]]).ravel()
    off = view.to_window(close.to_photo(np.zeros(2)))
    A = np.array([[m[0], 0, off[0]], [0, m[1], off[1]]])
    warp = lambda a, f: cv2.warpAffine(a, A, (w, h), flags=f | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)
    diff = close.colour - warp(level, cv2.INTER_LINEAR)
    seed = (warp(find.mask.astype(np.float32), cv2.INTER_LINEAR) > .5).astype(np.uint8)
    mm = close.mm
    unlike = _unlike_skin(diff)
    if GC['iters']:
        img = np.clip(128 + diff * np.array(GC['scale'], np.float32), 0, 255).astype(np.uint8)
        g = np.full((h, w), cv2.GC_BGD, np.uint8)
        g[cv2.dilate(seed, _disc(GC['near'] / mm)) > 0] = cv2.GC_PR_BGD
        g[seed > 0] = cv2.GC_PR_FGD
        g[(cv2.erode(seed, _disc(GC['core'] / mm)) > 0) & (unlike > find.level)] = GC['core_label']
        g[~close.allowed] = cv2.GC_BGD
        cv2.setRNGSeed(1)
        if (g & 1).any() and not (g & 1).all():
            cv2.grabCut(img, g, None, np.zeros((1, 65)), np.zeros((1, 65)), GC['iters'], cv2.GC_INIT_WITH_MASK)
        seed = g & 1
    return _shapes(close, seed, _near(diff, _SKIN_WIDE))

def _shapes(close, mask, skin):
    mm = close.mm
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _disc(.4 / mm))
    n, lab, st, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    if n < 2: return
    i = 1 + int(np.argmax(st[1:, 4]))
    if st[i, 4] * mm * mm < _LEAST_MM2: return
    mask = (lab == i).astype(np.uint8)
    n, lab, st, _ = cv2.connectedComponentsWithStats(1 - np.pad(mask, 1), connectivity=4)
    lab = lab[1:-1, 1:-1]
    for j in range(1, n):
        if st[j, 0] == 0: continue
        if st[j, 4] * mm * mm < _ISLAND_MM2 or skin[lab == j].mean() < .5: mask[lab == j] = 1
    soft = cv2.GaussianBlur(np.pad(mask.astype(np.float32), 2), (0, 0), max(_SMOOTH_MM / mm, .5))
    if mask.max() == 0: return
    rings = sorted((close.to_photo(l[:, ::-1] - 2.) for l in find_contours(soft, .5)), key=lambda r: -Polygon(r).area)
    if not rings: return
    shape = Polygon(rings[0], [r for r in rings[1:] if Polygon(r).area * (close.mm/close.step.mean())**2 >= _ISLAND_MM2 and Polygon(rings[0]).contains(Polygon(r))])
    if shape.is_valid: yield shape
