"""Reads a plain ruler: finds its graduations, tells what they divide, and takes the scale from them.

The graduations are rows of evenly spaced lines (`calibration.row`); the lengths of the lines tell the unit
(`calibration.graduation`). What isn't clear is refused.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.band import Gray
from calibration.errors import RulerNotFoundError, RulerUnclearError
from calibration.graduation import INCH_MM, TENTHS, Division, Unit, read_division
from calibration.plane import Plane, straight_plane
from calibration.row import Row, Steps, find_rows, laid_anew
from calibration.sticker import Points

MIN_LENGTH_MM = 20.0
"""Less of a ruler doesn't carry its scale to a wound."""

_Floats = NDArray[np.float64]

_LEAST_DEPTH = 2.5  # grey values by which lines are darker than what lies beside them, at least
_LEAST_SEEN = 8  # lines that must be dark enough
_REACH_STEPS = 10  # to either side of the row, in steps: the longest line and its number
_SAMPLES = 12  # across each line and the gap beside it
_TURNS = 3  # how often the row is laid anew before its lines are measured
_NUMBER_MM = 6.0  # beyond the longest line: its number
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
class _Reading:
    """One edge of a ruler: its lines, what they divide, and how far from row 0 they begin and end, in px."""

    row: Row
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
    for row in find_rows(gray):
        try:
            readings.append(_read_either(gray, row))
        except RulerUnclearError as trouble:
            troubles.append(trouble)
    if readings:
        return _ruler(_agreed(readings))
    if troubles:
        raise troubles[0]
    raise RulerNotFoundError(
        f"No ruler was found in the photo: at least {MIN_LENGTH_MM:.0f} mm of sharp graduations are needed. Lay a "
        "ruler flat beside the wound, or better a printed sticker, and take the photo again."
    )


def _read_either(gray: Gray, row: Row) -> _Reading:
    """Read the lines of a row, or else what lies between them: under blur, gaps look as even as lines."""
    try:
        return _read(gray, row)
    except RulerUnclearError as unclear:
        between = replace(row, along=row.steps.along(row.numbers + 0.5))
        between = replace(between, steps=Steps.fit(between.along, between.numbers))
        try:
            return _read(gray, between)
        except RulerUnclearError:
            raise unclear from None


def _read(gray: Gray, row: Row) -> _Reading:
    """Measure the lines of a row and tell what they divide."""
    for turn in range(_TURNS + 1):
        near, far = _line_ends(gray, row)
        side, base = _base(near, far)
        lengths = side * ((far if side > 0 else near) - base)
        if turn < _TURNS:
            row = laid_anew(gray, row, base, side * float(np.nanpercentile(lengths, 30)))
    division = read_division(lengths / row.middle_step_px)
    if np.ptp(row.numbers) * division.step_mm < MIN_LENGTH_MM:
        raise RulerUnclearError(
            f"Only {np.ptp(row.numbers) * division.step_mm:.0f} mm of a ruler can be read, at least "
            f"{MIN_LENGTH_MM:.0f} mm are needed: uncover more of it, or move it into the picture."
        )
    middle = float(np.median(base))
    return _Reading(row, division, (middle, middle + side * float(np.nanpercentile(lengths, 97))))


def _line_ends(gray: Gray, row: Row) -> tuple[_Floats, _Floats]:
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
    missing = (far == 0) | (usual < _LEAST_DEPTH)
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
    if kept.sum() < _LEAST_SEEN:
        raise RulerUnclearError(
            "Lines like a ruler's graduations were found, but they are too faint to be read. "
            "Take the photo again with the ruler in focus and without glare."
        )
    for _ in range(6):
        slope, offset = np.polyfit(number[kept], ends[kept], 1)
        off = np.abs(ends - (slope * number + offset))
        kept = np.isfinite(ends) & (off <= max(1.0, 1.5 * float(np.median(off[kept]))))
    return np.asarray(slope * number + offset)


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
    first, last = row.along[0] - step_px, row.along[-1] + step_px
    number_px = _NUMBER_MM / step_mm * step_px
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


def ruler_plane(ruler: Ruler, size_px: tuple[int, int], focal_px: float | None = None) -> Plane:
    """Return the plane of a camera that looked straight at the middle of a ruler.

    A straight ruler shows how the scale changes along it, not across: tilt is NaN, and none is corrected.

    Parameters
    ----------
    ruler : Ruler
        As found by `find_ruler`.
    size_px : tuple of two int
        Width and height of the photo.
    focal_px : float or None
        Focal length in px, as far as the photo file tells it.
    """
    first, last = ruler.points_px[0], ruler.points_px[-1]
    direction = (last - first) / np.linalg.norm(last - first)
    along = (ruler.points_px - first) @ direction
    steps = Steps.fit(along, ruler.positions_mm)
    half = along[-1] / 2
    mm_per_px = float(np.diff(steps.number(np.array([half - 0.5, half + 0.5])))[0])
    residual = steps.along(ruler.positions_mm) - along
    spread = np.square(along - along.mean()).sum()
    return straight_plane(
        mm_per_px,
        ruler.sigma_px / float(np.sqrt(spread)),
        size_px,
        focal_px,
        "ruler",
        ruler.sigma_px,
        float(np.sqrt(np.square(residual).mean())),
    )
