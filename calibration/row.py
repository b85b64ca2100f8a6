"""Rows of evenly spaced lines: finds them in the bands of a photo and numbers their lines.

A band (`calibration.band`) is straightened; of the lines across it, the row that holds the most evenly spaced ones is
numbered under a one-dimensional projective map, since equal steps shrink evenly away from a tilted camera.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from calibration.band import Band, Gray, find_bands
from calibration.sticker import Points

_Floats = NDArray[np.float64]

_LEAST_RUN = 8  # evenly spaced lines in a row that make a start
_LEAST_LINES = 15  # that make graduations
_LEAST_FILLED = 0.5  # share of the graduations between the first and the last that must be seen
_EVEN = 0.22  # logarithm of the ratio of neighbouring gaps, at most
_LARGEST_GAP, _LEAST_GROUP = 3, 6  # steps that may be missing within a group of lines, and lines that make a group
_NEAR = 0.2  # steps between a line and its place, at most
_MOST_ROUNDS = 12  # of numbering, each reaching farther outward
_LARGEST_RMS = 0.07  # of all lines from their places, in steps
_OUTWARD = 0.8  # of the length numbered so far: how far beyond it lines are looked for at a time
_LEAST_STEP_PX = 3.5  # finer graduations can't be told apart under the least blur
_LEAST_DEPTH = 5.0  # grey values by which a line is darker than what lies beside it
_SHALLOW = 0.35  # of the depth of most lines: less is dirt
_ROW_STEP_PX = 4.0  # between the rows that are tried
_MOST_ROWS = 24  # that are tried in one band
_MOST_BANDS = 14  # that are looked at
_PERSPECTIVE = 0.3  # standard deviation of the growth of depth over half the graduations: 45 degrees from 200 mm


@dataclass(frozen=True, eq=False)
class Frame:
    """Straightens a band: (s, t) px along it and along its lines become px of the photo."""

    origin: Points
    along: Points
    line: Points
    turn: Points

    @classmethod
    def of(cls, band: Band) -> "Frame":
        """Return the frame that a band suggests."""
        angle, change = band.lean
        line = np.array([np.cos(angle), np.sin(angle)])
        return cls(band.middle, band.along, line, change * np.array([-line[1], line[0]]))

    def points(self, along: _Floats, across: _Floats) -> _Floats:
        """Return px of the photo, shape (..., 2), of broadcast coordinates."""
        s, t = along[..., None], across[..., None]
        return self.origin + s * self.along + t * (self.line + s * self.turn)

    def sheared(self, offset: float, slope: float) -> "Frame":
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
class Steps:
    """A projective map from px along a band to numbers of graduations: (a + b s) / (1 + c s), s in units of scale."""

    terms: _Floats
    middle: float
    scale: float

    @classmethod
    def fit(cls, along: _Floats, number: _Floats) -> "Steps":
        """Fit it to lines at ``along`` (N,) with their numbers; perspective is held near 0 where little is seen."""
        middle, scale = float(along.mean()), max(float(np.ptp(along)) / 2, 1.0)
        start = float(np.round(number.mean()))
        s, k = (along - middle) / scale, number - start
        rows = np.column_stack([np.ones_like(s), s, -k * s])
        held = [0.0, 0.0, 0.05 / _PERSPECTIVE]
        a, b, c = np.linalg.lstsq(np.vstack([rows, held]), np.append(k, 0.0), rcond=None)[0]
        return cls(np.array([a + start, b + start * c, c]), middle, scale)

    def number(self, along: _Floats) -> _Floats:
        """Return the numbers, not rounded, of lines at ``along`` (N,)."""
        a, b, c = self.terms
        s = (along - self.middle) / self.scale
        return np.asarray((a + b * s) / np.maximum(1 + c * s, 0.05))

    def along(self, number: _Floats) -> _Floats:
        """Return where along the band lines with these numbers (N,) lie."""
        a, b, c = self.terms
        return np.asarray((number - a) / (b - c * number) * self.scale + self.middle)

    def step_px(self, number: float) -> float:
        """Return the length of a step round a number."""
        before, after = self.along(np.array([number - 0.5, number + 0.5]))
        return float(after - before)


@dataclass(frozen=True, eq=False)
class Row:
    """Numbered lines of a band: the frame whose row 0 crosses them all, where along it and with which numbers."""

    frame: Frame
    along: _Floats
    numbers: _Floats
    steps: Steps

    @property
    def rms_steps(self) -> float:
        """Root-mean-square distance of the lines from their places, in steps."""
        return float(np.sqrt(np.square(self.steps.number(self.along) - self.numbers).mean()))

    @property
    def span(self) -> tuple[int, int]:
        """Number of the first and of the last line."""
        return int(self.numbers[0]), int(self.numbers[-1])

    @property
    def middle_step_px(self) -> float:
        """Length of a step in the middle of the row."""
        return self.steps.step_px(float(self.numbers.mean()))


def find_rows(gray: Gray) -> Iterator[Row]:
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


def _first_row(gray: Gray, band: Band) -> Row | None:
    """Return the row of a band that crosses the most evenly spaced lines; None where there are too few."""
    frame = Frame.of(band)
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


def _numbered(frame: Frame, lines: _Floats, run: slice) -> Row | None:
    """Give numbers to all lines that continue a run evenly, outward from it; None if they make no graduations."""
    along = lines[run]
    numbers = np.arange(len(along), dtype=np.float64)
    for _ in range(_MOST_ROUNDS):
        steps = Steps.fit(along, numbers)
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
    row = Row(frame, along, numbers, Steps.fit(along, numbers))
    filled = len(along) / (np.ptp(numbers) + 1)
    sound = len(along) >= _LEAST_LINES and filled >= _LEAST_FILLED and row.rms_steps < _LARGEST_RMS
    return row if sound and row.middle_step_px >= _LEAST_STEP_PX else None


def _in_company(numbers: _Floats) -> NDArray[np.bool_]:
    """Tell which of ascending numbers (N,) stand in groups: a lone line far from the others is dirt or a fold."""
    starts = np.flatnonzero(np.diff(numbers, prepend=-np.inf) > _LARGEST_GAP)
    sizes = np.diff(np.append(starts, len(numbers)))
    return np.repeat(sizes >= _LEAST_GROUP, sizes)


def laid_anew(gray: Gray, row: Row, base: _Floats, length: float) -> Row:
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
    on_lines, between = (np.interp(row.along + way, along, picture.mean(axis=0)) for way in (0.0, step / 2))
    if np.median(between) < np.median(on_lines):
        picture = -picture  # light lines on a dark ruler
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


def _nearest(steps: Steps, lines: _Floats, span: tuple[int, int]) -> tuple[_Floats, _Floats]:
    """Return the numbers (N,) that lines have in a span, each once, and those lines (N,)."""
    places = steps.number(lines)
    numbers = np.rint(places)
    kept = (np.abs(places - numbers) < 1.5 * _NEAR) & (numbers >= span[0]) & (numbers <= span[1])
    numbers, chosen = np.unique(numbers[kept], return_index=True)
    return numbers, lines[kept][chosen]


def _straightened(frame: Frame, row: Row, lines: tuple[_Floats, _Floats], apart: float) -> Frame:
    """Return the frame in which lines read on two rows ``apart`` px from one another stand upright."""
    (first, at_first), (last, at_last) = (_nearest(row.steps, one, row.span) for one in lines)
    _, here, there = np.intersect1d(first, last, return_indices=True)
    if len(here) < _LEAST_RUN:
        return frame
    where, lean = at_first[here], (at_last[there] - at_first[here]) / apart
    kept = np.abs(lean - np.median(lean)) < 3 * np.median(np.abs(lean - np.median(lean))) + 0.02
    change, own = np.polyfit(where[kept], lean[kept], 1)
    return replace(frame, line=frame.line + own * frame.along, turn=frame.turn + change * frame.along)
