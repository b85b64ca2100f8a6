"""Draws a wound's series: traced area and length x width over time, below them tissue and depth where they are known.

Every line has its own marker, its own dashes and its own words beside it, so nothing is told by colour alone. All is
laid out in px before anything is drawn, so that no words touch, on a phone or with a hundred visits. Figures are made
without pyplot, which is one for all threads.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from itertools import pairwise
from math import ceil
from statistics import median
from typing import Any, Literal

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from measure.days import said
from measure.trend.apart import DPI, LINE_PX, flowing, in_rows, points, upward, wide
from measure.trend.course import Trend
from measure.trend.gaps import LONGEST_DAYS, Gap
from measure.trend.lines import EXTENTS, INK, QUIET, Line, Run, days, depth_lines, size_lines, tissue_lines
from measure.trend.references import Reference
from measure.trend.ticks import ticks

WIDE_PX, PHONE_PX = 700, 340
"""Widths for which pages draw it: at most for their column on a desktop, at least for a phone's without its margins."""

TEXT_PX, TITLE_PX = 12.0, 14.0
"""Of letters: still 11 px where a picture is shown 8 % narrower than it was drawn."""

_NARROW_PX = 560
_PALE, _FAINT, _REFERENCE = "#e6ebf0", "#c8d1da", "#c3cdd7"
_LEFT, _EDGE, _RIGHT, _BESIDE = 46.0, 14.0, 14.0, 12.0  # px: numbers of the axis, air round the points, margin, words
_GLYPH = 22.0  # px for the mark of a reference before its words
_ROW = LINE_PX * TEXT_PX + 4
_BELOW = 48.0  # px for dates with a year
_PLAIN = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
_MARKER_PX = 8.0
_MARKERS_APART_PX = 24.0  # in long series, so that the dashes are seen between them
_FEW = 20  # visits, each of which has its marker however close they lie
_MOST_GAPS = 3  # that are told one by one


@dataclass(frozen=True)
class Panel:
    """One plot of the chart: its title and what follows it, its lines, how high it is in px, and its highest value."""

    title: str
    aside: str
    lines: Sequence[Line]
    height: float
    top: float


@dataclass(frozen=True)
class Mark:
    """Words above the plot about an instant."""

    at: float
    words: str


@dataclass(frozen=True)
class Frame:
    """Where time lies in the picture.

    Attributes
    ----------
    start, end : float
        Days since 1970 of the left and the right end of what is drawn.
    shown : float
        Days since 1970 of what is drawn last: the end, but for a single visit.
    last : float
        Days since 1970 of the newest point, beside which the words stand.
    width, right : float
        Of the picture and of the margin at its right, in px.
    words : float
        Where the words beside the lines begin, in px.
    """

    start: float
    end: float
    shown: float
    last: float
    width: float
    right: float
    words: float

    @cached_property
    def per_day(self) -> float:
        """Px of one day."""
        return (self.width - _LEFT - self.right - 2 * _EDGE) / (self.end - self.start)

    def px(self, at: float) -> float:
        """Return where an instant lies, from the left of the picture."""
        return _LEFT + _EDGE + (at - self.start) * self.per_day

    def at(self, px: float) -> float:
        """Return which instant lies so far from the left of the picture."""
        return self.start + (px - _LEFT - _EDGE) / self.per_day


def chart(trend: Trend, width: int = WIDE_PX, *, ellipse: bool = False) -> Figure:
    """Draw a series.

    Parameters
    ----------
    trend : Trend
        With at least one point.
    width : int
        Of the picture, in px; below 560 it is laid out for a phone.
    ellipse : bool
        Whether the ellipse estimate is drawn too.

    Returns
    -------
    Figure
        100 px to the inch.
    """
    panels = _panels(trend, narrow=width < _NARROW_PX, ellipse=ellipse)
    frame = _frame(trend, [line for panel in panels for line in panel.lines], width)
    marks = _marks(trend)
    heads = [_head(trend.references if number == 0 else (), frame) for number in range(len(panels))]
    rows = _rows(marks, frame)
    strip = _ROW * (max(rows, default=-1) + 1)
    heads[0] += strip
    height = sum(heads) + sum(panel.height for panel in panels) + _BELOW + 22 * (len(panels) - 1)
    canvas = _Canvas(Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor="white"), width, height)
    above = 0.0
    for number, (panel, head) in enumerate(zip(panels, heads, strict=True)):
        axes = canvas.axes(above + head, panel, frame)
        canvas.title(above, panel)
        if number == 0:
            _references(canvas, axes, trend, frame)
            _interruptions(axes, trend)
            _say_marks(canvas, marks, rows, frame, head)
        _draw(axes, panel, frame)
        _beside(axes, panel, frame)
        _dates(axes, frame, written=number == len(panels) - 1)
        above += head + panel.height + 22
    return canvas.figure


def picture(trend: Trend, kind: Literal["svg", "png"], width: int = WIDE_PX, *, ellipse: bool = False) -> bytes:
    """Return the chart as a file; PNG has three pixels for each of the screen, enough for print."""
    file = io.BytesIO()
    options: dict[str, Any] = {"dpi": 3 * DPI} if kind == "png" else {"metadata": {"Date": None}}
    chart(trend, width, ellipse=ellipse).savefig(file, format=kind, **options)
    return file.getvalue()


# What is drawn, and where


def _panels(trend: Trend, *, narrow: bool, ellipse: bool) -> list[Panel]:
    told = trend.series.points
    sizes = size_lines(told, ellipse=ellipse)
    top = max((line.highest for line in sizes), default=0.0) or 1.0
    found = [Panel("Size in cm²", "shaded: ± for k = 2", sizes, 240.0 if narrow else 280.0, 1.06 * top)]
    if tissue := tissue_lines(told):
        found.append(Panel("Tissue in %", "by colour", tissue, 120.0, 105.0))
    if depth := depth_lines(told):
        found.append(Panel("Depth in cm", "greatest, by probe", depth, 80.0, 1.2 * depth[0].highest or 1.0))
    return found


def _frame(trend: Trend, lines: Sequence[Line], width: int) -> Frame:
    """Set the time that is shown: with words beside the newest point where they fit, else right of all."""
    told = trend.series.points
    start, last = days(told[0]), days(told[-1])
    marks = _weeks(trend)
    shown = max([last, *marks])
    end = shown if shown > start else start + 7
    room = max(wide(line.words, TEXT_PX) for line in lines) + _BESIDE
    inside = Frame(start, end, shown, last, width, _RIGHT, 0.0)
    begin = inside.px(last)
    crossed = any(begin + 4 < inside.px(at) < begin + room + 12 for at in marks)
    if not crossed and begin + room <= width - _RIGHT:
        return Frame(start, end, shown, last, width, _RIGHT, begin + _BESIDE)
    return Frame(start, end, shown, last, width, room + 6, width - room + 2)


def _weeks(trend: Trend) -> list[float]:
    """Return when references are."""
    first = trend.series.baseline
    return [] if first is None else [days(first) + 7 * reference.weeks for reference in trend.references]


def _marks(trend: Trend) -> list[Mark]:
    """Say what interrupts the series, oldest first."""
    marks = [Mark(each.at.timestamp() / 86400, f"length x width now {each.after}") for each in trend.breaks]
    marks += [Mark(days(point), f"healed {said(point.at)}") for point in trend.series.points if point.healed]
    spans = _gaps(trend)
    if len(spans) <= _MOST_GAPS:
        marks += [Mark((start + end) / 2, f"no visit for {gap.days} days") for gap, start, end in spans]
    else:
        marks.append(Mark(spans[0][1], f"hatched: no visit for more than {LONGEST_DAYS:.0f} days"))
    return sorted(marks, key=lambda mark: mark.at)


def _gaps(trend: Trend) -> list[tuple[Gap, float, float]]:
    """Return the gaps with their ends in days since 1970, as far as they lie between the first and the newest point."""
    first, last = days(trend.series.points[0]), days(trend.series.points[-1])
    inside = [
        (gap, max(gap.start.timestamp() / 86400, first), min(gap.end.timestamp() / 86400, last)) for gap in trend.gaps
    ]
    return [span for span in inside if span[2] > span[1]]


def _rows(marks: Sequence[Mark], frame: Frame) -> list[int]:
    return in_rows([_middle(mark, frame) for mark in marks], [wide(mark.words, TEXT_PX) for mark in marks], 14.0)


def _middle(mark: Mark, frame: Frame) -> float:
    """Return the middle of a mark's words: above its instant, but within the picture."""
    half = wide(mark.words, TEXT_PX) / 2
    return min(max(frame.px(mark.at), 8 + half), frame.width - 8 - half)


def _flow(found: Sequence[Reference], frame: Frame) -> list[tuple[float, int]]:
    return flowing([_GLYPH + wide(_said(each), TEXT_PX) for each in found], frame.width - 16, 20.0)


def _said(reference: Reference) -> str:
    return f"area {reference.figure} ({reference.short})"


def _head(found: Sequence[Reference], frame: Frame) -> float:
    """Return the px from the top of a panel to its plot, but for the marks."""
    rows = _flow(found, frame)[-1][1] + 1 if found else 0
    return 34.0 + _ROW * rows + (6 if rows else 0)


# Drawing


@dataclass(frozen=True)
class _Canvas:
    """A figure that is drawn on in px from its left and its top."""

    figure: Figure
    width: float
    height: float

    def axes(self, above: float, panel: Panel, frame: Frame) -> Axes:
        """Return the plot of a panel, so far from the top."""
        across = self.width - _LEFT - frame.right
        share = (_LEFT / self.width, 1 - (above + panel.height) / self.height)
        axes: Axes = self.figure.add_axes((*share, across / self.width, panel.height / self.height))
        axes.set_xlim(frame.start - _EDGE / frame.per_day, frame.end + _EDGE / frame.per_day)
        axes.set_ylim(0, panel.top)
        axes.spines[["top", "right", "left"]].set_visible(False)
        axes.spines["bottom"].set_color(QUIET)
        heights = MaxNLocator(5 if panel.height > 200 else 2, steps=[1, 2, 5, 10]).tick_values(0, panel.top)
        axes.set_yticks([height for height in heights if 0 <= height <= panel.top])
        axes.tick_params(axis="y", length=0, pad=5, labelsize=points(TEXT_PX), labelcolor=QUIET)
        axes.grid(axis="y", color=_PALE, linewidth=0.8)
        axes.set_axisbelow(True)
        return axes

    def title(self, above: float, panel: Panel) -> None:
        """Write a panel's title and what follows it."""
        self.write(8, above + 16, panel.title, size=TITLE_PX, fontweight="bold")
        self.write(8 + wide(panel.title, TITLE_PX, bold=True) + 12, above + 16, panel.aside, color=QUIET)

    def write(self, right: float, down: float, words: str, size: float = TEXT_PX, **options: Any) -> None:  # noqa: ANN401
        """Write words, whose middle is so far down."""
        look: dict[str, Any] = {"fontsize": points(size), "color": INK, "va": "center_baseline"} | options
        self.figure.text(right / self.width, 1 - down / self.height, words, **look)

    def add(self, artist: Artist) -> None:
        """Draw something in shares of the figure."""
        self.figure.add_artist(artist)

    def line(self, across: Sequence[float], down: Sequence[float], **options: Any) -> None:  # noqa: ANN401
        """Draw a line through points."""
        shares = [each / self.width for each in across], [1 - each / self.height for each in down]
        self.add(Line2D(*shares, **options))


def _references(canvas: _Canvas, axes: Axes, trend: Trend, frame: Frame) -> None:
    """Draw published figures as what they would make of the first area, behind the points, and their words above."""
    first = trend.series.baseline
    if first is None:
        return
    for reference, (across, row) in zip(trend.references, _flow(trend.references, frame), strict=True):
        down = 34 + _ROW * (row + 0.5)
        canvas.write(8 + across + _GLYPH, down, _said(reference))
        at = days(first) + 7 * reference.weeks
        low, high = (first.area.value * (1 - share / 100) for share in (reference.high, reference.low))
        axes.plot([at, at], [low, high], zorder=1.5, **_look(reference))
        canvas.line([16 + across] * 2, [down + 6, down - 6] if low < high else [down] * 2, **_look(reference))


def _look(reference: Reference) -> dict[str, Any]:
    """Return the look of a reference: a bar from one figure to the other, or a large diamond."""
    if reference.low < reference.high:
        bar = {"marker": "_", "markersize": points(15), "markeredgewidth": 1.6, "markeredgecolor": QUIET}
        return bar | {"color": _REFERENCE, "linewidth": points(8), "solid_capstyle": "butt"}
    return {
        "marker": "D", "markersize": points(11), "color": QUIET, "markerfacecolor": "white", "markeredgewidth": 1.4,
        "linestyle": "none",
    }  # fmt: skip


def _interruptions(axes: Axes, trend: Trend) -> None:
    """Draw what interrupts the series: times without a visit, other ways to take lengths, and healed wounds."""
    for _, start, end in _gaps(trend):
        axes.axvspan(start, end, facecolor="#f7f9fb", edgecolor="#dde4ea", hatch="//", linewidth=0, zorder=0.2)
    for each in trend.breaks:
        axes.axvline(each.at.timestamp() / 86400, color=EXTENTS, linewidth=1.1, linestyle=(0, (6, 3)), zorder=0.8)
    for point in trend.series.points:
        if point.healed:
            axes.axvline(days(point), color=_FAINT, linewidth=1, zorder=0.8)
            axes.plot(days(point), 0, marker="*", markersize=points(19), color=INK, clip_on=False, zorder=5)


def _say_marks(canvas: _Canvas, marks: Sequence[Mark], rows: Sequence[int], frame: Frame, head: float) -> None:
    """Write the words above the plot, each with a line down to its instant."""
    for mark, row in zip(marks, rows, strict=True):
        down = head - _ROW * (row + 0.5) - 3
        canvas.line([frame.px(mark.at)] * 2, [down, head], color=_FAINT, linewidth=1, zorder=2)
        canvas.write(_middle(mark, frame), down, mark.words, ha="center", bbox=_PLAIN, zorder=6)


def _draw(axes: Axes, panel: Panel, frame: Frame) -> None:
    for line in panel.lines:
        for run in line.runs:
            _draw_run(axes, line, run, _every(run, frame))


def _every(run: Run, frame: Frame) -> list[int]:
    """Return which values get a marker: all, or where visits lie close together as many as can be told apart."""
    apart = [frame.per_day * (later - earlier) for earlier, later in pairwise(run.times)]
    step = ceil(_MARKERS_APART_PX / max(median(apart), 0.1)) if apart else 1
    return list(range(len(run.times) - 1, -1, -step if len(run.times) > _FEW else -1))


def _draw_run(axes: Axes, line: Line, run: Run, marked: list[int]) -> None:
    """Draw values with U: as a band where they are joined, as a bar where one stands alone."""
    low, high = (
        [value + sign * spread for value, spread in zip(run.values, run.spreads, strict=True)] for sign in (-1, 1)
    )
    for piece, long in run.pieces:
        if not long:
            axes.fill_between(run.times[piece], low[piece], high[piece], color=line.colour, alpha=0.12, linewidth=0)
        width = 0.9 if long else 1.8
        axes.plot(run.times[piece], run.values[piece], linestyle=line.dashes, color=line.colour, linewidth=width)
    for number in run.lone:
        bar = [run.times[number]] * 2, [low[number], high[number]]
        axes.plot(*bar, color=line.colour, linewidth=1.2, alpha=0.6, marker="_", markersize=points(8))
    face = "white" if line.hollow else line.colour
    look: dict[str, Any] = {
        "markersize": points(_MARKER_PX),
        "markevery": marked,
        "markerfacecolor": face,
        "markeredgewidth": 1.3,
    }
    axes.plot(run.times, run.values, linestyle="none", marker=line.marker, color=line.colour, clip_on=False, **look)


def _beside(axes: Axes, panel: Panel, frame: Frame) -> None:
    """Write the words beside the lines, moved apart where they would touch, with a line to where they belong."""
    lines = sorted((line for line in panel.lines if line.words), key=_height)
    per_unit = panel.height / panel.top
    tall = [LINE_PX * TEXT_PX * (line.words.count("\n") + 1) for line in lines]
    ends = [line.last for line in lines]
    for line, (at, value), middle in zip(
        lines, ends, upward([value * per_unit for _, value in ends], tall, panel.height), strict=True
    ):
        left = frame.px(at) - frame.words
        old = left < -2.5 * _BESIDE
        if old or abs(middle - value * per_unit) > TEXT_PX / 2:
            way = [at, frame.at(frame.words - 3)], [value, middle / per_unit]
            axes.plot(
                *way,
                color=line.colour,
                linewidth=0.7,
                linestyle=(0, (1, 4)) if old else "-",
                alpha=0.6,
                clip_on=False,
                zorder=1,
            )
        axes.text(
            frame.at(frame.words), middle / per_unit, line.words, color=line.colour, fontsize=points(TEXT_PX),
            va="center_baseline" if "\n" not in line.words else "center", linespacing=1.1,
        )  # fmt: skip


def _height(line: Line) -> tuple[float, ...]:
    """Return by what words are put in order: the newest value, and where two are the same, those before."""
    return tuple(reversed(line.runs[-1].values))


def _dates(axes: Axes, frame: Frame, *, written: bool) -> None:
    """Write the dates; above the lowest plot only their small lines."""
    start, end = (datetime.fromtimestamp(86400 * each, UTC) for each in (frame.start, frame.shown))
    found = ticks(start, end, frame.px(frame.shown) - frame.px(frame.start), TEXT_PX)
    axes.set_xticks([tick.at.timestamp() / 86400 for tick in found], [tick.words if written else "" for tick in found])
    axes.tick_params(axis="x", length=4, pad=5, color=QUIET, labelsize=points(TEXT_PX), labelcolor=INK)
