"""A plot laid out in px, so that no words touch: title, key, what the axes show, and words beside its lines.

It looks like the chart of a series (`measure.trend.chart`). Figures are made without pyplot, which is one for all
threads.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator

from measure.trend.apart import DPI, LINE_PX, flowing, points, upward, wide
from measure.trend.chart import TEXT_PX, TITLE_PX
from measure.trend.lines import INK, QUIET

PALE, BAND, BAND_EDGE = "#e6ebf0", "#eef2f5", "#c3cdd7"
"""Of the grid, and of the bands of intervals with their edges, which are seen in print too."""

ROW_PX = LINE_PX * TEXT_PX + 4
"""From one row of words to the next."""

_LEFT, _RIGHT, _SIDE = 46.0, 14.0, 8.0
_GLYPH = 20.0
_TOP = 30.0
_BELOW = 46.0  # numbers of the axis, and below them what it shows
_BESIDE = 8.0
_MARKER_PX = 8.0


@dataclass(frozen=True)
class Look:
    """How the points or the line of one rater are drawn: by marker and dashes, and by colour as well."""

    colour: str
    marker: str
    dashes: Any
    hollow: bool = False

    def dots(self) -> dict[str, Any]:
        """Return what matplotlib asks for to draw points without a line."""
        face = "white" if self.hollow else self.colour
        size = {"markersize": points(_MARKER_PX), "markeredgewidth": 1.3, "markerfacecolor": face}
        return {"linestyle": "none", "marker": self.marker, "color": self.colour} | size


_COLOURS = ("#0b5c8a", "#8a4b08", "#00705a", "#6b3fa0", "#a8324a", "#636e79", "#3d6b1f", "#1d6fa5")
_SHAPES = ("o", "s", "^", "D", "v", "P", "X", "*")
_DASHES = (
    "-",
    (0, (6, 3)),
    (0, (2, 2)),
    (0, (8, 3, 2, 3)),
    (0, (4, 2)),
    (0, (8, 2, 2, 2, 2, 2)),
    (0, (1, 2)),
    (0, (10, 4)),
)

LOOKS = tuple(
    Look(colour, shape, dashes, hollow)
    for hollow in (False, True)
    for colour, shape, dashes in zip(_COLOURS, _SHAPES, _DASHES, strict=True)
)
"""So many raters can be told apart; each colour has a contrast of 4.5 to white (WCAG 2.2)."""


@dataclass(frozen=True)
class Words:
    """Words beside a line, at a height in the unit of the axis."""

    at: float
    text: str


@dataclass(frozen=True)
class Plot:
    """A figure with one plot, and where that lies in px."""

    figure: Figure
    axes: Axes
    width: float
    height: float
    above: float
    right: float
    tall: float

    def beside(self, found: Sequence[Words]) -> None:
        """Write words right of the plot beside their heights, moved apart where they would touch."""
        low, high = self.axes.get_ylim()
        per_unit = self.tall / (high - low)
        ordered = sorted(found, key=lambda words: words.at)
        tall = [LINE_PX * TEXT_PX * (words.text.count("\n") + 1) for words in ordered]
        middles = upward([(words.at - low) * per_unit for words in ordered], tall, self.tall)
        left = self.width - self.right + _BESIDE
        for words, middle in zip(ordered, middles, strict=True):
            self.write(left, self.above + self.tall - middle, words.text, va="center", linespacing=1.15)

    def write(self, right: float, down: float, words: str, size: float = TEXT_PX, **options: Any) -> None:  # noqa: ANN401
        """Write words, whose middle is so far down."""
        look: dict[str, Any] = {"fontsize": points(size), "color": INK, "va": "center_baseline"} | options
        self.figure.text(right / self.width, 1 - down / self.height, words, **look)


@dataclass(frozen=True)
class Labels:
    """What is written round a plot: its title, what follows it, and what its axes show."""

    title: str
    aside: str
    upright: str
    across: str


def plot(
    width: int, tall: float, labels: Labels, key: Sequence[tuple[str, Look]] = (), beside: Sequence[str] = ()
) -> Plot:
    """Return an empty plot.

    Parameters
    ----------
    width : int
        Of the picture, in px.
    tall : float
        Of the plot alone, in px.
    labels : Labels
    key : sequence of str and Look
        Names with their marks, written above the plot in rows.
    beside : sequence of str
        What will be written right of it, for the room that it needs.
    """
    right = max([_RIGHT, *(wide(text, TEXT_PX) + 2 * _BESIDE for text in beside)])
    places = flowing([_GLYPH + wide(name, TEXT_PX) for name, _ in key], width - 2 * _SIDE, 16.0)
    aside = _aside(labels, width)
    head = _TOP + (0 if _follows(labels, width) else ROW_PX * len(aside))
    above = head + ROW_PX * (places[-1][1] + 1 if places else 0) + (ROW_PX + 4 if labels.upright else 6)
    height = above + tall + (_BELOW if labels.across else 26.0)
    figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor="white")
    left = _LEFT if labels.upright else _RIGHT
    share = (left / width, 1 - (above + tall) / height, (width - left - right) / width, tall / height)
    made = Plot(figure, figure.add_axes(share), width, height, above, right, tall)
    _title(made, labels, aside)
    for (name, look), (across, row) in zip(key, places, strict=True):
        _entry(made, _SIDE + across, head + ROW_PX * (row + 0.5), name, look)
    if labels.upright:
        made.write(_SIDE, above - ROW_PX / 2 - 4, labels.upright, color=QUIET)
    if labels.across:
        made.write(width - right, height - 12, labels.across, color=QUIET, ha="right")
    _quiet(made.axes)
    return made


def numbered(axes: Axes, upright: tuple[float, float], across: tuple[float, float] | None = None) -> None:
    """Set the ends of both axes and write few numbers at them; only upright where nothing is given for across."""
    axes.set_ylim(*upright)
    axes.set_yticks(_round(upright))
    axes.grid(axis="y", color=PALE, linewidth=0.8)
    if across:
        axes.set_xlim(*across)
        axes.set_xticks(_round(across))


def sizes_across(axes: Axes, low: float, high: float) -> None:
    """Let an axis of sizes grow by factors, with the numbers 1, 2 and 5 times powers of ten, or fewer of them."""
    axes.set_xscale("log")
    axes.set_xlim(low / 1.15, high * 1.15)
    for digits in ((1, 2, 5), (1, 3), (1,)):
        found = [digit * 10.0**power for power in range(-6, 8) for digit in digits]
        shown = [each for each in found if low / 1.15 <= each <= high * 1.15]
        if len(shown) <= 6:
            break
    shown = shown if len(shown) > 1 else sorted({float(f"{low:.2g}"), float(f"{high:.2g}")})
    axes.xaxis.set_major_locator(FixedLocator(shown))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticks(shown, [f"{each:g}" for each in shown])


def _round(ends: tuple[float, float]) -> list[float]:
    """Return few round numbers between two ends."""
    low, high = sorted(ends)
    found = MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    return [float(each) for each in found if low <= each <= high]


def _follows(labels: Labels, width: int) -> bool:
    """Whether what follows the title fits behind it."""
    needed = wide(labels.title, TITLE_PX, bold=True) + 12 + wide(labels.aside, TEXT_PX)
    return needed <= width - 2 * _SIDE


def _aside(labels: Labels, width: int) -> list[str]:
    """Return what follows the title in as many lines as the width asks for."""
    lines: list[str] = []
    for word in labels.aside.split():
        if lines and wide(f"{lines[-1]} {word}", TEXT_PX) <= width - 2 * _SIDE:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def _title(made: Plot, labels: Labels, aside: Sequence[str]) -> None:
    made.write(_SIDE, 16, labels.title, size=TITLE_PX, fontweight="bold")
    if _follows(labels, int(made.width)):
        made.write(_SIDE + wide(labels.title, TITLE_PX, bold=True) + 12, 16, labels.aside, color=QUIET)
        return
    for row, line in enumerate(aside):
        made.write(_SIDE, _TOP + ROW_PX * (row + 0.5), line, color=QUIET)


def _entry(made: Plot, right: float, down: float, name: str, look: Look) -> None:
    """Draw the mark of a rater and its name behind it."""
    mark = Line2D([(right + 7) / made.width], [1 - down / made.height], **look.dots())
    made.figure.add_artist(mark)
    made.write(right + _GLYPH, down, name)


def _quiet(axes: Axes) -> None:
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.spines["bottom"].set_color(QUIET)
    axes.tick_params(axis="y", length=0, pad=5, labelsize=points(TEXT_PX), labelcolor=QUIET)
    axes.tick_params(axis="x", length=4, pad=5, color=QUIET, labelsize=points(TEXT_PX), labelcolor=INK)
    axes.set_axisbelow(True)
