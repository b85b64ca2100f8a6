"""Figures of an agreement study as people read them: as many digits as they carry, with unit and interval."""

import math

from measure.agreement.statistic import Statistic

_DIGITS = 3
"""Significant digits: no study of some dozen photos carries more."""

_MOST_DECIMALS = 4

_UNITS = {"cm2": "cm²", "mm2": "mm²", "cm3": "cm³"}


def unit_words(unit: str) -> str:
    """Return a unit as people write it: ``cm²`` for ``cm2``."""
    return _UNITS.get(unit, unit)


def counted(number: int, noun: str) -> str:
    """Return a number with what it counts: ``1 photo``, ``12 photos``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def number_words(value: float, beside: Statistic, *, sign: bool = False) -> str:
    """Return a number with the decimals of the figure that it stands beside, its sign too where asked."""
    decimals = _decimals(beside)
    text = f"{value:+.{decimals}f}" if sign else f"{value:.{decimals}f}"
    unsigned = text.lstrip("+-")
    return (unsigned if not float(unsigned) else text).replace("-", "\N{MINUS SIGN}")


def value_words(statistic: Statistic, *, sign: bool = False) -> str:
    """Return the figure with its unit: ``0.28 cm²``."""
    return f"{number_words(statistic.value, statistic, sign=sign)} {unit_words(statistic.unit)}".strip()


def interval_words(statistic: Statistic, *, sign: bool = False) -> str:
    """Return the ends of the interval, ``0.21 to 0.35``; empty where none is given."""
    if not statistic.has_interval:
        return ""
    low, high = (number_words(end, statistic, sign=sign) for end in (statistic.low, statistic.high))
    return f"{low} to {high}"


def in_brackets(statistic: Statistic, *, sign: bool = False) -> str:
    """Return the interval to follow a figure, `` (95 % interval 0.21 to 0.35)``; empty where none is given."""
    ends = interval_words(statistic, sign=sign)
    return f" (95 % interval {ends})" if ends else ""


def _decimals(statistic: Statistic) -> int:
    size = abs(statistic.value)
    if statistic.has_interval:
        size = max(size, (statistic.high - statistic.low) / 2)
    if not size:
        return 2
    return min(max(_DIGITS - 1 - math.floor(math.log10(size)), 0), _MOST_DECIMALS)
