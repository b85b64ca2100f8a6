"""The chart of two methods or two raters: their difference against their mean (Bland and Altman 1986)."""

from functools import partial

import numpy as np

from measure.agreement.chart import Chart
from measure.agreement.figure_words import in_brackets, number_words, unit_words
from measure.agreement.limits import Limits
from measure.agreement.plot import Labels
from measure.agreement.scatter import Level, Scatter, draw_scatter
from measure.agreement.statistic import Statistic

_ASIDE = "solid: mean; dashed: limits of agreement; shaded: 95 % intervals"


def difference_chart(found: Limits, names: tuple[str, str], *, noun: str = "photo") -> Chart:
    """Return the chart.

    Parameters
    ----------
    found : Limits
        As ratios where ``log``.
    names : pair of str
        Of the first and the second.
    noun : str
        What a subject is called.
    """
    first, second = names
    unit = unit_words(found.unit)
    title = "Ratio against mean" if found.log else "Difference against mean"
    what = f"{first} as a share of {second}" if found.log else f"{first} less {second}"
    labels = Labels(title, _ASIDE, what if found.log else _with(what, unit), _with("mean of both", unit))
    named = (("lower limit", found.lower), ("mean", found.bias), ("upper limit", found.upper))
    levels = tuple(_level(word, figure, unit, log=found.log) for word, figure in named)
    values = np.exp(found.difference) if found.log else found.difference
    nobody = np.full(found.mean.shape, "")
    drawn = Scatter(labels, found.mean, values, nobody, levels, float(found.log), found.log)
    caption = (
        f"{what[0].upper()}{what[1:]} for each {noun}, against the mean of both: about 95 of 100 lie between the "
        "dashed limits."
    )
    told = "; ".join(
        f"{word} {_value(figure, unit, log=found.log)}{in_brackets(figure, sign=not found.log)}"
        for word, figure in named
    )
    outside = int(((values < found.lower.value) | (values > found.upper.value)).sum())
    words = f"{what}, {len(values)} pairs: {told}. {outside} of them lie outside the limits."
    return Chart("differences", title, caption, words, partial(draw_scatter, drawn))


def _level(word: str, figure: Statistic, unit: str, *, log: bool) -> Level:
    words = f"{_value(figure, unit, log=log)}\n{word}"
    return Level(figure.value, words, figure.low, figure.high, dashed=word != "mean")


def _value(figure: Statistic, unit: str, *, log: bool) -> str:
    number = number_words(figure.value, figure, sign=not log)
    return number if log else f"{number} {unit}".strip()


def _with(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else words
