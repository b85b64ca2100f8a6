"""Draws a wound's series: traced area and length x width over time, below them tissue and depth where they are known.

Every line has its own marker, its own dashes and its own words beside it, so nothing is told by colour alone. Figures
are made without pyplot, which is one for all threads.
"""

import io
import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, DateFormatter
from matplotlib.figure import Figure

from measure.days import said
from measure.hatching import LOOKS
from measure.trend.course import Trend
from measure.trend.gaps import LONGEST_DAYS, stretches
from measure.trend.references import Reference
from measure.trend.series import Point
from measure.uncertainty import Quantity

DESKTOP_PX, PHONE_PX = 720, 390
"""Widths of the two pictures that a page holds, as wide as its column, so that letters keep their size."""

_NARROW_PX = 600
_DPI = 100
_INK, _QUIET, _PALE = "#1b2733", "#566373", "#e4e9ee"
_AREA, _EXTENTS = "#0b5c8a", "#8a4b08"
_TISSUE_LINES = (("o", "-"), ("s", "--"), ("^", "-."), ("D", ":"), ("v", (0, (1, 3))))
_LEAST_PERCENT = 0.5  # of a tissue that is drawn at all
_TICK_DAYS = 3.0  # to either side of its week, of the line that stands for a published figure
_TISSUE_PX, _LOW_PX = 210, 150  # heights of the low panels: several words stand beside the lines of tissue
_LOW_LINE = 0.13  # of the height of a low panel, for a line of text
_AFTER = 0.30  # of the time shown, left free for words beside the lines


def chart(trend: Trend, width: int = DESKTOP_PX, *, ellipse: bool = False) -> Figure:
    """Draw a series.

    Parameters
    ----------
    trend : Trend
        With at least one point.
    width : int
        Of the picture, in px; below 600 it is laid out for a phone.
    ellipse : bool
        Whether the ellipse estimate is drawn too.

    Returns
    -------
    Figure
        100 px to the inch.
    """
    panels = _panels(trend)
    narrow = width < _NARROW_PX
    heights = [330 if narrow else 400, *(_TISSUE_PX if panel is _tissue else _LOW_PX for panel in panels[1:])]
    figure = Figure(figsize=(width / _DPI, sum(heights) / _DPI), dpi=_DPI, facecolor="white", layout="constrained")
    every = figure.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=heights)[:, 0]
    for axes, panel in zip(every, panels, strict=True):
        _dress(axes)
        panel(axes, trend, narrow, ellipse)
    _time(every[0], every[-1], trend, narrow)
    return figure


def picture(trend: Trend, kind: Literal["svg", "png"], width: int = DESKTOP_PX) -> bytes:
    """Return the chart as a file; PNG has two pixels for each of the screen."""
    file = io.BytesIO()
    options: dict[str, Any] = {"dpi": 2 * _DPI} if kind == "png" else {"metadata": {"Date": None}}
    chart(trend, width).savefig(file, format=kind, **options)
    return file.getvalue()


Panel = Callable[[Axes, Trend, bool, bool], None]


def _panels(trend: Trend) -> list[Panel]:
    points = trend.series.points
    panels: list[Panel] = [_sizes]
    if any(point.tissue for point in points):
        panels.append(_tissue)
    if any(point.depth_cm is not None for point in points):
        panels.append(_depth)
    return panels


def _dress(axes: Axes) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(_QUIET)
    axes.tick_params(colors=_INK, labelsize=_pt(12), length=3)
    axes.grid(axis="y", color=_PALE, linewidth=0.8)
    axes.set_axisbelow(True)


def _title(axes: Axes, text: str) -> None:
    axes.set_title(text, loc="left", fontsize=_pt(13), color=_INK, fontweight="bold")


def _time(first: Axes, last: Axes, trend: Trend, narrow: bool) -> None:  # noqa: FBT001 - a panel's own
    """Set the time that is shown, with room for words after it, and its dates."""
    points = trend.series.points
    start, end = points[0].at, _end(trend)
    span = max(end - start, timedelta(days=7))
    after = 1.3 * _AFTER if narrow else _AFTER * 0.75
    first.set_xlim(_x(start - span * 0.04), _x(end + span * after))
    zone = datetime.now().astimezone().tzinfo
    locator = AutoDateLocator(tz=zone, minticks=2, maxticks=4 if narrow else 8)  # type: ignore[no-untyped-call]
    locator.intervald[3] = [7, 14, 28]  # days: wounds are seen by the week
    last.xaxis.set_major_locator(locator)
    years = {point.at.year for point in points}
    written = "%-d %b" if len(years) == 1 else "%-d %b\n%Y"
    last.xaxis.set_major_formatter(DateFormatter(written, tz=zone))  # type: ignore[no-untyped-call]
    last.set_xlabel(str(points[0].at.year) if len(years) == 1 else "", fontsize=_pt(12), color=_INK, loc="left")


def _end(trend: Trend) -> datetime:
    """Return up to when something is drawn: the newest point, or the last reference."""
    end = max(point.at for point in trend.series.points)
    first = trend.series.baseline
    if first is None:
        return end
    return max([end, *(first.at + timedelta(weeks=each.weeks, days=_TICK_DAYS) for each in trend.references)])


# Sizes


def _sizes(axes: Axes, trend: Trend, narrow: bool, ellipse: bool) -> None:  # noqa: FBT001 - a panel's own
    points = trend.series.points
    _title(axes, "Size in cm², bands for k = 2")
    labels = [_line(axes, points, "traced area", lambda point: point.area, _AREA, ("o", "-"))]
    labels.append(
        _line(axes, points, "length x width", lambda point: point.length_x_width, _EXTENTS, ("s", "--"), split=True)
    )
    if ellipse:
        labels.append(
            _line(axes, points, "ellipse estimate", lambda point: point.ellipse, _QUIET, ("^", ":"), split=True)
        )
    highest = max(
        [label[1] for label in labels]
        + [point.area.value + _spread(point.area) for point in points]
        + [point.length_x_width.value + _spread(point.length_x_width) for point in points]
    )
    axes.set_ylim(0, 1.14 * highest if highest > 0 else 1.0)
    for reference in trend.references:
        labels += _reference(axes, trend, reference, narrow)
    if points[-1].healed:
        labels.append((f"healed{chr(10) if narrow else ' '}{said(points[-1].at)}", 0.0, _INK))
    _marks(axes, trend)
    _beside(axes, labels, _end(trend))


Label = tuple[str, float, str]
"""Words, the height at which they belong, and their colour."""


def _line(  # noqa: PLR0913, PLR0917 - what a line is
    axes: Axes,
    points: Sequence[Point],
    name: str,
    of: Callable[[Point], Quantity],
    colour: str,
    look: tuple[str, Any],
    *,
    split: bool = False,
) -> Label:
    """Draw one quantity; lengths are split where they are taken in another way, areas where a wound opened again."""
    marker, dashes = look
    known = [point for point in points if math.isfinite(of(point).value)]
    for run in stretches(known) if split else _episodes(known):
        times = [_x(point.at) for point in run]
        values = [of(point).value for point in run]
        spreads = [_spread(of(point)) for point in run]
        low = [value - spread for value, spread in zip(values, spreads, strict=True)]
        high = [value + spread for value, spread in zip(values, spreads, strict=True)]
        axes.fill_between(times, low, high, color=colour, alpha=0.13, linewidth=0)
        axes.errorbar(times, values, spreads, fmt="none", ecolor=colour, elinewidth=1, capsize=2.5, alpha=0.7)
        for piece, long in _pieces(times):
            width = 1 if long else 1.8
            axes.plot(times[piece], values[piece], linestyle=dashes, color=colour, linewidth=width)
        filled = "white" if split else colour
        axes.plot(times, values, linestyle="none", marker=marker, color=colour, markersize=6, markerfacecolor=filled)
    return name, of(known[-1]).value if known else 0.0, colour


def _pieces(times: Sequence[float]) -> list[tuple[slice, bool]]:
    """Return the parts of a line that are drawn alike, and whether each spans a time that is too long."""
    long = [later - earlier > LONGEST_DAYS for earlier, later in pairwise(times)]
    ends = [number for number in range(1, len(long)) if long[number] != long[number - 1]]
    bounds = [0, *ends, len(long)] if long else []
    return [(slice(start, end + 1), long[start]) for start, end in pairwise(bounds)]


def _episodes(points: Sequence[Point]) -> list[list[Point]]:
    """Return runs of points; each but the last one ends where the wound is recorded as healed."""
    runs: list[list[Point]] = [[]]
    for point in points:
        if runs[-1] and runs[-1][-1].healed:
            runs.append([])
        runs[-1].append(point)
    return [run for run in runs if run]


def _reference(axes: Axes, trend: Trend, reference: Reference, narrow: bool) -> list[Label]:  # noqa: FBT001
    """Draw a published figure as what it would make of the first area; return its words."""
    first = trend.series.baseline
    if first is None:
        return []
    at = _x(first.at + timedelta(weeks=reference.weeks))
    low, high = (first.area.value * (1 - share / 100) for share in (reference.high, reference.low))
    axes.plot([at - _TICK_DAYS, at + _TICK_DAYS], [low, low], color=_INK, linewidth=1.6)
    axes.plot([at - _TICK_DAYS, at + _TICK_DAYS], [high, high], color=_INK, linewidth=1.6)
    axes.plot([at, at], [low, high], color=_INK, linewidth=1.2)
    words = f"{reference.figure}\n({reference.short})"
    axes.axvline(at, color=_QUIET, linewidth=0.6, linestyle=(0, (2, 4)), zorder=0)
    return [(words if not narrow else words.replace(" less by ", " less,\nby "), (low + high) / 2, _INK)]


def _marks(axes: Axes, trend: Trend) -> None:
    """Mark what interrupts the series, in words."""
    across = axes.get_xaxis_transform()
    text: dict[str, Any] = {"fontsize": _pt(11), "color": _INK, "ha": "center", "va": "top"}
    for gap in trend.gaps:
        start, end = _x(gap.start), _x(gap.end)
        axes.axvspan(start, end, facecolor="none", edgecolor="#c3ccd5", hatch="//", linewidth=0, zorder=0)
        words = f"no visit\n{gap.days} days"
        axes.text((start + end) / 2, 0.99, words, transform=across, backgroundcolor="#ffffffdd", **text)
    for each in trend.breaks:
        axes.axvline(_x(each.at), color=_EXTENTS, linewidth=1.2, linestyle=(0, (6, 3)))
        words = f"length x width\nnow {each.after}".replace("-perpendicular", "-\nperpendicular")
        axes.text(_x(each.at), 0.86, words, transform=across, backgroundcolor="#ffffffdd", **text)
    for point in trend.series.points:
        if point.healed:
            axes.plot(_x(point.at), 0, marker="*", markersize=14, color=_INK, clip_on=False, zorder=5)


def _beside(axes: Axes, labels: Sequence[Label], end: datetime) -> None:
    """Write the words beside the lines, moved apart where they would touch."""
    bottom, top = axes.get_ylim()
    line = (top - bottom) * 0.058
    placed = 0.02 * top
    at = _x(end)
    for words, height, colour in sorted(labels, key=lambda label: label[1]):
        tall = line * (words.count("\n") + 1)
        middle = max(height, placed + tall / 2)
        placed = middle + tall / 2 + 0.25 * line
        axes.annotate(
            words, (at, middle), (9, 0), textcoords="offset points", va="center", fontsize=_pt(11.5), color=colour
        )


# Tissue and depth


def _tissue(axes: Axes, trend: Trend, _narrow: bool, _ellipse: bool) -> None:  # noqa: FBT001 - a panel's own
    _title(axes, "Tissue by colour, % of the area")
    told = [point for point in trend.series.points if point.tissue]
    labels: list[Label] = []
    for (name, look), (marker, dashes) in zip(LOOKS.items(), _TISSUE_LINES, strict=True):
        shares = [(_x(point.at), point.tissue[name]) for point in told if point.tissue and name in point.tissue]
        if not any(share.percent > _LEAST_PERCENT for _, share in shares):
            continue
        times, values = [at for at, _ in shares], [share.percent for _, share in shares]
        spreads = [share.expanded_uncertainty for _, share in shares]
        axes.errorbar(times, values, spreads, fmt="none", ecolor=_QUIET, elinewidth=0.8, alpha=0.6)
        axes.plot(times, values, marker=marker, linestyle=dashes, color=_INK, linewidth=1.4, markersize=5)
        labels.append((look.word.lower(), values[-1], _INK))
    axes.set_ylim(0, 105)
    _beside_small(axes, labels, trend)


def _depth(axes: Axes, trend: Trend, _narrow: bool, _ellipse: bool) -> None:  # noqa: FBT001 - a panel's own
    _title(axes, "Greatest depth in cm, by probe")
    told = [(_x(point.at), point.depth_cm) for point in trend.series.points if point.depth_cm is not None]
    axes.plot(*zip(*told, strict=True), marker="D", linestyle="-", color=_INK, linewidth=1.4, markersize=5)
    axes.set_ylim(0, 1.2 * max(depth for _, depth in told) or 1.0)
    _beside_small(axes, [("depth", told[-1][1], _INK)], trend)


def _beside_small(axes: Axes, labels: Sequence[Label], trend: Trend) -> None:
    """Write words beside the lines of a low panel, where a line of text takes more of the height."""
    _, top = axes.get_ylim()
    at = _x(_end(trend))
    ordered = sorted(labels, key=lambda label: label[1])
    for (words, _, colour), middle in zip(ordered, _apart([label[1] for label in ordered], top), strict=True):
        axes.annotate(
            words, (at, middle), (9, 0), textcoords="offset points", va="center", fontsize=_pt(11.5), color=colour
        )


def _apart(heights: Sequence[float], top: float) -> list[float]:
    """Move ascending heights apart by a line of text each: up from the bottom, then down where they pass the top."""
    placed: list[float] = []
    for height in heights:
        placed.append(max(height, (placed[-1] if placed else -_LOW_LINE * top / 2) + _LOW_LINE * top))
    limit = top
    for number in reversed(range(len(placed))):
        placed[number] = limit = min(placed[number], limit)
        limit -= _LOW_LINE * top
    return placed


def _x(at: datetime) -> float:
    """Return where an instant lies on an axis of dates: days since 1970, in UTC."""
    return at.timestamp() / 86400


def _spread(quantity: Quantity) -> float:
    """Return U; nothing where it is not known, for then no band is drawn."""
    return quantity.expanded_uncertainty if math.isfinite(quantity.expanded_uncertainty) else 0.0


def _pt(px: float) -> float:
    """Return the size of a font in points."""
    return px * 72 / _DPI
