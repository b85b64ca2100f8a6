"""Tells what a ruler is divided into from the lengths of its graduations alone.

Millimetres come in tens with a longer fifth; inches are halved again and again, each halving shorter than the one
before. Neither the size of the step nor a number printed beside a line is looked at.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calibration.errors import RulerUnclearError

Unit = Literal["mm", "inch"]
Lengths = NDArray[np.float64]
Levels = NDArray[np.int_]

INCH_MM = 25.4
"""Exactly, by the agreement of 1959."""

_LEAST_EXPLAINED = 0.8  # share of the variation of the lengths that a division must explain; true ones explain 0.9
_LEAD = 0.4  # of the variation that any other leaves unexplained: it must leave no more
_STEP_SIGMAS = 2.5  # by which lengths of neighbouring levels must differ, in standard deviations within a level
_SAME, _OTHER = 0.35, 0.6  # of the usual step from level to level: below, two lengths are equal; above, they differ
_TREND_HALF = 6  # graduations to either side among which the shortest are taken
_SHORT_OF_MM = 1.75  # steps: stubbier lines in tens might be tenths of an inch, whose shortest are 1.2 steps long
_SHORT_OF_EIGHTHS = 1.4  # steps: longer ones might be sixteenths whose half inches are as long as their inches
_LEAST_EIGHTHS = 3  # multiples of eight that must be seen: two can't tell eighths of an inch from sixteenths


@dataclass(frozen=True)
class Division:
    """What a ruler is divided into.

    Attributes
    ----------
    unit : {"mm", "inch"}
        Of the ruler.
    step_mm : float
        From one graduation to the next.
    decimal : bool
        Whether graduations come in plain tens: tenths of an inch would look the same.
    """

    unit: Unit
    step_mm: float
    decimal: bool = False


MILLIMETRES = Division("mm", 1.0, decimal=True)
HALF_MILLIMETRES = Division("mm", 0.5)
TENTHS = Division("inch", INCH_MM / 10)
EIGHTHS = Division("inch", INCH_MM / 8)
SIXTEENTHS = Division("inch", INCH_MM / 16)


def _levels_of_tens(count: Levels) -> Levels:
    return _divided_by(count, (5, 10))


def _levels_of_halves(count: Levels) -> Levels:
    """Return how often a number can be halved, at most three times."""
    return _divided_by(count, (2, 4, 8))


def _levels_of_twenties(count: Levels) -> Levels:
    return _divided_by(count, (2, 10, 20))


def _divided_by(count: Levels, parts: tuple[int, ...]) -> Levels:
    """Return by how many of the parts each number (N,) can be divided."""
    return np.asarray((count[:, None] % np.array(parts) == 0).sum(axis=1))


@dataclass(frozen=True, eq=False)
class _Fit:
    """A pattern laid over the lengths: its name, level of each graduation, share explained, typical length by level."""

    name: str
    levels: Levels
    explained: float
    typical: Lengths
    sigma: float

    def steady(self) -> bool:
        """Tell whether each level is clearly longer than the one below."""
        return bool((np.diff(self.typical) > max(_STEP_SIGMAS * self.sigma, 0.05 * self.typical[0])).all())


def read_division(lengths: Lengths) -> Division:
    """Tell what graduations of these lengths divide.

    Parameters
    ----------
    lengths : ndarray of shape (N,)
        Of successive graduations, in steps from one to the next; NaN where one can't be seen.

    Raises
    ------
    RulerUnclearError
        If the lengths follow none of the patterns, or more than one.
    """
    trend = _shortest(lengths)
    lengths = lengths / trend * float(trend.mean())
    fits = sorted(
        (
            _best_fit(lengths, "tens", 10),
            _best_fit(lengths, "halves", 8),
            _best_fit(lengths, "twenties", 20),
        ),
        key=lambda fit: -fit.explained,
    )
    best, rival = fits[:2]
    if best.explained < _LEAST_EXPLAINED or 1 - best.explained > _LEAD * (1 - rival.explained) or not best.steady():
        raise _unclear()
    if best.name == "halves":
        return _eighths_or_sixteenths(lengths, best)
    if best.name == "twenties":
        return HALF_MILLIMETRES
    if best.typical[0] < _SHORT_OF_MM:
        raise _unclear()
    return MILLIMETRES


def _shortest(lengths: Lengths) -> Lengths:
    """Return the length that the shortest graduations have at each place, (N,): away from the camera all shrink."""
    number = np.arange(len(lengths), dtype=np.float64)
    seen = np.isfinite(lengths)
    own = lengths[seen]
    if len(own) < 2 * _TREND_HALF:
        raise _unclear()
    padded = np.pad(own, _TREND_HALF, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _TREND_HALF + 1)
    kept = own < 1.15 * np.percentile(windows, 25, axis=1)
    slope, offset = np.polyfit(number[seen][kept], own[kept], 1)
    line = slope * number + offset
    if line.min() <= 0:
        raise _unclear()
    return np.asarray(line)


def _unclear() -> RulerUnclearError:
    return RulerUnclearError(
        "Evenly spaced lines like a ruler's were found, but their lengths don't tell millimetres from inches. "
        "Lay the ruler flat, with more of it in the picture and in focus, and take the photo again."
    )


_LEVELS_OF = {"tens": _levels_of_tens, "halves": _levels_of_halves, "twenties": _levels_of_twenties}


def _best_fit(lengths: Lengths, name: str, period: int) -> _Fit:
    """Return the best of all ways to lay a pattern over the lengths."""
    count = np.arange(len(lengths))
    return max((_fit(lengths, name, _LEVELS_OF[name](count + shift)) for shift in range(period)), key=_merit)


def _merit(fit: _Fit) -> tuple[float, bool]:
    """Return what makes a fit better: what it explains; half a period away, it explains as much with levels swapped."""
    return round(fit.explained, 9), bool((np.diff(fit.typical) > 0).all())


def _fit(lengths: Lengths, name: str, levels: Levels) -> _Fit:
    """Compare the scatter of the lengths within each level with that of all; single wild ones count little."""
    seen = np.isfinite(lengths)
    own, level = lengths[seen], levels[seen]
    numbers = np.arange(int(levels.max()) + 1)
    if not np.isin(numbers, level).all():
        return _Fit(name, levels, -np.inf, np.zeros(len(numbers)), np.inf)
    typical = np.array([np.median(own[level == number]) for number in numbers])
    cap = 0.5 * float(np.percentile(own, 95) - np.percentile(own, 5)) + 1e-9
    within = np.minimum(np.abs(own - typical[level]), cap)
    total = np.minimum(np.abs(own - np.median(own)), 2 * cap)
    total_mean = np.minimum(np.abs(own - own.mean()), 2 * cap)
    scatter = min(float(np.square(total).mean()), float(np.square(total_mean).mean()))
    explained = 1 - float(np.square(within).mean()) / scatter if scatter > 0 else -np.inf
    sigma = 1.4826 * float(np.median(within))
    return _Fit(name, levels, explained, typical, sigma)


def _eighths_or_sixteenths(lengths: Lengths, fit: _Fit) -> Division:
    """Tell eighths from sixteenths by whether every second multiple of eight is longer.

    Sixteenths have their half inches at the odd multiples of eight and their inches at the even ones; eighths have
    inches at all of them. Finer divisions, or too few to be sure, are refused.
    """
    step = float(np.diff(fit.typical[:3]).mean())
    eights = lengths[fit.levels == 3]
    eights = np.minimum(eights, fit.typical[3] + 3 * step)  # a number may touch its line
    halves = [part[np.isfinite(part)] for part in (eights[::2], eights[1::2])]
    if sum(map(len, halves)) < _LEAST_EIGHTHS or min(map(len, halves)) < 1:
        raise _unclear()
    short, long = sorted(halves, key=lambda part: float(np.median(part)))
    apart = float(np.median(long) - np.median(short))
    if (
        apart < _SAME * step
        and np.ptp(eights[np.isfinite(eights)]) < _OTHER * step
        and fit.typical[0] < _SHORT_OF_EIGHTHS
    ):
        return EIGHTHS
    if apart > _OTHER * step and len(long) > 1 and np.ptp(long) < _OTHER * step and np.ptp(short) < _OTHER * step:
        return SIXTEENTHS
    raise _unclear()
