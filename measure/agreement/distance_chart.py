"""The chart of several raters: each value less the mean of its photo, against that mean (Jones and others 2011)."""

import math
from functools import partial

from measure.agreement.chart import Chart
from measure.agreement.figure_words import in_brackets, number_words, unit_words
from measure.agreement.from_mean import FromMean
from measure.agreement.plot import Labels
from measure.agreement.scatter import Level, Scatter, draw_scatter

_ASIDE = "dashed: limits of agreement with the mean; shaded: their 95 % intervals"
_CAPTION = (
    "Each value less the mean of all raters' values of the same {noun}, against that mean: about 95 of 100 values lie "
    "between the dashed limits."
)


def distance_chart(found: FromMean, *, noun: str = "photo") -> Chart:
    """Return the chart; raters are told apart by their marks, under the names that they have in ``found``.

    Parameters
    ----------
    found : FromMean
    noun : str
        What a subject is called.
    """
    title = f"Distance from the {noun}'s mean"
    size, distance = unit_words(found.unit), "%" if found.relative else unit_words(found.unit)
    labels = Labels(title, _ASIDE, _with("value less mean", distance), _with(f"mean of the {noun}", size))
    levels = (_upper(found, distance), _lower(found, distance))
    drawn = Scatter(labels, found.mean, found.difference, found.rater, levels, 0.0, found.relative)
    words = _words(found, levels, noun)
    return Chart("differences", title, _CAPTION.format(noun=noun), words, partial(draw_scatter, drawn))


def _upper(found: FromMean, distance: str) -> Level:
    limit = found.limit
    words = f"{number_words(limit.value, limit, sign=True)} {distance}".rstrip()
    return Level(limit.value, words, limit.low, limit.high)


def _lower(found: FromMean, distance: str) -> Level:
    words = f"{number_words(found.low_limit, found.limit, sign=True)} {distance}".rstrip()
    low, high = (_down(found, end) for end in (found.limit.high, found.limit.low))
    return Level(found.low_limit, words, low, high)


def _down(found: FromMean, end: float) -> float:
    """Return the distance downward that belongs to one upward: the same factor where distances are relative."""
    return 100 * (1 / (1 + end / 100) - 1) if found.relative else -end


def _with(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else words


def _words(found: FromMean, levels: tuple[Level, ...], noun: str) -> str:
    raters = dict.fromkeys(map(str, found.rater))
    beyond = [not found.low_limit <= each <= found.limit.value for each in found.difference]
    upper, lower = (level.words for level in levels)
    those = f"{noun} was" if found.left_out == 1 else f"{noun}s were"
    left_out = f" {found.left_out} {those} not measured equally often by all and left out." if found.left_out else ""
    return (
        f"{len(found.difference)} values by {len(raters)} raters, from means of {_size(found.mean.min())} to "
        f"{_size(found.mean.max())} {unit_words(found.unit)}. Limits of agreement with the mean: {lower} and {upper}"
        f"{in_brackets(found.limit)}; {_outside(sum(beyond))}.{left_out}"
    )


def _outside(count: int) -> str:
    return "1 value lies outside" if count == 1 else f"{count} values lie outside"


def _size(value: float) -> str:
    return f"{value:.{max(0, 1 - math.floor(math.log10(abs(value)))) if value else 0}f}"
