"""The chart of how far each rater lies from the others, a row a rater."""

from collections.abc import Sequence
from functools import partial

from matplotlib.figure import Figure

from measure.agreement.bias import RaterBias
from measure.agreement.chart import Chart
from measure.agreement.figure_words import counted, in_brackets, interval_words, unit_words, value_words
from measure.agreement.plot import ROW_PX, Labels, Look, numbered, plot
from measure.trend.lines import QUIET

_TITLE = "Each rater beside the others"
_ROW_PX = 2 * ROW_PX + 8
_FAR, _NEAR = Look("#0b5c8a", "o", "-"), Look("#0b5c8a", "o", "-", hollow=True)


def bias_chart(found: Sequence[RaterBias], *, ratio: bool = False, noun: str = "photo") -> Chart:
    """Return the chart.

    Parameters
    ----------
    found : sequence of RaterBias
        At least one.
    ratio : bool
        Whether they are ratios, round 1.
    noun : str
        What a subject is called.
    """
    unit = unit_words(found[0].statistic.unit)
    across = "ratio to the others" if ratio else f"less the others, {unit}".rstrip(", ")
    labels = Labels(_TITLE, "filled: the 95 % interval leaves out " + ("1" if ratio else "0"), "", across)
    caption = (
        f"How far each rater's values lie from the mean of the other raters' values of the same {noun}s, with its 95 % "
        "interval."
    )
    words = " ".join(
        f"{_told(each, ratio=ratio)}{in_brackets(each.statistic, sign=not ratio)}, {counted(each.n, noun)}."
        for each in found
    )
    return Chart("raters", _TITLE, caption, words, partial(_draw, labels, found, ratio=ratio), about_people=True)


def _draw(labels: Labels, found: Sequence[RaterBias], width: int, *, ratio: bool) -> Figure:
    made = plot(width, _ROW_PX * len(found), labels)
    nothing = 1.0 if ratio else 0.0
    ends = [end for each in found for end in _ends(each)]
    low, high = min([nothing, *ends]), max([nothing, *ends])
    room = 0.06 * (high - low) or 1.0
    numbered(made.axes, (len(found), 0), (low - room, high + room))
    made.axes.set_yticks([])
    made.axes.axvline(nothing, color=QUIET, linewidth=1.1, zorder=1)
    for row, each in enumerate(found):
        height = row + (ROW_PX + 12) / _ROW_PX
        made.axes.plot(_ends(each), [height] * 2, color=_FAR.colour, linewidth=1.6, zorder=2)
        look = _FAR if _apart(each, nothing) else _NEAR
        made.axes.plot([each.statistic.value], [height], clip_on=False, zorder=3, **look.dots())
        made.write(14, made.above + _ROW_PX * row + ROW_PX / 2 + 2, _beside(each, ratio=ratio), bbox=_PLAIN)
    return made.figure


_PLAIN = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}


def _ends(each: RaterBias) -> list[float]:
    told = each.statistic
    return [told.low, told.high] if told.has_interval else [told.value, told.value]


def _apart(each: RaterBias, nothing: float) -> bool:
    low, high = _ends(each)
    return each.statistic.has_interval and not low <= nothing <= high


def _told(each: RaterBias, *, ratio: bool) -> str:
    return f"{each.rater}: {value_words(each.statistic, sign=not ratio)}"


def _beside(each: RaterBias, *, ratio: bool) -> str:
    """Return what stands above a rater's bar."""
    ends = interval_words(each.statistic, sign=not ratio)
    return _told(each, ratio=ratio) + (f" ({ends})" if ends else "")
