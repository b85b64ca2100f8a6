"""The measured visits of one wound, in the order of time.

A wound that is recorded as healed counts as a point without area at that time: nobody traces an outline round nothing.
What comes after it was opened again is a new episode, and is compared with nothing before.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any

from measure.days import day_of
from measure.proportions import Share
from measure.record.entries import Event, MeasurementEntry, VisitEntry, What, WoundEntry
from measure.uncertainty import Quantity

HEALED = "healed"
"""The method of a point at which the wound is recorded as healed: nothing was measured there."""


@dataclass(frozen=True, eq=False)
class Point:
    """What was measured at one visit.

    Attributes
    ----------
    at : datetime
    by : str
        Initials or staff code of who saw the wound.
    area, length_x_width, ellipse : Quantity
        In cm2; 0 and known exactly where the wound is recorded as healed.
    perimeter, length, width : Quantity
        In cm.
    convention : str
        How length and width were taken; empty where the wound is recorded as healed.
    method : str
        What drew the outline, or `HEALED`.
    tissue : mapping of str to Share, optional
        Proportions of the area by tissue; None where nothing was told of it.
    depth_cm : float, optional
    visit : VisitEntry, optional
        None where a wound was recorded as healed without a visit on that day.
    """

    at: datetime
    by: str
    area: Quantity
    perimeter: Quantity
    length: Quantity
    width: Quantity
    length_x_width: Quantity
    ellipse: Quantity
    convention: str
    method: str
    tissue: Mapping[str, Share] | None
    depth_cm: float | None
    visit: VisitEntry | None

    @property
    def healed(self) -> bool:
        """Whether the wound is recorded as healed here."""
        return self.method == HEALED


@dataclass(frozen=True, eq=False)
class Series:
    """A wound over time.

    Attributes
    ----------
    wound : WoundEntry
    points : tuple of Point
        Oldest first: visits with an area, and where the wound is recorded as healed.
    visits : tuple of VisitEntry
        All of them, oldest first.
    """

    wound: WoundEntry
    points: tuple[Point, ...]
    visits: tuple[VisitEntry, ...]

    @property
    def current(self) -> tuple[Point, ...]:
        """The points since the wound was opened, or opened again, for the last time."""
        ended = _ended(self.wound.events)
        return self.points if ended is None else tuple(point for point in self.points if point.at > ended)

    @property
    def baseline(self) -> Point | None:
        """What the current points are compared with: the first one with an area that is more than nothing."""
        return next((point for point in self.current if point.area.value > 0), None)

    @property
    def latest(self) -> Point | None:
        """The newest point after the baseline; None where there is none to compare."""
        first = self.baseline
        return self.current[-1] if first and self.current[-1] is not first else None


def series_of(wound: WoundEntry, visits: Sequence[VisitEntry]) -> Series:
    """Put the visits of a wound in order; those without an area stay visits, and are no points.

    Visits that somebody left out are left out.
    """
    ordered = tuple(sorted((visit for visit in visits if not visit.left_out), key=lambda visit: visit.at))
    measured = [point for visit in ordered if (point := _measured(visit))]
    points = [*measured, *_healed(wound.events, ordered)]
    return Series(wound, tuple(sorted(points, key=lambda point: (point.at, point.healed))), ordered)


def _ended(events: Sequence[Event]) -> datetime | None:
    """Return when the wound was healed before it was opened again for the last time; None where it never was."""
    ended = healed = None
    for event in events:
        healed = event.at if event.what is What.HEALED else healed
        ended = (healed or event.at) if event.what is What.REOPENED else ended
    return ended


def _measured(visit: VisitEntry) -> Point | None:
    measurement = visit.measurement
    if measurement is None or not measurement.document["wounds"]:
        return None
    point = _point(visit, measurement)
    return point if math.isfinite(point.area.value) else None


def _point(visit: VisitEntry, measurement: MeasurementEntry) -> Point:
    wound = measurement.wound
    return Point(
        at=visit.at,
        by=visit.by,
        area=_quantity(wound["area_cm2"], "cm2"),
        perimeter=_quantity(wound["perimeter_cm"], "cm"),
        length=_quantity(wound["length_cm"], "cm"),
        width=_quantity(wound["width_cm"], "cm"),
        length_x_width=_quantity(wound["length_x_width_cm2"], "cm2"),
        ellipse=_quantity(wound["ellipse_cm2"], "cm2"),
        convention=measurement.convention,
        method=str(wound["method"]),
        tissue=_tissue(wound.get("tissue")),
        depth_cm=_depth_cm(visit),
        visit=visit,
    )


def _healed(events: Sequence[Event], visits: Sequence[VisitEntry]) -> Iterator[Point]:
    """Yield a point without area for each time the wound is recorded as healed."""
    for event in events:
        if event.what is not What.HEALED:
            continue
        same_day = [visit for visit in visits if day_of(visit.at) == day_of(event.at)]
        yield _nothing_left(event, same_day[-1] if same_day else None)


def _nothing_left(event: Event, visit: VisitEntry | None) -> Point:
    none, no_line = Quantity(0.0, "cm2", {}), Quantity(0.0, "cm", {})
    return Point(
        at=event.at,
        by=event.by,
        area=none,
        perimeter=no_line,
        length=no_line,
        width=no_line,
        length_x_width=none,
        ellipse=none,
        convention="",
        method=HEALED,
        tissue=None,
        depth_cm=None,
        visit=visit,
    )


def _quantity(document: Mapping[str, Any], unit: str) -> Quantity:
    components = {name: _number(share) for name, share in document["components"].items()}
    return Quantity(_number(document["value"]), unit, components)


def _tissue(document: Mapping[str, Any] | None) -> Mapping[str, Share] | None:
    if document is None:
        return None
    return MappingProxyType({name: _share(share) for name, share in document.items()})


def _share(document: Mapping[str, Any]) -> Share:
    components = {name: _number(points) for name, points in document["components"].items()}
    return Share(_number(document["percent"]), components)


def _depth_cm(visit: VisitEntry) -> float | None:
    found = visit.found.get("depth_cm")
    return float(found) if isinstance(found, int | float) else None


def _number(value: float | None) -> float:
    """Return what a document holds; null is what isn't known."""
    return math.nan if value is None else float(value)
