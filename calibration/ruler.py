"""Reads a plain ruler: finds its graduations, tells what they divide, and takes the scale from them.

Bands of parallel lines (`calibration.band`) are straightened; in each, the row that holds the most evenly spaced lines
is numbered under a one-dimensional projective map, since equal steps shrink evenly away from a tilted camera. The
lengths of the lines then tell the unit (`calibration.graduation`). What isn't clear is refused.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from calibration.band import Band, Gray, find_bands
from calibration.errors import RulerNotFoundError, RulerUnclearError
from calibration.graduation import INCH_MM, TENTHS, Division, Unit, read_division
from calibration.plane import Plane
from calibration.sticker import Points

MIN_LENGTH_MM = 20.0
"""Less of a ruler doesn't carry its scale to a wound."""

_Floats = NDArray[np.float64]

_LEAST_RUN = 8  # evenly spaced lines in a row that make a start
_LEAST_LINES = 15  # that make graduations
_LEAST_FILLED = 0.5  # share of the graduations between the first and the last that must be seen
_EVEN = 0.22  # logarithm of the ratio of neighbouring gaps, at most
_LARGEST_GAP, _LEAST_GROUP = 3, 6  # steps that may be missing within a group of lines, and lines that make a group
_NEAR = 0.2  # steps between a line and its place, at most
_LARGEST_RMS = 0.07  # of all lines from their places, in steps
_OUTWARD = 0.8  # of the length numbered so far: how far beyond it lines are looked for at a time
_LEAST_STEP_PX = 3.5  # finer graduations can't be told apart under the least blur
_LEAST_DEPTH = 5.0  # grey values by which a line is darker than what lies beside it
_SHALLOW = 0.35  # of the depth of most lines: less is dirt
_ROW_STEP_PX = 4.0  # between the rows that are tried
_MOST_ROWS = 24  # that are tried in one band
_MOST_BANDS = 14  # that are looked at
_PERSPECTIVE = 0.3  # standard deviation of the growth of depth over half the graduations: 45 degrees from 200 mm
_REACH_STEPS = 10  # to either side of the row, in graduations: the longest line and its number
_SAMPLES = 12  # across each graduation
_MAX_TURNS = 3  # how often the frame is laid anew
_SAME_SCALE = 0.2  # logarithm of the ratio of two scales in one photo: tilt explains as much, a mistaken unit more


@dataclass(frozen=True, eq=False)
class Ruler:
    """A plain ruler found in a photo.

    Attributes
    ----------
    unit : {"mm", "inch"}
        What it is divided into.
    points_px : ndarray of shape (N, 2)
        Where its graduations cross one straight line, in order.
    positions_mm : ndarray of shape (N,)
        The same along the ruler; the first is 0.
    sigma_px : float
        Standard deviation of a graduation along the ruler, from how evenly they stand.
    outline_px : ndarray of shape (4, 2)
        Corners round the graduations and their numbers; the ruler may be wider.
    """

    unit: Unit
    points_px: Points
    positions_mm: _Floats
    sigma_px: float
    outline_px: Points


@dataclass(frozen=True, eq=False)
class _Frame:
    """Straightens a band: (s, t) px along it and along its lines become px of the photo."""

    origin: Points
    along: Points
    line: Points
    turn: Points

    @classmethod
    def of(cls, band: Band) -> "_Frame":
        angle, change = band.lean
        line = np.array([np.cos(angle), np.sin(angle)])
        return cls(band.middle, band.along, line, change * np.array([-line[1], line[0]]))

    def points(self, along: _Floats, across: _Floats) -> _Floats:
        """Return px of the photo, shape (..., 2), of broadcast coordinates."""
        s, t = along[..., None], across[..., None]
        return self.origin + s * self.along + t * (self.line + s * self.turn)

    def sheared(self, offset: float, slope: float) -> "_Frame":
        """Return the frame whose row 0 is this one's row ``offset + slope * s``."""
        origin = self.origin + offset * self.line
        along = self.along + slope * self.line + offset * self.turn
        return replace(self, origin=origin, along=along)

    def look(self, gray: Gray, along: _Floats, across: _Floats) -> NDArray[np.float32]:
        """Return grey values at the grid of coordinates, shape (across, along)."""
        s, t = along[None, :].astype(np.float32), across[:, None].astype(np.float32)
        x, y = (
            (np.float32(o) + s * np.float32(a)) + t * (np.float32(b) + s * np.float32(c))
            for o, a, b, c in zip(self.origin, self.along, self.line, self.turn, strict=True)
        )
        looked = cv2.remap(gray, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return looked.astype(np.float32)


@dataclass(frozen=True, eq=False)
class _Steps:
    """A projective map from px along a band to numbers of graduations: (a + b s) / (1 + c s), s in units of scale."""

    terms: _Floats
    middle: float
    scale: float

    @classmethod
    def fit(cls, along: _Floats, number: _Floats) -> "_Steps":
        """Fit it to lines at ``along`` (N,) with their numbers; perspective is held near 0 where little is seen."""
        middle, scale = float(along.mean()), max(float(np.ptp(along)) / 2, 1.0)
        start = float(np.round(number.mean()))
        s, k = (along - middle) / scale, number - start
        rows = np.column_stack([np.ones_like(s), s, -k * s])
        held = [0.0, 0.0, 0.05 / _PERSPECTIVE]
        a, b, c = np.linalg.lstsq(np.vstack([rows, held]), np.append(k, 0.0), rcond=None)[0]
        return cls(np.array([a + start, b + start * c, c]), middle, scale)

    def number(self, along: _Floats) -> _Floats:
        a, b, c = self.terms
        s = (along - self.middle) / self.scale
        return np.asarray((a + b * s) / np.maximum(1 + c * s, 0.05))

    def along(self, number: _Floats) -> _Floats:
        a, b, c = self.terms
        return np.asarray((number - a) / (b - c * number) * self.scale + self.middle)

    def step_px(self, number: float) -> float:
        before, after = self.along(np.array([number - 0.5, number + 0.5]))
        return float(after - before)


@dataclass(frozen=True, eq=False)
class _Row:
    """Numbered lines of a band: the frame whose row 0 crosses them all, where along it and with which numbers."""

    frame: _Frame
    along: _Floats
    numbers: _Floats
    steps: _Steps

    @property
    def rms_steps(self) -> float:
        return float(np.sqrt(np.square(self.steps.number(self.along) - self.numbers).mean()))

    @property
    def span(self) -> tuple[int, int]:
        return int(self.numbers[0]), int(self.numbers[-1])

    @property
    def middle_step_px(self) -> float:
        return self.steps.step_px(float(self.numbers.mean()))


@dataclass(frozen=True, eq=False)
class _Reading:
    """One edge of a ruler: its lines, what they divide, and how far from row 0 they begin and end, in px."""

    row: _Row
    division: Division
    ends: tuple[float, float]

    @property
    def mm_per_px(self) -> float:
        return self.division.step_mm / self.row.middle_step_px


def find_ruler(pixels: NDArray[np.uint8]) -> Ruler:
    """Find a plain ruler and read its graduations.

    Parameters
    ----------
    pixels : ndarray of shape (H, W, 3) or (H, W)
        8-bit RGB or grey, upright.

    Raises
    ------
    RulerNotFoundError
        If nothing looks like graduations.
    RulerUnclearError
        If graduations were found, but not what they divide, too little of them, or edges that disagree.
    """
    gray = np.asarray(pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    readings: list[_Reading] = []
    troubles: list[RulerUnclearError] = []
    for row in _rows(gray):
        try:
            readings.append(_read_either(gray, row))
        except RulerUnclearError as trouble:
            troubles.append(trouble)
    if readings:
        return _ruler(_agreed(readings))
    raise (
        troubles[0]
        if troubles
        else RulerNotFoundError(
            "No ruler was found in the photo: at least 20 mm of sharp graduations are needed. Lay a ruler flat beside "
            "the wound, or better a printed sticker, and take the photo again."
        )
    )


def _rows(gray: Gray) -> Iterator[_Row]:
    """Yield rows of evenly spaced lines, each place once."""
    seen: list[Band] = []
    for band in find_bands(gray)[:_MOST_BANDS]:
        if any(_within(band, other) for other in seen):
            continue
        row = _first_row(gray, band)
        if row:
            seen.append(band)
            yield row


def _within(band: Band, other: Band) -> bool:
    """Tell whether a band lies in another one."""
    way = band.middle - other.middle
    along, across = abs(float(way @ other.along)), abs(float(way @ np.array([-other.along[1], other.along[0]])))
    close = other.half_width + max(band.half_width, 8.0)
    return along < other.half_length and across < close and abs(float(band.along @ other.along)) > 0.97


def _first_row(gray: Gray, band: Band) -> _Row | None:
    """Return the row of a band that crosses the most evenly spaced lines; None where there are too few."""
    frame = _Frame.of(band)
    reach = 1.3 * band.half_length + 20
    side = band.half_width + 12
    along = np.arange(-np.ceil(reach), np.ceil(reach) + 1)
    across = np.arange(-np.ceil(side), np.ceil(side) + 1, max(_ROW_STEP_PX, np.ceil(2 * side / _MOST_ROWS)))
    picture = cv2.GaussianBlur(frame.look(gray, along, across), (0, 0), sigmaX=0.8, sigmaY=0.6).astype(np.float64)
    best: tuple[int, _Floats, slice, float] | None = None
    for index, profile in enumerate(picture):
        for sign in (1, -1):
            lines = _dark_lines(sign * profile)
            run = _longest_run(lines)
            if run.stop - run.start > (best[0] if best else _LEAST_RUN - 1):
                best = run.stop - run.start, lines, run, float(across[index])
    if best is None:
        return None
    _, lines, run, offset = best
    return _numbered(frame.sheared(offset, 0.0), lines + along[0], run)


def _dark_lines(profile: _Floats) -> _Floats:
    """Return where a profile has dark lines, to a fraction of a pixel by a parabola."""
    places, found = find_peaks(-profile, plateau_size=(1, 30), prominence=_LEAST_DEPTH, wlen=121)
    if len(places) < _LEAST_RUN:
        return np.empty(0)
    depth = found["prominences"]
    places = places[depth > _SHALLOW * np.percentile(depth, 60)]
    before, here, after = profile[places - 1], profile[places], profile[places + 1]
    bend = before - 2 * here + after
    return np.asarray(places + np.where(bend > 0, 0.5 * (before - after) / np.maximum(bend, 1e-9), 0.0))


def _longest_run(lines: _Floats) -> slice:
    """Return the longest run of lines whose gaps change little from one to the next."""
    if len(lines) < _LEAST_RUN:
        return slice(0, 0)
    gaps = np.diff(lines)
    even = np.abs(np.diff(np.log(np.maximum(gaps, 0.1)))) < _EVEN
    breaks = np.flatnonzero(np.concatenate([[True], ~even, [True]]))
    longest = int(np.diff(breaks).argmax())
    return slice(int(breaks[longest]), int(breaks[longest + 1]) + 1)


def _numbered(frame: _Frame, lines: _Floats, run: slice) -> _Row | None:
    """Give numbers to all lines that continue a run evenly, outward from it; None if they make no graduations."""
    along = lines[run]
    numbers = np.arange(len(along), dtype=np.float64)
    for _ in range(12):
        steps = _Steps.fit(along, numbers)
        reach = _OUTWARD * np.ptp(along)
        near = lines[(lines > along[0] - reach) & (lines < along[-1] + reach)]
        places = steps.number(near)
        off = np.abs(places - np.rint(places))
        kept = near[off < _NEAR]
        at, first = np.unique(np.rint(steps.number(kept)), return_index=True)
        company = _in_company(at)
        at, kept = at[company], kept[first][company]
        if len(kept) < _LEAST_RUN or np.any(np.diff(kept) <= 0):
            return None
        if len(kept) == len(along) and np.allclose(kept, along):
            break
        along, numbers = kept, at
    row = _Row(frame, along, numbers, _Steps.fit(along, numbers))
    filled = len(along) / (np.ptp(numbers) + 1)
    sound = len(along) >= _LEAST_LINES and filled >= _LEAST_FILLED and row.rms_steps < _LARGEST_RMS
    return row if sound and row.middle_step_px >= _LEAST_STEP_PX else None


def _in_company(numbers: _Floats) -> NDArray[np.bool_]:
    """Tell which of ascending numbers (N,) stand in groups: a lone line far from the others is dirt or a fold."""
    starts = np.flatnonzero(np.diff(numbers, prepend=-np.inf) > _LARGEST_GAP)
    sizes = np.diff(np.append(starts, len(numbers)))
    return np.repeat(sizes >= _LEAST_GROUP, sizes)


def _read_either(gray: Gray, row: _Row) -> _Reading:
    """Read the lines of a row, or else what lies between them: under blur, gaps look as even as lines."""
    try:
        return _read(gray, row)
    except RulerUnclearError as unclear:
        between = replace(row, along=row.steps.along(row.numbers + 0.5))
        between = replace(between, steps=_Steps.fit(between.along, between.numbers))
        try:
            return _read(gray, between)
        except RulerUnclearError:
            raise unclear from None


def _read(gray: Gray, row: _Row) -> _Reading:
    """Measure the lines of a row and tell what they divide."""
    for turn in range(_MAX_TURNS + 1):
        near, far = _line_ends(gray, row)
        side, base = _base(near, far)
        lengths = side * ((far if side > 0 else near) - base)
        if turn < _MAX_TURNS:
            row = _laid_anew(gray, row, base, side * float(np.nanpercentile(lengths, 30)))
    division = read_division(lengths / row.middle_step_px)
    if np.ptp(row.numbers) * division.step_mm < MIN_LENGTH_MM:
        raise RulerUnclearError(
            f"Only {np.ptp(row.numbers) * division.step_mm:.0f} mm of a ruler can be read, at least "
            f"{MIN_LENGTH_MM:.0f} mm are needed: uncover more of it, or move it into the picture."
        )
    middle = float(np.median(base))
    return _Reading(row, division, (middle, middle + side * float(np.nanpercentile(lengths, 97))))


def _line_ends(gray: Gray, row: _Row) -> tuple[_Floats, _Floats]:
    """Return how far each line reaches to either side of the row, in px, shape (N,); NaN where there is none."""
    first, last = row.span
    step = row.middle_step_px
    count = last - first + 1
    places = first - 0.5 + (np.arange(count * _SAMPLES) + 0.5) / _SAMPLES
    side = float(np.ceil(_REACH_STEPS * step))
    across = np.arange(-side, side + 1)
    picture = row.frame.look(gray, row.steps.along(places), across).reshape(len(across), count, _SAMPLES)
    centre = picture[:, :, _SAMPLES // 2 - 2 : _SAMPLES // 2 + 2].mean(axis=2)
    beside = np.concatenate([picture[:, :, :3], picture[:, :, -3:]], axis=2).mean(axis=2)
    depth = cv2.blur(beside - centre, (1, max(3, round(0.3 * step) | 1)), borderType=cv2.BORDER_REPLICATE)
    middle = len(across) // 2
    own = np.median(depth[middle - 2 : middle + 3], axis=0)
    sign = np.sign(np.median(own)) or 1.0
    usual = _running_median(sign * own)
    here = sign * depth > 0.5 * usual
    far = np.minimum.accumulate(here[middle:], axis=0).sum(axis=0).astype(np.float64)
    near = np.minimum.accumulate(here[middle::-1], axis=0).sum(axis=0).astype(np.float64)
    missing = (far == 0) | (usual < _LEAST_DEPTH / 2)
    far[missing], near[missing] = np.nan, np.nan
    return -near, far


def _running_median(values: _Floats, half: int = 4) -> _Floats:
    padded = np.pad(values, half, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)


def _base(near: _Floats, far: _Floats) -> tuple[int, _Floats]:
    """Tell on which side of the row the lines end in one straight line: the other way (1: far) and that line (N,)."""
    number = np.arange(len(near), dtype=np.float64)
    lines = [_straight(number, ends) for ends in (near, far)]
    spread = [float(np.nanmean(np.abs(ends - line))) for ends, line in zip((near, far), lines, strict=True)]
    return (1, lines[0]) if spread[0] <= spread[1] else (-1, lines[1])


def _straight(number: _Floats, ends: _Floats) -> _Floats:
    """Return a straight line through most of the ends, shape (N,)."""
    kept = np.isfinite(ends)
    if kept.sum() < _LEAST_RUN:
        raise RulerUnclearError(
            "Lines like a ruler's graduations were found, but they are too faint to be read. "
            "Take the photo again with the ruler in focus and without glare."
        )
    for _ in range(6):
        slope, offset = np.polyfit(number[kept], ends[kept], 1)
        off = np.abs(ends - (slope * number + offset))
        kept = np.isfinite(ends) & (off <= max(1.0, 1.5 * float(np.median(off[kept]))))
    return np.asarray(slope * number + offset)


def _laid_anew(gray: Gray, row: _Row, base: _Floats, length: float) -> _Row:
    """Return the row that runs parallel to the base, in the middle of the shortest lines, with its lines read anew."""
    ends = row.steps.along(np.array(row.span, dtype=np.float64))
    slope = float((base[-1] - base[0]) / (ends[1] - ends[0]))
    frame = row.frame.sheared(float(base[0]) - slope * float(ends[0]) + length / 2, slope)
    step = row.middle_step_px
    reach = _OUTWARD * (ends[1] - ends[0])
    along = np.arange(np.floor(ends[0] - reach), np.ceil(ends[1] + reach) + 1)
    half = max(2.0, np.floor(0.35 * abs(length)))
    looked = frame.look(gray, along, np.arange(-half, half + 1))
    picture = np.asarray(cv2.GaussianBlur(looked, (0, 0), sigmaX=max(0.6, 0.06 * step), sigmaY=0.5), dtype=np.float64)
    if np.median(np.interp(row.along + step / 2, along, picture.mean(axis=0))) < np.median(
        np.interp(row.along, along, picture.mean(axis=0))
    ):
        picture = -picture
    third = max(1, len(picture) // 3)
    first, whole, last = (
        _dark_lines(part.mean(axis=0)) + along[0] for part in (picture[:third], picture, picture[-third:])
    )
    numbers, places = _nearest(row.steps, whole, row.span)
    if len(numbers) < _LEAST_RUN:
        return row
    frame = _straightened(frame, row, (first, last), 2 * half + 1 - third)
    indices = np.searchsorted(whole, places)
    run = _longest_run(whole[indices[0] : indices[-1] + 1])
    return _numbered(frame, whole, slice(indices[0] + run.start, indices[0] + run.stop)) or row


def _nearest(steps: _Steps, lines: _Floats, span: tuple[int, int]) -> tuple[_Floats, _Floats]:
    """Return the numbers (N,) that lines have in a span, each once, and those lines (N,)."""
    places = steps.number(lines)
    numbers = np.rint(places)
    kept = (np.abs(places - numbers) < 1.5 * _NEAR) & (numbers >= span[0]) & (numbers <= span[1])
    numbers, chosen = np.unique(numbers[kept], return_index=True)
    return numbers, lines[kept][chosen]


def _straightened(frame: _Frame, row: _Row, lines: tuple[_Floats, _Floats], apart: float) -> _Frame:
    """Return the frame in which lines read on two rows ``apart`` px from one another stand upright."""
    (first, at_first), (last, at_last) = (_nearest(row.steps, one, row.span) for one in lines)
    _, here, there = np.intersect1d(first, last, return_indices=True)
    if len(here) < _LEAST_RUN:
        return frame
    where, lean = at_first[here], (at_last[there] - at_first[here]) / apart
    kept = np.abs(lean - np.median(lean)) < 3 * np.median(np.abs(lean - np.median(lean))) + 0.02
    change, own = np.polyfit(where[kept], lean[kept], 1)
    return replace(frame, line=frame.line + own * frame.along, turn=frame.turn + change * frame.along)


def _agreed(readings: list[_Reading]) -> _Reading:
    """Return the reading with the most graduations, if the others agree with it.

    Raises
    ------
    RulerUnclearError
        If two edges disagree.
    """
    readings = sorted(readings, key=lambda reading: -len(reading.row.numbers))
    best = readings[0]
    for other in readings[1:]:
        ratio = other.mm_per_px / best.mm_per_px
        if abs(np.log(ratio)) < _SAME_SCALE:
            continue
        if other.division.decimal and best.division.decimal and abs(np.log(ratio * INCH_MM / 10)) < _SAME_SCALE:
            continue  # the other edge's tens are tenths of an inch
        if best.division.decimal and other.division.decimal and abs(np.log(ratio / INCH_MM * 10)) < _SAME_SCALE:
            best = replace(best, division=TENTHS)
            continue
        raise RulerUnclearError(
            "Two rulers, or two edges of one, were found, and they disagree about the scale. "
            "Leave one ruler in the picture, flat beside the wound, and take it again."
        )
    return best


def _ruler(reading: _Reading) -> Ruler:
    row, step_mm = reading.row, reading.division.step_mm
    step_px = row.middle_step_px
    low, high = sorted(reading.ends)
    first, last = row.along[0] - step_px, row.along[-1] + step_px
    number_px = 6.0 / step_mm * step_px  # a number stands beyond the longest line
    base, tip = reading.ends
    beyond = number_px if tip > base else -number_px
    low, high = base - 0.2 * beyond, tip + beyond
    corners = row.frame.points(np.array([first, last, last, first]), np.array([low, low, high, high]))
    return Ruler(
        unit=reading.division.unit,
        points_px=row.frame.points(row.along, np.zeros_like(row.along)),
        positions_mm=(row.numbers - row.numbers[0]) * step_mm,
        sigma_px=max(row.rms_steps * step_px, 0.02),
        outline_px=corners,
    )


def ruler_plane(ruler: Ruler) -> Plane:
    """Return the plane of a camera that looked straight at the middle of a ruler.

    A straight ruler shows how the scale changes along it, not across: tilt is NaN, and none is corrected.

    Parameters
    ----------
    ruler : Ruler
        As found by `find_ruler`.
    """
    first, last = ruler.points_px[0], ruler.points_px[-1]
    direction = (last - first) / np.linalg.norm(last - first)
    along = (ruler.points_px - first) @ direction
    steps = _Steps.fit(along, ruler.positions_mm)
    half = along[-1] / 2
    px_per_mm = 1 / float(np.diff(steps.number(np.array([half - 0.5, half + 0.5])))[0])
    residual = steps.along(ruler.positions_mm) - along
    spread = np.square(along - along.mean()).sum()
    both = np.array([1.0, 0, 0, 0, 1.0, 0, 0, 0])
    sigma = px_per_mm * ruler.sigma_px / float(np.sqrt(spread))
    return Plane(
        homography=np.diag([px_per_mm, px_per_mm, 1.0]),
        covariance=np.outer(both, both) * sigma**2,
        model="ruler",
        residual_px=float(np.sqrt(np.square(residual).mean())),
        tilt_deg=float("nan"),
        sigma_px=ruler.sigma_px,
    )
