"""A picture of how far a wound's edge moved: both outlines over one another, and the advance by the clock."""

from io import BytesIO
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import MultiPolygon, Polygon

from calibration.sticker import Points
from measure.compare.advance import Advance
from measure.flat import Mask

EARLIER, LATER, ADVANCED, GREW = "#5b6670", "#0b6e75", "#0b6e75", "#b3261e"
_INCHES = (4.2, 7.0)  # as wide as a phone, so that letters keep their size there
_EVERY = 3  # points of the edge from one line to the next: 3 mm
_LABEL_SHARE = 0.13  # of the wound's size, from the edge to the clock's labels


def advance_chart(found: Advance, earlier: Polygon, later: Polygon | MultiPolygon, noon_deg: float = 0.0) -> Figure:
    """Draw both outlines with the way from one to the other, and bars by the clock.

    Parameters
    ----------
    found : Advance
    earlier, later : Polygon or MultiPolygon
        In mm, as they were laid over one another.
    noon_deg : float
        Direction of 12 o'clock, clockwise from the top.
    """
    figure = Figure(figsize=_INCHES, layout="constrained")
    above, below = figure.subplots(2, 1, height_ratios=(3, 2))
    _draw_outlines(above, found, earlier, later)
    _draw_clock(above, found, earlier, noon_deg)
    _draw_bars(below, found)
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
        axes.plot([], [], color=GREW, linewidth=1.2, marker="x", markersize=4, label="The wound grew")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.02), ncols=3, frameon=False, fontsize=9, handlelength=2.6)
    axes.set_aspect("equal")
    axes.set_axis_off()


def _rings(shape: Polygon | MultiPolygon) -> list[Points]:
    parts = shapely.get_parts(shape)
    return [shapely.get_coordinates(ring) for part in parts for ring in (part.exterior, *part.interiors)]


def _draw_ways(axes: Axes, found: Advance, here: Mask, style: dict[str, Any]) -> None:
    """Draw a line from points of the earlier edge to the later one; an end that grew is marked."""
    for number in np.flatnonzero(here)[::_EVERY]:
        axes.plot(*np.array([found.points_mm[number], found.nearest_mm[number]]).T, **{"markevery": [1]} | style)


def _draw_clock(axes: Axes, found: Advance, earlier: Polygon, noon_deg: float) -> None:
    """Write the hours round the wound, with how far the edge moved there."""
    low, high = np.array(earlier.bounds[:2]), np.array(earlier.bounds[2:])
    middle = shapely.get_coordinates(Polygon(earlier.exterior).centroid)[0]
    away = _LABEL_SHARE * float((high - low).max())
    for at in found.by_clock:
        angle = np.radians(30 * at.hour + noon_deg)
        way = np.array([np.sin(angle), -np.cos(angle)])
        x, y = (middle + way * (_reach(earlier, middle, way) + away)).tolist()
        weight = "bold" if at.beyond else "normal"
        axes.text(x, y, f"{at.hour}\n{at.advance_mm:+.1f}", ha="center", va="center", fontsize=8.5, weight=weight)
    side = high - low
    axes.set_xlim(low[0] - 2 * away - 0.1 * side[0], high[0] + 2 * away + 0.1 * side[0])
    axes.set_ylim(high[1] + 2 * away + 0.1 * side[1], low[1] - 2 * away - 0.1 * side[1])  # y is down
    left, bottom = axes.get_xlim()[0], axes.get_ylim()[0]
    axes.plot([left, left + 10], [bottom, bottom], color="black", linewidth=3, solid_capstyle="butt", clip_on=False)
    axes.text(left + 5, bottom - 0.02 * float(side.max()), "1 cm", ha="center", va="bottom", fontsize=9)


def _reach(shape: Polygon, middle: Points, way: Points) -> float:
    """Return how far a shape reaches from its middle in a direction."""
    return float(((shapely.get_coordinates(shape.exterior) - middle) @ way).max())


def _draw_bars(axes: Axes, found: Advance) -> None:
    hours = [at.hour for at in found.by_clock]
    heights = [at.advance_mm for at in found.by_clock]
    bars = axes.bar(hours, heights, color=LATER, edgecolor="black", linewidth=0.6)
    for bar, at in zip(bars, found.by_clock, strict=True):
        if not at.beyond:
            bar.set(facecolor="white", hatch="////")
        elif at.advance_mm < 0:
            bar.set(facecolor=GREW, hatch="xx")
    axes.errorbar(hours, heights, [at.expanded_mm for at in found.by_clock], fmt="none", ecolor="black", capsize=3)
    axes.axhline(0, color="black", linewidth=0.8)
    axes.set_xticks(range(1, 13))
    axes.set_xlabel("o'clock; hatched //: within the uncertainty", fontsize=9)
    axes.set_ylabel("Advance in mm, ± U (k = 2)", fontsize=9)
    axes.tick_params(labelsize=9)
    axes.spines[["top", "right"]].set_visible(False)
