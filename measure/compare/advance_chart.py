"""A picture of how far a wound's edge moved: both outlines over one another, and the advance by the clock."""

from io import BytesIO
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from calibration.sticker import Points
from measure.compare.advance import Advance
from measure.flat import Mask

EARLIER, LATER, ADVANCED, GREW = "#5b6670", "#0b6e75", "#0b6e75", "#b3261e"
_WIDE = 4.2  # inches: as wide as a phone, so that letters keep their size there
_MOST_TALL, _LEGEND, _HOURS = (
    4.6,
    0.4,
    2.6,
)  # inches: of the outlines, of the words below them, of the marks by the clock
_EVERY = 4  # points of the edge from one line to the next: 4 mm
_LABEL_SHARE = 0.13  # of the wound's size, from the edge to the clock's labels


def advance_chart(found: Advance, earlier: Polygon, later: Polygon | MultiPolygon, noon_deg: float = 0.0) -> Figure:
    """Draw both outlines with the way from one to the other, and the advance by the clock.

    Parameters
    ----------
    found : Advance
    earlier, later : Polygon or MultiPolygon
        In mm, as they were laid over one another.
    noon_deg : float
        Direction of 12 o'clock, clockwise from the top.
    """
    both = shapely.union(earlier, later)
    low, high = _frame(both)
    tall = min(_MOST_TALL, _WIDE * float((high - low)[1] / (high - low)[0])) + _LEGEND
    figure = Figure(figsize=(_WIDE, tall + _HOURS), layout="constrained")
    above, below = figure.subplots(2, 1, height_ratios=(tall, _HOURS))
    _draw_outlines(above, found, earlier, later)
    _draw_clock(above, found, both, noon_deg)
    _draw_hours(below, found)
    return figure


def png(figure: Figure, dpi: int = 200) -> bytes:
    """Return a figure as the bytes of a PNG file."""
    file = BytesIO()
    figure.savefig(file, format="png", dpi=dpi)
    return file.getvalue()


def _draw_outlines(axes: Axes, found: Advance, earlier: Polygon, later: Polygon | MultiPolygon) -> None:
    for ring in _rings(earlier):
        axes.plot(*ring.T, color=EARLIER, linewidth=1.8, linestyle=(0, (4, 2)))
    for ring in _rings(later):
        axes.plot(*ring.T, color=LATER, linewidth=2.2)
    _draw_ways(axes, found, found.advanced, {"color": ADVANCED, "linewidth": 0.9})
    _draw_ways(axes, found, found.receded, {"color": GREW, "linewidth": 1.2, "marker": "x", "markersize": 4})
    axes.plot([], [], color=EARLIER, linewidth=1.8, linestyle=(0, (4, 2)), label="Earlier edge")
    axes.plot([], [], color=LATER, linewidth=2.2, label="Later edge")
    if found.receded.any():
        axes.plot([], [], color=GREW, linewidth=1.2, marker="x", markersize=4, label="Grew")
    words: dict[str, Any] = {"fontsize": 8.5, "handlelength": 2.2, "columnspacing": 1.2}
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.02), ncols=3, frameon=False, **words)
    axes.set_aspect("equal")
    axes.set_axis_off()


def _rings(shape: Polygon | MultiPolygon) -> list[Points]:
    parts = shapely.get_parts(shape)
    return [shapely.get_coordinates(ring) for part in parts for ring in (part.exterior, *part.interiors)]


def _draw_ways(axes: Axes, found: Advance, here: Mask, style: dict[str, Any]) -> None:
    """Draw a line from points of the earlier edge to the later one; an end that grew is marked."""
    for number in np.flatnonzero(here)[::_EVERY]:
        axes.plot(*np.array([found.points_mm[number], found.nearest_mm[number]]).T, **{"markevery": [1]} | style)


def _draw_clock(axes: Axes, found: Advance, both: BaseGeometry, noon_deg: float) -> None:
    """Write the hours round both outlines, with how far the edge moved there."""
    middle = shapely.get_coordinates(both.convex_hull.centroid)[0]
    away = _away(both)
    for at in found.by_clock:
        angle = np.radians(30 * at.hour + noon_deg)
        way = np.array([np.sin(angle), -np.cos(angle)])
        x, y = (middle + way * (_reach(both, middle, way) + away)).tolist()
        weight = "bold" if at.beyond else "normal"
        axes.text(x, y, f"{at.hour}\n{at.advance_mm:+.1f}", ha="center", va="center", fontsize=8.5, weight=weight)
    low, high = _frame(both)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(high[1], low[1])  # y is down
    left, bottom = low[0] + 0.3 * away, high[1] - 0.3 * away
    axes.plot([left, left + 10], [bottom, bottom], color="black", linewidth=3, solid_capstyle="butt", clip_on=False)
    axes.text(left + 5, bottom - 0.2 * away, "1 cm", ha="center", va="bottom", fontsize=9)


def _frame(both: BaseGeometry) -> tuple[Points, Points]:
    """Return the least and the greatest corner of what is drawn: outlines, the hours round them, the scale below."""
    away, bounds = _away(both), np.array(both.bounds)
    return bounds[:2] - 2 * away, bounds[2:] + away * np.array([2.0, 3.0])


def _away(both: BaseGeometry) -> float:
    """Return how far from the outlines the hours stand, in mm."""
    low, high = np.array(both.bounds[:2]), np.array(both.bounds[2:])
    return _LABEL_SHARE * float((high - low).max())


def _reach(shape: BaseGeometry, middle: Points, way: Points) -> float:
    """Return how far a shape reaches from its middle in a direction."""
    return float(((shapely.get_coordinates(shape) - middle) @ way).max())


def _draw_hours(axes: Axes, found: Advance) -> None:
    """Draw the advance at each hour as a mark with its interval: filled where it is more than its uncertainty."""
    for at in found.by_clock:
        inward = at.advance_mm >= 0
        colour = ADVANCED if inward else GREW
        mark: dict[str, Any] = {
            "marker": "o" if inward else "X",
            "markersize": 8,
            "color": colour if at.beyond else EARLIER,
            "markerfacecolor": colour if at.beyond else "white",
        }
        axes.errorbar(at.hour, at.advance_mm, at.expanded_mm, **mark, elinewidth=1, capsize=3)
    axes.axhline(0, color="black", linewidth=0.8)
    axes.set_title("+ into the wound, - outward", loc="left", fontsize=9)
    axes.set_xlim(0.3, 12.7)
    axes.set_xticks(range(1, 13))
    axes.set_xlabel("o'clock; hollow marks: within the uncertainty", fontsize=9)
    axes.set_ylabel("Advance in mm, ± U (k = 2)", fontsize=9)
    axes.tick_params(labelsize=9)
    axes.grid(axis="y", color="#e4e9ee", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
