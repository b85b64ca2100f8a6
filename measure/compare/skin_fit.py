"""Lays a later photo over an earlier one by the skin round the wound: creases, pores, spots and scars that stay.

The skin is what doesn't heal: unlike outlines it tells an edge that advanced on one side from a shift. Coarse marks
propose where the later photo may lie, over all turns; then patches of finer marks are looked for one by one, and a
placement counts only where many patches agree on it. Skin that was wet, dressed,
shaved or seen in another light may not agree; then nothing is said here.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import scipy.fft
from numpy.typing import NDArray

from calibration.sticker import Points
from measure.compare.placement import Placement, about
from measure.flat import Mask
from measure.photo import Pixels
from measure.skin import Map

STEP_MM = 0.5
"""Of a pixel of the finer marks: pores and creases are up to a mm wide."""

REACH_MM = 28.0
"""Of the skin that is looked at, from the earlier wound's edge."""

KEEP_OFF_MM = 3.0
"""Between the wound's edge, or a sticker, and the skin that is looked at: rims change, stickers cast shadows."""

MOST_SHIFT_MM = 14.0
"""Of the later wound's middle from the earlier one's."""

LEAST_PATCHES, LEAST_SHARE = 4, 0.2
"""More patches than the first number and this share of those looked for must agree. By chance a patch is found within
`_SAME_MM` of where a placement puts it in 5 % of all cases, and the best of all pairs among 30 gathers about 5."""

_COARSE = 2  # finer pixels a coarse one
_TURNS_DEG = np.arange(-180.0, 180.0, 4.0)
_CANDIDATES = 16
_PATCH_PX = 16  # of a patch's side: 8 mm; patches do not overlap, so that each has a say of its own
_SEARCH_PX = (9, 5, 5)  # of a patch, to each side, in one round after another: 4.5 mm
_SAME_MM = 1.0
_LEAST_LIKENESS = 0.3  # normalised correlation of a patch with where it was found
_MOST_TURN_DEG = 8.0  # of what a round corrects: candidates are half as far apart
_LEAST_FULL = 0.6  # of a patch that is skin
_LEAST_TURN_DEG = 0.15  # standard uncertainty: the axes of neither sticker are known better
_WORST_MM = 1.0  # of the shift at the wound, whose middle may lie far from the patches that agree


@dataclass(frozen=True, eq=False)
class Marks:
    """What is left of a picture of skin when light and colour are taken out of it.

    Attributes
    ----------
    fine, coarse : ndarray of float32
        About 0 with a standard deviation of about 1, 0 where no skin is; the coarse one has half the pixels a side.
    skin, coarse_skin : ndarray of float32
        1 where skin is.
    """

    fine: Map
    skin: Map
    coarse: Map
    coarse_skin: Map


@dataclass(frozen=True)
class Found:
    """A placement that the skin agrees on.

    Attributes
    ----------
    placement : Placement
        In the picture: from where the later photo was laid to where it belongs.
    turn_sigma_deg, shift_sigma_mm : float
        Standard uncertainties at the wound; the shift's is no less than the scatter of a single patch: skin stretches.
    patches, agreeing : int
    """

    placement: Placement
    turn_sigma_deg: float
    shift_sigma_mm: float
    patches: int
    agreeing: int


def marks_of(pixels: Pixels, skin: Mask) -> Marks:
    """Take light and colour out of a picture.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (h, w, 3)
        RGB, `STEP_MM` a pixel.
    skin : ndarray of bool, shape (h, w)
    """
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    share = skin.astype(np.float32)
    small = cv2.resize(grey * share, None, fx=1 / _COARSE, fy=1 / _COARSE, interpolation=cv2.INTER_AREA)
    small_share = cv2.resize(share, None, fx=1 / _COARSE, fy=1 / _COARSE, interpolation=cv2.INTER_AREA)
    full = (small_share > 0.99).astype(np.float32)
    mean = np.asarray(small / np.maximum(small_share, 0.01), dtype=np.float32)
    return Marks(_evened(grey, share, 0.6, 2.5), share, _evened(mean, full, 0.8, 3.5), full)


def _evened(grey: Map, share: Map, finest_px: float, coarsest_px: float) -> Map:
    """Keep what is neither finer nor coarser than some pixels, and bring its contrast to 1 everywhere."""
    band = _blurred(grey, share, finest_px) - _blurred(grey, share, coarsest_px)
    contrast = np.sqrt(_blurred(np.square(band), share, 3 * coarsest_px)) + 0.3
    return np.asarray(np.clip(band / contrast, -2.5, 2.5) * share, dtype=np.float32)


def _blurred(values: Map, share: Map, sigma_px: float) -> Map:
    """Blur what lies in the mask without what lies outside of it."""
    weight = cv2.GaussianBlur(share, (0, 0), sigma_px)
    return np.asarray(cv2.GaussianBlur(values * share, (0, 0), sigma_px) / np.maximum(weight, 1e-3), dtype=np.float32)


def find(
    earlier: Marks, later: Marks, low_mm: Points, guesses: list[Placement], turns_deg: NDArray[np.float64] = _TURNS_DEG
) -> Found | None:
    """Find where the later picture belongs on the earlier one; None where the skin doesn't agree on a place.

    Parameters
    ----------
    earlier, later : Marks
        Of two pictures of one size and place.
    low_mm : ndarray of shape (2,)
        Of their first pixel; the earlier wound's middle lies at the origin, and the later one's too.
    guesses : list of Placement
        Where it may lie by other reasons; a turn that is off by some degrees does no harm.
    turns_deg : ndarray of shape (N,)
        That are tried beside them.
    """
    tried = [*guesses, *_candidates(earlier, later, low_mm, turns_deg)]
    found = [_agreed(earlier, later, low_mm, guess, _SEARCH_PX[:1]) for guess in tried]
    good = [each for each in found if each]
    if not good:
        return None
    best = max(good, key=lambda each: each.agreeing)
    return _agreed(earlier, later, low_mm, best.placement, _SEARCH_PX[1:])


# Coarse marks


def _candidates(earlier: Marks, later: Marks, low_mm: Points, turns_deg: NDArray[np.float64]) -> list[Placement]:
    """Return the placements at which the coarse marks are most alike, one a turn."""
    step = STEP_MM * _COARSE
    most = int(MOST_SHIFT_MM / step)
    shape = [scipy.fft.next_fast_len(side + most, real=True) for side in earlier.coarse.shape]
    still = [scipy.fft.rfft2(each, shape) for each in (earlier.coarse, np.square(earlier.coarse), earlier.coarse_skin)]
    least = 0.25 * float(min(earlier.coarse_skin.sum(), later.coarse_skin.sum()))
    found = []
    for turn in turns_deg.tolist():
        turned = [_laid(each, Placement(turn), low_mm, step) for each in (later.coarse, later.coarse_skin)]
        moving = [np.conj(scipy.fft.rfft2(each, shape)) for each in (turned[0], np.square(turned[0]), turned[1])]
        pairs = ((still[0], moving[0]), (still[1], moving[2]), (still[2], moving[1]), (still[2], moving[2]))
        product, first, second, common = (_near(scipy.fft.irfft2(one * other, shape), most) for one, other in pairs)
        likeness = product / np.sqrt(np.maximum(first * second, 1.0))
        likeness[common < least] = -1
        row, column = np.unravel_index(int(likeness.argmax()), likeness.shape)
        shift = (float(column - most) * step, float(row - most) * step)
        found.append((float(likeness[row, column]) * np.sqrt(common[row, column]), Placement(turn, shift)))
    found.sort(key=lambda each: -each[0])
    return [placement for _, placement in found[:_CANDIDATES]]


def _near(correlation: Map, most: int) -> Map:
    """Return a correlation at shifts of up to ``most`` pixels, the least first."""
    return np.asarray(np.roll(correlation, (most, most), axis=(0, 1))[: 2 * most + 1, : 2 * most + 1])


def _laid(values: Map, placement: Placement, low_mm: Points, step_mm: float) -> Map:
    """Move a picture."""
    corners = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]) * step_mm + low_mm
    origin, right, down = (placement.moved(corners) - low_mm) / step_mm
    matrix = np.column_stack([right - origin, down - origin, origin])
    return np.asarray(cv2.warpAffine(values, matrix, values.shape[::-1], flags=cv2.INTER_LINEAR), dtype=np.float32)


# Patches of fine marks


def _agreed(
    earlier: Marks, later: Marks, low_mm: Points, placement: Placement, searches: tuple[int, ...]
) -> Found | None:
    """Look for each patch near a placement, and return the placement that most of them agree on."""
    found = None
    for search in searches:
        places, shifts, patches = _found_patches(earlier, later, low_mm, placement, search)
        same = _same(places, shifts)
        if same.sum() <= LEAST_PATCHES + LEAST_SHARE * patches:
            return None
        turn, shift, scatter = _rigid(places[same], shifts[same])
        middle = places[same].mean(axis=0)
        placement = placement.then(about(middle, turn, shift))
        lever = float(np.sqrt(np.square(places[same] - middle).sum()))
        scatter = max(scatter, 0.5 * STEP_MM / np.sqrt(12))
        sigma = float(np.hypot(scatter, scatter / lever * np.linalg.norm(middle)))
        turn_sigma = max(float(np.degrees(scatter / lever)), _LEAST_TURN_DEG)
        found = Found(placement, turn_sigma, sigma, patches, int(same.sum()))
    return found if found and found.shift_sigma_mm < _WORST_MM else None


def _found_patches(
    earlier: Marks, later: Marks, low_mm: Points, placement: Placement, search: int
) -> tuple[Points, Points, int]:
    """Return the middles of patches, by how much each is off, in mm, and how many were looked for."""
    laid, skin = (_laid(each, placement, low_mm, STEP_MM) for each in (later.fine, later.skin))
    height, width = laid.shape
    places, shifts, count = [], [], 0
    half = _PATCH_PX // 2
    for top in range(search, height - _PATCH_PX - search, _PATCH_PX):
        for left in range(search, width - _PATCH_PX - search, _PATCH_PX):
            here = slice(top, top + _PATCH_PX), slice(left, left + _PATCH_PX)
            if min(float(skin[here].mean()), float(earlier.skin[here].mean())) < _LEAST_FULL:
                continue
            count += 1
            wide = earlier.fine[top - search : top + _PATCH_PX + search, left - search : left + _PATCH_PX + search]
            likeness = cv2.matchTemplate(wide, laid[here], cv2.TM_CCOEFF_NORMED)
            off = _peak(np.asarray(likeness, dtype=np.float32), search)
            if off is not None:
                places.append(low_mm + (np.array((left, top)) + half - 0.5) * STEP_MM)
                shifts.append(off * STEP_MM)
    return np.reshape(places, (-1, 2)), np.reshape(shifts, (-1, 2)), count


def _peak(likeness: Map, search: int) -> Points | None:
    """Return where a patch is most alike, to parts of a pixel; None at the border, or where it is like nothing."""
    row, column = np.unravel_index(int(likeness.argmax()), likeness.shape)
    if likeness[row, column] < _LEAST_LIKENESS or not (0 < row < 2 * search and 0 < column < 2 * search):
        return None
    x = _top(likeness[row, column - 1 : column + 2])
    y = _top(likeness[row - 1 : row + 2, column])
    return np.array([column - search + x, row - search + y])


def _top(three: Map) -> float:
    """Return where a parabola through three values is highest, from the middle one."""
    before, here, after = three.tolist()
    bend = before - 2 * here + after
    return 0.5 * (before - after) / bend if bend < 0 else 0.0


def _same(places: Points, shifts: Points) -> Mask:
    """Return which patches agree with the rigid move on which most of them agree (by all pairs of them)."""
    if len(places) <= LEAST_PATCHES:
        return np.zeros(len(places), dtype=np.bool_)
    ones, others = np.triu_indices(len(places), 1)
    along, ends = (each[others] - each[ones] for each in (places, places + shifts))
    turns = np.arctan2(_cross(along, ends), (along * ends).sum(axis=1))
    away = places - (places[ones] + places[others])[:, None] / 2
    c, s = np.cos(turns)[:, None], np.sin(turns)[:, None]
    turned = np.stack([c * away[..., 0] - s * away[..., 1], s * away[..., 0] + c * away[..., 1]], axis=-1)
    off = turned - away + (shifts[ones] + shifts[others])[:, None] / 2 - shifts
    near = (np.linalg.norm(off, axis=2) < _SAME_MM) & (np.abs(turns)[:, None] < np.radians(_MOST_TURN_DEG))
    return np.asarray(near[near.sum(axis=1).argmax()])


def _cross(one: Points, other: Points) -> Points:
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])


def _rigid(places: Points, shifts: Points) -> tuple[float, Points, float]:
    """Fit a turn in degrees about the places' middle and a shift; return them and the scatter in x or y, in mm."""
    middle, shift = places.mean(axis=0), shifts.mean(axis=0)
    away, ends = places - middle, places - middle + shifts - shift
    turn = np.arctan2(_cross(away, ends).sum(), (away * ends).sum())
    left = ends - Placement(float(np.degrees(turn))).moved(away)
    return float(np.degrees(turn)), shift, float(np.sqrt(np.square(left).sum() / max(1, 2 * len(places) - 3)))
