"""Draws the outlines of all raters over the photo that they traced."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from measure.agreement.chart import SHARPNESS, Chart
from measure.agreement.errors import AgreementError
from measure.agreement.plot import LOOKS, Labels, Look, plot
from measure.hatching import RIM
from measure.outline import Outline
from measure.trend.apart import points

_COLOURS = ("#ffffff", "#c9a0ff", "#7dffa8", "#ffc46b", "#8fd3ff", "#ff9fb8", "#d7e36a", "#00d0a0")
"""Light, so that each has a contrast of 4.5 to its dark rim; skin and wounds of any colour lie beside the rim."""

_ROUND = 0.2  # of the larger side of all outlines: how much of the photo is shown round them
_LINE_PX, _RIM_PX, _MARKER_PX = 1.8, 1.3, 7.0
_MARKERS = 5  # round each outline, so that one is in sight wherever the lines run together
_SIDES_PX = 28.0
_TALLEST = 1.25  # of the width

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class _Drawn:
    """The part of the photo that is drawn, the outlines in its px, and their looks."""

    labels: Labels
    pixels: Pixels
    outlines: tuple[tuple[str, Outline, Look], ...]


def outlines_chart(pixels: Pixels, traced: Mapping[str, Sequence[Outline]], title: str, told: str = "") -> Chart:
    """Return the chart.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The photo, RGB.
    traced : mapping of str to sequence of Outline
        For each name the outlines, one a trial, in px of the photo.
    title : str
        As ``Photo 3``.
    told : str
        A sentence about how far they agree.

    Raises
    ------
    AgreementError
        If there is no outline, or more raters than can be told apart.
    """
    if not any(traced.values()):
        raise AgreementError("Nobody has traced this photo yet; its outlines are shown when somebody has.")
    if len(traced) > len(LOOKS):
        raise AgreementError(f"More than {len(LOOKS)} raters traced this photo; their outlines can't be told apart.")
    part, corner = _part(pixels, [outline for outlines in traced.values() for outline in outlines])
    shown = tuple(
        (name, _moved(outline, corner), replace(look, colour=_COLOURS[number % len(_COLOURS)]))
        for number, ((name, outlines), look) in enumerate(zip(traced.items(), LOOKS, strict=False))
        for outline in outlines
    )
    drawn = _Drawn(Labels(title, "", "", ""), part, shown)
    count = len(shown)
    caption = f"{count} outlines of the same wound, each rater's with a mark of its own. {told}".strip()
    by = ", ".join(f"{name} {_times(len(outlines))}" for name, outlines in traced.items())
    words = f"{title} with its outlines laid over it: {by}. {told}".strip()
    return Chart(_key(title), title, caption, words, partial(_draw, drawn), shows_photo=True)


def _part(pixels: Pixels, outlines: Sequence[Outline]) -> tuple[Pixels, tuple[int, int]]:
    """Return the part of the photo round all outlines, and its left upper corner (x, y)."""
    ring = np.concatenate([outline.exterior for outline in outlines])
    low, high = ring.min(axis=0), ring.max(axis=0)
    room = _ROUND * float((high - low).max()) + 2
    height, width = pixels.shape[:2]
    left, top = (max(0, math.floor(each - room)) for each in low)
    right, bottom = (min(end, math.ceil(each + room) + 1) for each, end in zip(high, (width, height), strict=True))
    return pixels[top:bottom, left:right], (left, top)


def _moved(outline: Outline, corner: tuple[int, int]) -> Outline:
    return Outline(outline.exterior - corner, tuple(hole - corner for hole in outline.holes))


def _draw(drawn: _Drawn, width: int) -> Figure:
    high, wide = drawn.pixels.shape[:2]
    across = width - _SIDES_PX
    tall = min(across * high / wide, _TALLEST * width)
    key = list({name: look for name, _, look in drawn.outlines}.items())
    made = plot(width, tall, drawn.labels, [(name, _entry(look)) for name, look in key])
    axes = made.axes
    shrunk = min(1.0, SHARPNESS * across / wide)
    size = max(1, round(wide * shrunk)), max(1, round(high * shrunk))
    small = cv2.resize(drawn.pixels, size, interpolation=cv2.INTER_AREA)
    axes.imshow(small, extent=(-0.5, wide - 0.5, high - 0.5, -0.5), interpolation="bilinear")
    axes.set_axis_off()
    number = {name: place for place, (name, _) in enumerate(key)}
    for name, outline, look in drawn.outlines:
        _outline(axes, outline, look, number[name] / len(number) / _MARKERS)
    return made.figure


def _entry(look: Look) -> Look:
    """Return the look of a mark on white paper: dark, but of the same shape."""
    return replace(look, colour=RIM)


def _outline(axes: Axes, outline: Outline, look: Look, start: float) -> None:
    """Draw an outline with its rim and its marks, the first one at a share of the way round."""
    for ring in (outline.exterior, *outline.holes):
        x, y = np.vstack([ring, ring[:1]]).T
        axes.plot(x, y, color=RIM, linewidth=points(_LINE_PX + 2 * _RIM_PX), zorder=2)
        axes.plot(x, y, color=look.colour, linewidth=points(_LINE_PX), linestyle=look.dashes, zorder=3)
    marks = _round(outline.exterior, start)
    face = RIM if look.hollow else look.colour
    edge = look.colour if look.hollow else RIM
    axes.plot(
        *marks.T, linestyle="none", marker=look.marker, markersize=points(_MARKER_PX), markerfacecolor=face,
        markeredgecolor=edge, markeredgewidth=points(1.2), zorder=4,
    )  # fmt: skip


def _round(ring: NDArray[np.float64], start: float) -> NDArray[np.float64]:
    """Return points at equal distances round a ring, shape (`_MARKERS`, 2)."""
    closed = np.vstack([ring, ring[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    wanted = ((np.arange(_MARKERS) / _MARKERS + start) % 1.0) * way[-1]
    return np.stack([np.interp(wanted, way, closed[:, axis]) for axis in (0, 1)], axis=1)


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _key(title: str) -> str:
    """Return a name for files: the title's letters and numbers."""
    return "outlines-" + "-".join("".join(each if each.isalnum() else " " for each in title.lower()).split())
