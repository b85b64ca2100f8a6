"""What a chart draws of a series: lines with a look of their own, in runs that may be joined."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from measure.hatching import LOOKS
from measure.trend.gaps import LONGEST_DAYS, stretches
from measure.trend.series import Point
from measure.uncertainty import Quantity

INK, QUIET, AREA, EXTENTS = "#1b2733", "#566373", "#0b5c8a", "#8a4b08"
_LEAST_PERCENT = 0.5  # of a tissue that is drawn at all
_TISSUE = (
    ("#6b3fa0", "o", "-"),
    ("#7d5a1e", "s", "--"),
    ("#00705a", "^", "-."),
    ("#1d6fa5", "D", (0, (1, 1.5))),
    ("#636e79", "v", (0, (1, 3))),
)  # none is red, yellow or black, the names of tissues; each has a contrast of 4.5 to white (WCAG 2.2)


@dataclass(frozen=True)
class Run:
    """Values that are joined: days since 1970 in UTC, values, and U of each (0 where it is not known)."""

    times: tuple[float, ...]
    values: tuple[float, ...]
    spreads: tuple[float, ...]

    @property
    def pieces(self) -> list[tuple[slice, bool]]:
        """The parts that are drawn alike, and whether each spans times that are too long to know what was between."""
        long = [later - earlier > LONGEST_DAYS for earlier, later in pairwise(self.times)]
        ends = [number for number in range(1, len(long)) if long[number] != long[number - 1]]
        bounds = [0, *ends, len(long)] if long else []
        return [(slice(start, end + 1), long[start]) for start, end in pairwise(bounds)]

    @property
    def lone(self) -> tuple[int, ...]:
        """Numbers of the values that no band covers."""
        covered = {number for piece, long in self.pieces if not long for number in range(piece.start, piece.stop)}
        return tuple(number for number in range(len(self.times)) if number not in covered)


@dataclass(frozen=True)
class Line:
    """A quantity over time, told by its words, its marker and its dashes, and by its colour as well."""

    words: str
    runs: tuple[Run, ...]
    colour: str
    marker: str
    dashes: Any
    hollow: bool = False

    @property
    def last(self) -> tuple[float, float]:
        """When it was last known, and what it was then."""
        return self.runs[-1].times[-1], self.runs[-1].values[-1]

    @property
    def highest(self) -> float:
        """Return the highest value with its uncertainty."""
        return max(value + spread for run in self.runs for value, spread in zip(run.values, run.spreads, strict=True))


def size_lines(points: Sequence[Point], *, ellipse: bool) -> list[Line]:
    """Return areas, split where a wound opened again, and extents, split where they are taken in another way too."""
    areas = _runs(_episodes(points), lambda point: point.area)
    extents = _runs(stretches(points), lambda point: point.length_x_width)
    found = [
        Line("traced area", areas, AREA, "o", "-"),
        Line("length x width", extents, EXTENTS, "s", "--", hollow=True),
    ]
    if ellipse:
        runs = _runs(stretches(points), lambda point: point.ellipse)
        found.append(Line("ellipse estimate", runs, QUIET, "^", (0, (1, 1.5)), hollow=True))
    return [line for line in found if line.runs]


def tissue_lines(points: Sequence[Point]) -> list[Line]:
    """Return the share of each tissue that was told at all."""
    lines = []
    for (name, look), (colour, marker, dashes) in zip(LOOKS.items(), _TISSUE, strict=True):
        runs = tuple(_shares(episode, name) for episode in _episodes(points))
        told = tuple(run for run in runs if run.times)
        if any(value > _LEAST_PERCENT for run in told for value in run.values):
            lines.append(Line(look.word.lower(), told, colour, marker, dashes))
    return lines


def depth_lines(points: Sequence[Point]) -> list[Line]:
    """Return the greatest depth by probe, where it was found."""
    runs = []
    for episode in _episodes(points):
        told = [(days(point), point.depth_cm) for point in episode if point.depth_cm is not None]
        if told:
            times, values = zip(*told, strict=True)
            runs.append(Run(times, values, (0.0,) * len(times)))
    return [Line("", tuple(runs), INK, "D", "-")] if runs else []


def days(point: Point) -> float:
    """Return when a point is, in days since 1970 in UTC, as axes of dates count."""
    return point.at.timestamp() / 86400


def _runs(parts: Sequence[Sequence[Point]] | Iterator[list[Point]], of: Callable[[Point], Quantity]) -> tuple[Run, ...]:
    runs = []
    for part in parts:
        known = [(days(point), of(point)) for point in part if math.isfinite(of(point).value)]
        if known:
            times, quantities = zip(*known, strict=True)
            values = tuple(quantity.value for quantity in quantities)
            runs.append(Run(times, values, tuple(_spread(quantity.expanded_uncertainty) for quantity in quantities)))
    return tuple(runs)


def _shares(points: Sequence[Point], name: str) -> Run:
    told = [(days(point), point.tissue[name]) for point in points if point.tissue and name in point.tissue]
    spreads = tuple(_spread(share.expanded_uncertainty) for _, share in told)
    return Run(tuple(at for at, _ in told), tuple(share.percent for _, share in told), spreads)


def _episodes(points: Sequence[Point]) -> list[list[Point]]:
    """Return runs of points; each but the last one ends where the wound is recorded as healed."""
    runs: list[list[Point]] = [[]]
    for point in points:
        if runs[-1] and runs[-1][-1].healed:
            runs.append([])
        runs[-1].append(point)
    return [run for run in runs if run]


def _spread(expanded: float) -> float:
    """Return U; nothing where it is not known, for then no band is drawn."""
    return expanded if math.isfinite(expanded) else 0.0
