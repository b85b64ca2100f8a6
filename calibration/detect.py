"""Finds the stickers in a photo: coded markers name them, saddle points place them.

Markers are looked for on a reduced picture first and on the working picture only where that did not suffice.
Each group of markers that fits one layout predicts where the saddle points of the hem lie; those are refined, checked
against the colours of their four cells, and used to predict the next ones farther out. A group without enough such
points is not a sticker: other people's markers, boards and prints don't pass.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import StickerCutOffError, StickerMirroredError, StickerNotFoundError
from calibration.legibility import unreadable_error
from calibration.projection import project
from calibration.sticker import DICTIONARY, LAYOUTS, Layout, Points

Gray = NDArray[np.uint8]

MIN_SADDLES = 6
"""Saddle points that make a sticker. A plane needs 4; two more leave residuals to judge it by, and a tile with a third
of it covered still shows 6."""

_WORKING_SIDE = 4032  # px: more adds no precision, since a lens blurs over as much; less would lose far stickers
_SEARCH_SIDE = 2016  # px: markers of a photo taken at arm's length are found here, four times as fast
_ROUNDS_MM = (8.0, 14.0, 25.0, 50.0, np.inf)  # how far from known points saddles are looked for, round by round
_WINDOW_SHARE = 0.55  # of a cell: a smaller window fails under blur, a larger one reaches the next saddle
_WINDOW_RANGE = (3, 15)  # px: fewer hold no edge, more only cost time
_SMALL_REACH_PX = 6.5  # px: below it the cut-out is enlarged, which halves the error of small saddles
_LEAST_PERIMETER_PX = 24.0  # of a marker, a pixel a cell; smaller ones can't be read, and a stippled picture has many
_SAME_PX = 2.0  # saddle points as close as this are one
_ALONE_SHARE = 0.15  # of a layout's saddle points that one marker alone needs: other boards share a marker by chance
_SADDLE_PX = 0.2  # standard deviation of a saddle point while looking for the next ones
_CORNER_PX = 1.0  # and of a marker's corner
_LEAST_DOUBT_PX = 1.5  # a saddle point as close as this to the fit is not doubted yet
_BENT_PX = 0.4  # median distance from one homography beyond which a sticker is bent
_FOLLOWING_MM = 7.5  # how far from known points the next ones are looked for on a bent sticker
_FOLLOWING_ROUNDS = 16
_LEADERS, _LEAST_LEADERS = 10, 4  # known points that lead to the next one
_LEADING_MM = 22.0  # and how far they may lie from it
_PERSPECTIVE_PER_MM = 0.004  # growth of depth a mm: a tilt of 45 degrees seen from 250 mm
_MIN_CELL_PX = 4.0  # px a cell of the hem, across its short side: below it a saddle point is a smudge
_MIN_CONTRAST = 0.12  # (white - black) / (white + black) of encoded values; a shadow keeps it, a cover does not
_MAX_UNEVENNESS = 0.7  # of the gap between black and white: more within one cell is the edge of a cover
_CORNER_SIGMA = 60.0  # a marker corner against a saddle point: read to a px or two, and moved inward by blur


@dataclass(frozen=True, eq=False)
class Sticker:
    """One sticker found in a photo.

    Attributes
    ----------
    layout : Layout
        Which one.
    points_px, points_mm : ndarray of shape (N, 2)
        Matched points in the photo and on the layout: saddle points first, then marker corners.
    weight_sigma : ndarray of shape (N,)
        Standard deviation of each point relative to a saddle point's.
    saddles : int
        How many of the N points are saddle points.
    cut_off : bool
        Whether part of the sticker lies outside the photo.
    """

    layout: Layout
    points_px: Points
    points_mm: Points
    weight_sigma: NDArray[np.float64]
    saddles: int
    cut_off: bool

    @property
    def share_seen(self) -> float:
        """Share of the layout's saddle points that were matched."""
        return self.saddles / len(self.layout.saddles)


@dataclass(frozen=True, eq=False)
class _Found:
    """A decoded marker: its number and its corners (4, 2) in px of the working picture."""

    number: int
    corners: Points


@dataclass(frozen=True, eq=False)
class _Candidate:
    """Markers that fit one layout, with the homography (3, 3) from its mm to px that they suggest."""

    layout: Layout
    markers: tuple[_Found, ...]

    def pairs(self) -> tuple[Points, Points]:
        """Corners on the layout in mm and in the picture in px, each of shape (4 M, 2)."""
        places = {marker.number: marker.place.corners for marker in self.layout.markers}
        mm = np.concatenate([places[found.number] for found in self.markers])
        return mm, np.concatenate([found.corners for found in self.markers])


def find_stickers(pixels: NDArray[np.uint8]) -> tuple[Sticker, ...]:
    """Find every sticker of a known layout, the one with the most points first.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3) or (H, W)
        8-bit RGB or grey, upright.

    Returns
    -------
    tuple of Sticker
        At least one; points in px of the full photo.

    Raises
    ------
    StickerNotFoundError
        If nothing looks like a sticker.
    StickerCutOffError
        If markers of a sticker were read, but too few of its saddle points can be seen.
    StickerMirroredError
        If the photo is a mirror image.
    """
    gray, scale = _working_picture(pixels)
    candidates = list(_candidates(gray))
    found = [sticker for sticker in (_locate(gray, candidate) for candidate in candidates) if sticker]
    if not found:
        raise _explain(gray, candidates)
    found.sort(key=lambda sticker: -sticker.saddles)
    return tuple(_to_full_size(sticker, scale) for sticker in _once(found))


def _once(found: list[Sticker]) -> list[Sticker]:
    """Keep the best of what was found twice: markers of a sticker bent round a limb may come in several groups."""
    kept: list[Sticker] = []
    for sticker in found:
        own = sticker.points_px[: sticker.saddles]
        known = [other.points_px[: other.saddles] for other in kept]
        if not any(_distances(own, other).min(axis=1).min() < _SAME_PX for other in known):
            kept.append(sticker)
    return kept


def _distances(points: Points, others: Points) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(points[:, None] - others[None], axis=2))


def _working_picture(pixels: NDArray[np.uint8]) -> tuple[Gray, Points]:
    """Grey picture of at most `_WORKING_SIDE`, and how many photo pixels one of its pixels spans in x and in y."""
    gray = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    return _reduce(np.asarray(gray, dtype=np.uint8), _WORKING_SIDE)


def _reduce(gray: Gray, side: int) -> tuple[Gray, Points]:
    scale = max(gray.shape) / side
    if scale <= 1.0:
        return gray, np.ones(2)
    size = (round(gray.shape[1] / scale), round(gray.shape[0] / scale))
    smaller = np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return smaller, np.array(gray.shape[::-1]) / size


def _to_full_size(sticker: Sticker, scale: Points) -> Sticker:
    """Move points from the working picture to the photo; pixel centres are whole numbers in both."""
    points = (sticker.points_px + 0.5) * scale - 0.5
    return Sticker(sticker.layout, points, sticker.points_mm, sticker.weight_sigma, sticker.saddles, sticker.cut_off)


def _explain(gray: Gray, candidates: list[_Candidate]) -> Exception:
    """Return the error that says best why no sticker was found."""
    partly = [candidate for candidate in candidates if len(candidate.markers) > 1]
    if partly:
        name = partly[0].layout.name
        return StickerCutOffError(
            f"Only a small part of a '{name}' sticker can be seen: it may be cut off, covered, faint, or too far away. "
            "Take the photo again with the whole sticker in the picture."
        )
    mirrored = np.ascontiguousarray(gray[:, ::-1])
    if any(_locate(mirrored, candidate) for candidate in _candidates(mirrored)):
        return StickerMirroredError(
            "The photo is a mirror image: the sticker reads the wrong way round. "
            "Switch off mirroring in the camera, or take the photo with the camera on the back."
        )
    return unreadable_error(gray) or StickerNotFoundError(
        "No calibration sticker was found in the photo. "
        "Lay a printed sticker flat beside the wound, with all of it in the picture and in focus, and take it again."
    )


def _candidates(gray: Gray) -> Iterator[_Candidate]:
    """Yield groups of markers that fit a layout, from a quick search or, failing that, from a thorough one."""
    small, scale = _reduce(gray, _SEARCH_SIDE)
    quick = list(_groups(_read_markers(small, scale)))
    whole = any(len(group.markers) == len(group.layout.markers) for group in quick)
    if whole or small is gray:
        yield from quick
        return
    yield from _groups(_read_markers(gray, np.ones(2)))


@cache
def _layout_of() -> dict[int, Layout]:
    return {marker.number: layout for layout in LAYOUTS.values() for marker in layout.markers}


def _read_markers(gray: Gray, scale: Points) -> list[_Found]:
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, _search_settings(max(gray.shape))).detectMarkers(gray)
    return [
        _Found(int(number), (quad.reshape(4, 2).astype(np.float64) + 0.5) * scale - 0.5)
        for number, quad in zip(np.ravel(numbers) if corners else (), corners, strict=True)
        if int(number) in _layout_of()
    ]


@cache
def _search_settings(side: int) -> cv2.aruco.DetectorParameters:
    """Return OpenCV's settings, changed where our markers are smaller in the frame than it assumes."""
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = max(0.012, _LEAST_PERIMETER_PX / side)  # a tile at 600 mm, tilted by 45 degrees
    settings.adaptiveThreshWinSizeMin = 5
    settings.adaptiveThreshWinSizeMax = 45  # a marker at 150 mm spans 60 px of the search picture
    settings.adaptiveThreshWinSizeStep = 20
    settings.perspectiveRemovePixelPerCell = 8
    settings.errorCorrectionRate = 1.0  # one bit may be dirty; the saddle points confirm
    return settings


def _groups(markers: list[_Found]) -> Iterator[_Candidate]:
    """Yield markers grouped by the sticker they belong to; several stickers of one layout come apart."""
    for layout in LAYOUTS.values():
        numbers = {marker.number for marker in layout.markers}
        left = [found for found in markers if found.number in numbers]
        while left:
            group = max((_company(seed, left, layout) for seed in left), key=len)
            yield _Candidate(layout, tuple(group))
            members = {id(found) for found in group}
            left = [found for found in left if id(found) not in members]


def _company(seed: _Found, markers: list[_Found], layout: Layout) -> list[_Found]:
    """Return the markers that lie where the seed's own four corners expect them."""
    places = {marker.number: marker.place.corners for marker in layout.markers}
    homography = _homography(places[seed.number], seed.corners)
    company = [seed]
    for number in places.keys() - {seed.number}:
        expected = project(homography, places[number])
        near = [found for found in markers if found.number == number and _agree(found, expected, seed)]
        if near:
            company.append(min(near, key=lambda found: _distance(found.corners, expected)))
    return company


def _agree(found: _Found, expected: Points, seed: _Found) -> bool:
    """Tell whether a marker is where it was expected, within a third of the way from the seed."""
    way = float(np.linalg.norm(expected.mean(axis=0) - seed.corners.mean(axis=0)))
    return _distance(found.corners, expected) < way / 3


def _distance(corners: Points, expected: Points) -> float:
    return float(np.linalg.norm(corners - expected, axis=1).max())


def _homography(mm: Points, px: Points) -> Points:
    return np.asarray(cv2.findHomography(mm, px, 0)[0], dtype=np.float64)


def _locate(gray: Gray, candidate: _Candidate) -> Sticker | None:
    """Match the saddle points of a candidate, outward from its markers; None where too few can be seen."""
    layout = candidate.layout
    corners_mm, corners_px = candidate.pairs()
    homography = _homography(corners_mm, corners_px)
    places = np.full(layout.saddles.shape, np.nan)
    for reach in _ROUNDS_MM:
        known = np.concatenate([corners_mm, layout.saddles[np.isfinite(places[:, 0])]])
        tried = _within(layout.saddles, known, reach) & _inside(project(homography, layout.saddles), gray)
        places = np.full(layout.saddles.shape, np.nan)
        places[tried] = _saddles(gray, homography, layout, tried)
        homography, agree = _steady_homography(layout.saddles, places, corners_mm, corners_px)
        places[~agree] = np.nan
    if _is_bent(homography, layout, places):
        followed = _followed(gray, layout, corners_mm, corners_px)
        counts = [int(np.isfinite(some[:, 0]).sum()) for some in (followed, places)]
        places = followed if counts[0] >= max(MIN_SADDLES, counts[1] / 2) else places
    seen = np.isfinite(places[:, 0])
    alone = len(candidate.markers) == 1
    if seen.sum() < max(MIN_SADDLES, _ALONE_SHARE * len(seen) if alone else 0):
        return None
    return Sticker(
        layout=layout,
        points_px=np.concatenate([places[seen], corners_px]),
        points_mm=np.concatenate([layout.saddles[seen], corners_mm]),
        weight_sigma=np.concatenate([np.ones(seen.sum()), np.full(len(corners_mm), _CORNER_SIGMA)]),
        saddles=int(seen.sum()),
        cut_off=not _inside(project(homography, layout.outline), gray).all(),
    )


def _is_bent(homography: Points, layout: Layout, places: Points) -> bool:
    """Tell whether one homography fits the saddle points so badly that the sticker can't be flat."""
    known = np.isfinite(places[:, 0])
    apart = np.linalg.norm(project(homography, layout.saddles[known]) - places[known], axis=1)
    return bool(known.any()) and float(np.median(apart)) > _BENT_PX


def _followed(gray: Gray, layout: Layout, corners_mm: Points, corners_px: Points) -> Points:
    """Find the saddle points of a bent sticker, each from the known points nearest to it, outward from the markers.

    One homography for all would be off by a cell at the far end, where a saddle point of the same sign waits.
    """
    places = np.full(layout.saddles.shape, np.nan)
    for _ in range(_FOLLOWING_ROUNDS):
        known = np.isfinite(places[:, 0])
        leaders_mm = np.concatenate([layout.saddles[known], corners_mm])
        leaders_px = np.concatenate([places[known], corners_px])
        sigma = np.concatenate([np.full(known.sum(), _SADDLE_PX), np.full(len(corners_mm), _CORNER_PX)])
        next_ones = np.flatnonzero(~known & _within(layout.saddles, leaders_mm, _FOLLOWING_MM))
        for number in next_ones:
            away = np.linalg.norm(leaders_mm - layout.saddles[number], axis=1)
            near = np.argsort(away)[:_LEADERS]
            near = near[away[near] <= _LEADING_MM]
            if len(near) >= _LEAST_LEADERS:
                local = _held_homography(leaders_mm[near], leaders_px[near], sigma[near])
                places[number] = _one_saddle(gray, local, layout, int(number))
        if not np.isfinite(places[next_ones]).any():
            break
    return places


def _one_saddle(gray: Gray, homography: Points, layout: Layout, number: int) -> Points:
    """Return one saddle point (2,) where a homography expects it; NaN where there is none."""
    chosen = np.arange(len(layout.saddles)) == number
    if not _inside(project(homography, layout.saddles[chosen]), gray).all():
        return np.full(2, np.nan)
    found: Points = _saddles(gray, homography, layout, chosen)[0]
    return found


def _within(points: Points, known: Points, reach: float) -> NDArray[np.bool_]:
    return np.asarray(_distances(points, known).min(axis=1) <= reach)


def _inside(points: Points, gray: Gray) -> NDArray[np.bool_]:
    height, width = gray.shape
    return np.asarray(((points >= 0) & (points <= (width - 1, height - 1))).all(axis=1))


def _steady_homography(
    saddles_mm: Points, saddles_px: Points, corners_mm: Points, corners_px: Points
) -> tuple[Points, NDArray[np.bool_]]:
    """Fit markers and what is known of the saddles (NaN: nothing), and tell which saddles agree with the fit.

    With few points an unrestrained homography runs wild beyond them; here its two perspective terms are held near what
    a camera can see, so that it starts as an affine map and becomes free as points come in.
    """
    agree = np.isfinite(saddles_px[:, 0])
    for _ in range(2):
        mm = np.concatenate([saddles_mm[agree], corners_mm])
        px = np.concatenate([saddles_px[agree], corners_px])
        sigma = np.concatenate([np.full(agree.sum(), _SADDLE_PX), np.full(len(corners_mm), _CORNER_PX)])
        homography = _held_homography(mm, px, sigma)
        apart = np.linalg.norm(project(homography, saddles_mm) - saddles_px, axis=1)
        typical = float(np.median(apart[agree])) if agree.any() else 0.0
        agree = apart <= max(_LEAST_DOUBT_PX, 4 * typical)
    return homography, agree


def _held_homography(mm: Points, px: Points, sigma: NDArray[np.float64]) -> Points:
    """Solve the weighted linear equations of a homography, with a prior of 0 for its perspective terms."""
    middle_mm, middle_px = mm.mean(axis=0), px.mean(axis=0)
    (x, y), (u, v) = (mm - middle_mm).T, (px - middle_px).T
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows = np.concatenate(
        [
            np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y]) / sigma[:, None],
            np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y]) / sigma[:, None],
            np.eye(8)[6:] / _PERSPECTIVE_PER_MM,
        ]
    )
    right = np.concatenate([u / sigma, v / sigma, [0.0, 0.0]])
    solved = np.append(np.linalg.lstsq(rows, right, rcond=None)[0], 1.0).reshape(3, 3)
    to_middle = np.array([(1, 0, -middle_mm[0]), (0, 1, -middle_mm[1]), (0, 0, 1.0)])
    from_middle = np.array([(1, 0, middle_px[0]), (0, 1, middle_px[1]), (0, 0, 1.0)])
    homography = from_middle @ solved @ to_middle
    return np.asarray(homography / homography[2, 2], dtype=np.float64)


def _saddles(gray: Gray, homography: Points, layout: Layout, chosen: NDArray[np.bool_]) -> Points:
    """Refine the chosen saddle points; rows of NaN where the picture does not show one there."""
    mm, signs = layout.saddles[chosen], layout.saddle_signs[chosen]
    predicted = project(homography, mm)
    steps = cell_steps(homography, mm, layout.hem.pitch)
    cell = np.linalg.svd(steps, compute_uv=False)[:, -1]
    result = np.full(mm.shape, np.nan)
    readable = cell >= _MIN_CELL_PX
    if not readable.any():
        return result
    reach = _WINDOW_SHARE * float(np.median(cell[readable]))
    refined = _refine(gray, predicted, reach)
    close = np.linalg.norm(refined - predicted, axis=1) <= reach
    good = readable & close & _coloured_right(gray, refined, steps, signs)
    result[good] = refined[good]
    return result


def cell_steps(homography: Points, mm: Points, pitch: float) -> NDArray[np.float64]:
    """Return what one cell along x and along y is in px at each point: shape (N, 2, 2), columns are the steps."""
    half = pitch / 2
    x = project(homography, mm + np.array((half, 0.0))) - project(homography, mm - np.array((half, 0.0)))
    y = project(homography, mm + np.array((0.0, half))) - project(homography, mm - np.array((0.0, half)))
    return np.stack([x, y], axis=2)


def _refine(gray: Gray, points: Points, reach: float) -> Points:
    """Move points to the saddles nearest by, within a window of ``reach`` px to each side, on a softened cut-out."""
    zoom, softening = (2, 0.7) if reach < _SMALL_REACH_PX else (1, 1.0)
    margin = math.ceil(2 * reach) + 8
    left, top = np.maximum(np.floor(points.min(axis=0)).astype(int) - margin, 0)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + margin
    soft = cv2.GaussianBlur(gray[top:bottom, left:right], (0, 0), softening)
    large = cv2.resize(soft, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC) if zoom > 1 else soft
    corner = np.array((left, top), dtype=np.float64)
    start = ((points - corner + 0.5) * zoom - 0.5).astype(np.float32).reshape(-1, 1, 2)
    side = int(np.clip(round(reach * zoom), *_WINDOW_RANGE))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.001)
    refined = cv2.cornerSubPix(large, start, (side, side), (-1, -1), stop).reshape(-1, 2).astype(np.float64)
    return (refined + 0.5) / zoom - 0.5 + corner


_QUADRANTS = np.array([(0.5, 0.5), (-0.5, -0.5), (-0.5, 0.5), (0.5, -0.5)])
_SPOT = np.stack(np.meshgrid((-0.2, 0.0, 0.2), (-0.2, 0.0, 0.2)), axis=-1).reshape(-1, 2)


def _coloured_right(
    gray: Gray, points: Points, steps: NDArray[np.float64], signs: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell where the four cells round a point are black and white as printed; shape (N,)."""
    offsets = (_QUADRANTS[:, None] + _SPOT[None]).reshape(-1, 2)
    places = points[:, None] + np.einsum("nij,kj->nki", steps, offsets)
    x, y = np.moveaxis(places.astype(np.float32), 2, 0)
    values = cv2.remap(gray, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float64)
    spots = values.reshape(len(points), 4, -1)
    cells, unevenness = spots.mean(axis=2), np.ptp(spots, axis=2).max(axis=1)
    own, other = cells[:, :2], cells[:, 2:]
    black = np.where(signs[:, None] > 0, own, other)
    white = np.where(signs[:, None] > 0, other, own)
    gap = white.min(axis=1) - black.max(axis=1)
    clear = gap > _MIN_CONTRAST * (white.mean(axis=1) + black.mean(axis=1))
    return np.asarray(clear & (unevenness < _MAX_UNEVENNESS * gap))
