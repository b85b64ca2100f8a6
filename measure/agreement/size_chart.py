"""The chart of spread by size: whether small wounds are measured less well than large ones."""

import math
from dataclasses import dataclass
from functools import partial

import numpy as np
from matplotlib.figure import Figure

from measure.agreement.chart import Chart
from measure.agreement.errors import AgreementError
from measure.agreement.figure_words import unit_words
from measure.agreement.observations import Numbers, Observations, codes
from measure.agreement.plot import Labels, Look, numbered, plot, sizes_across
from measure.trend.lines import INK

_TITLE = "Spread by wound size"
_TALL = 220.0
_LEAST_A_CLASS = 4
"""Photos in each third for which a typical spread is told: fewer would tell about single photos."""

_DOT = Look("#0b5c8a", "o", "-")


@dataclass(frozen=True)
class _Step:
    """The root mean square of spreads from one size to another."""

    start: float
    end: float
    spread: float
    subjects: int


@dataclass(frozen=True, eq=False)
class _Drawn:
    """What is drawn: means and spreads, smallest mean first, and typical spreads."""

    labels: Labels
    mean: Numbers
    spread: Numbers
    steps: list[_Step]
    by_factors: bool


def size_chart(observations: Observations, *, noun: str = "photo") -> Chart:
    """Return the chart of the standard deviation of each subject's values against their mean.

    The spread is told in percent of the mean where all values are more than 0, else in their unit.

    Parameters
    ----------
    observations : Observations
        Numbers, by one method.
    noun : str
        What a subject is called.

    Raises
    ------
    AgreementError
        If the values are categories, or no subject was measured twice.
    """
    mean, spread = _spreads(observations)
    relative = bool((observations.value > 0).all())
    unit = unit_words(observations.unit)
    if relative:
        spread = 100 * spread / mean
    steps = _steps(mean, spread)
    said = "%" if relative else unit
    labels = Labels(
        _TITLE,
        f"each dot a {noun}; lines: typical spread",
        "standard deviation, % of the mean" if relative else _with("standard deviation", unit),
        _with(f"mean of the {noun}", unit),
    )
    caption = (
        f"How far the values of one {noun} lie apart, as their standard deviation, against their mean: "
        f"{_compared(steps, said)}."
    )
    words = f"{len(mean)} {noun}s. {_told(steps, said, unit)}"
    drawn = _Drawn(labels, mean, spread, steps, relative)
    return Chart("sizes", _TITLE, caption, words, partial(_draw, drawn))


def _spreads(observations: Observations) -> tuple[Numbers, Numbers]:
    """Return mean and sample standard deviation of each subject that was measured twice or more, smallest first."""
    if not observations.numeric:
        raise AgreementError("Categories have no size; draw how often each was named.")
    rows = codes(observations.subject, observations.subjects)
    count = np.bincount(rows)
    mean = np.bincount(rows, observations.value) / count
    square = np.bincount(rows, (observations.value - mean[rows]) ** 2)
    twice = count > 1
    if not twice.any():
        raise AgreementError("Nothing was measured twice; how far values lie apart needs a second value.")
    mean, spread = mean[twice], np.sqrt(square[twice] / (count[twice] - 1))
    order = np.argsort(mean, kind="stable")
    return mean[order], spread[order]


def _steps(mean: Numbers, spread: Numbers) -> list[_Step]:
    """Return the typical spread in thirds of the sizes, or over all where thirds would be too small."""
    thirds = 3 if len(mean) >= 3 * _LEAST_A_CLASS else 1
    return [
        _Step(float(sizes[0]), float(sizes[-1]), math.sqrt(float((part**2).mean())), len(part))
        for sizes, part in zip(np.array_split(mean, thirds), np.array_split(spread, thirds), strict=True)
    ]


def _draw(drawn: _Drawn, width: int) -> Figure:
    made = plot(width, _TALL, drawn.labels)
    axes, first, last = made.axes, float(drawn.mean[0]), float(drawn.mean[-1])
    upright = (0.0, 1.12 * float(drawn.spread.max()) or 1.0)
    if drawn.by_factors:
        numbered(axes, upright)
        sizes_across(axes, first, last)
    else:
        room = 0.05 * (last - first) or 1.0
        numbered(axes, upright, (first - room, last + room))
    axes.plot(drawn.mean, drawn.spread, clip_on=False, zorder=3, **_DOT.dots())
    for step in drawn.steps:
        axes.plot([step.start, step.end], [step.spread] * 2, color=INK, linewidth=2.2, zorder=2)
    return made.figure


def _compared(steps: list[_Step], said: str) -> str:
    if len(steps) == 1:
        return f"typically {_with_unit(steps[0].spread, said)}"
    small, large = steps[0], steps[-1]
    return (
        f"typically {_with_unit(small.spread, said)} in the third with the smallest and "
        f"{_with_unit(large.spread, said)} in the third with the largest means"
    )


def _told(steps: list[_Step], said: str, unit: str) -> str:
    return " ".join(
        f"From {_number(step.start)} to {_with_unit(step.end, unit)}: {_with_unit(step.spread, said)} "
        f"(of {step.subjects})."
        for step in steps
    )


def _with_unit(value: float, unit: str) -> str:
    return f"{_number(value)} {unit}".strip()


def _number(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


def _with(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else words
