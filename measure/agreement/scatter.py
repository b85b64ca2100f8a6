"""Draws differences against means: points with a mark for each rater, dashed limits, and bands for intervals."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure

from measure.agreement.observations import Names, Numbers
from measure.agreement.plot import BAND, BAND_EDGE, LOOKS, Labels, Look, Plot, Words, numbered, plot, sizes_across
from measure.trend.lines import INK, QUIET

_TALL = 270.0
_MOST_BEYOND = 1.5
"""Of the farthest point or line: so far bands are shown, which with three raters may reach much farther."""

_ONE = Look("#0b5c8a", "o", "-")
_DASHED = (0, (6, 3))


@dataclass(frozen=True)
class Level:
    """A horizontal line with the words beside it, and the interval of its height (the line alone where none)."""

    at: float
    words: str
    low: float
    high: float
    dashed: bool = True


@dataclass(frozen=True, eq=False)
class Scatter:
    """What is drawn.

    Attributes
    ----------
    labels : Labels
    mean, difference : ndarray of float64, shape (N,)
    name : ndarray of str, shape (N,)
        Whose point it is; all empty where nobody is told apart.
    levels : tuple of Level
    nothing : float
        The height at which there is no difference: 0, or 1 for ratios.
    by_factors : bool
        Whether means lie across by factors, which needs all above 0.
    """

    labels: Labels
    mean: Numbers
    difference: Numbers
    name: Names
    levels: tuple[Level, ...]
    nothing: float
    by_factors: bool


def draw_scatter(drawn: Scatter, width: int) -> Figure:
    """Draw it for a width in px."""
    looks = list(_looks(drawn))
    key = [] if len(looks) == 1 else [(name, look) for name, look, _ in looks if name]
    made = plot(width, _TALL, drawn.labels, key, [level.words for level in drawn.levels])
    _ends(made, drawn)
    made.axes.axhline(drawn.nothing, color=QUIET, linewidth=0.9, zorder=1)
    for level in drawn.levels:
        _level(made, level)
    for _, look, rows in looks:
        made.axes.plot(drawn.mean[rows], drawn.difference[rows], clip_on=False, zorder=3, **look.dots())
    made.beside([Words(level.at, level.words) for level in drawn.levels])
    return made.figure


def _looks(drawn: Scatter) -> Iterator[tuple[str, Look, Numbers]]:
    """Yield each name with its look and its rows; one look for all where there are more names than looks."""
    names = list(dict.fromkeys(map(str, drawn.name)))
    if len(names) > len(LOOKS) or len(names) == 1:
        yield "", _ONE, np.ones(drawn.name.shape, dtype=np.bool_)
        return
    for name, look in zip(names, LOOKS, strict=False):
        yield name, look, drawn.name == name


def _ends(made: Plot, drawn: Scatter) -> None:
    """Set the ends of the axes: all points and lines, and bands as far as they don't dwarf them."""
    shown = np.concatenate([drawn.difference, [level.at for level in drawn.levels], [drawn.nothing]])
    low, high = float(shown.min()), float(shown.max())
    reach = [end for level in drawn.levels for end in (level.low, level.high) if np.isfinite(end)]
    span = (high - low) or 1.0
    beyond = (_MOST_BEYOND - 1) / 2 * span
    low, high = max(min([low, *reach]), low - beyond), min(max([high, *reach]), high + beyond)
    numbered(made.axes, (low - 0.04 * span, high + 0.04 * span))
    first, last = float(drawn.mean.min()), float(drawn.mean.max())
    if drawn.by_factors and first > 0:
        sizes_across(made.axes, first, last)
        return
    room = 0.05 * (last - first) or 1.0
    numbered(made.axes, made.axes.get_ylim(), (first - room, last + room))


def _level(made: Plot, level: Level) -> None:
    if np.isfinite(level.low) and np.isfinite(level.high):
        made.axes.axhspan(level.low, level.high, facecolor=BAND, edgecolor=BAND_EDGE, linewidth=0.8, zorder=0.4)
    dashes = _DASHED if level.dashed else "-"
    made.axes.axhline(level.at, color=INK, linewidth=1.3, linestyle=dashes, zorder=2)
