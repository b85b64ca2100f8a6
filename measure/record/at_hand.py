"""What the record holds twice of the same wound: outlines proposed and accepted, sizes by photo and by ruler."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, select

from measure.outline import Outline
from measure.record.inside import number_inside
from measure.record.reading import read_left_out
from measure.record.tables import FindingRow, MeasurementRow, OutlineRow, PersonRow, VisitRow, WoundRow

RULER_LENGTH, RULER_WIDTH = "ruler_length_cm", "ruler_width_cm"
"""Findings of `measure.findings.ruler`."""

_PROPOSED, _EDITED = "proposed", "edited"


@dataclass(frozen=True, eq=False)
class AcceptedEntry:
    """An outline that was measured, and what had been proposed.

    Attributes
    ----------
    wound : str
        Key of the wound.
    at : datetime
        When it was seen.
    by : str
        Who measured.
    area_cm2 : float
        Of the outline that was accepted.
    edited : Outline, optional
        As a person edited or checked it, in photo pixels; None where the proposal was taken and nobody said so.
    proposed : tuple of Outline
        All that were proposed in the photo; empty where none was edited.
    method : str
        What proposed them; empty where nothing was.
    """

    wound: str
    at: datetime
    by: str
    area_cm2: float
    edited: Outline | None = None
    proposed: tuple[Outline, ...] = ()
    method: str = ""


@dataclass(frozen=True)
class SizesEntry:
    """The newest sizes of a visit.

    Attributes
    ----------
    wound : str
        Key of the wound.
    at : datetime
    by : str
        Who measured.
    convention : str
        How length and width were taken.
    area_cm2, length_cm, width_cm, length_x_width_cm2 : float, optional
        By the photo.
    ruler_length_cm, ruler_width_cm : float, optional
        By a ruler at the bedside.
    """

    wound: str
    at: datetime
    by: str
    convention: str
    area_cm2: float | None
    length_cm: float | None
    width_cm: float | None
    length_x_width_cm2: float | None
    ruler_length_cm: float | None
    ruler_width_cm: float | None


def read_accepted(connection: Connection, since: datetime | None = None) -> tuple[AcceptedEntry, ...]:
    """Return the outlines, proposed or edited, that were measured at visits since an instant; by when they were seen.

    Of a visit with several numbers the newest such outline counts; what was traced anew later is another matter.
    """
    area = number_inside(connection, MeasurementRow.document, "wounds", 0, "area_cm2", "value").label("area")
    rows = _of_visits(
        select(MeasurementRow.visit_id, OutlineRow.kind, OutlineRow.id.label("outline"), area, *_WHOSE)
        .join(OutlineRow, OutlineRow.id == MeasurementRow.outline_id)
        .join(VisitRow, VisitRow.id == MeasurementRow.visit_id)
        .where(OutlineRow.kind.in_((_PROPOSED, _EDITED))),
        since,
    )
    left_out = set(read_left_out(connection))
    found = connection.execute(rows.order_by(MeasurementRow.id))
    newest = {row.visit_id: row for row in found if row.visit_id not in left_out and row.area is not None}
    proposed, edited = _rings(connection, since)
    entries = (_accepted(row, proposed, edited) for row in newest.values())
    return tuple(sorted(entries, key=lambda entry: entry.at))


def read_sizes(connection: Connection, since: datetime | None = None) -> tuple[SizesEntry, ...]:
    """Return the newest sizes of the measured visits since an instant, by when the wound was seen."""
    names = ("area_cm2", "length_cm", "width_cm", "length_x_width_cm2")
    values = [number_inside(connection, MeasurementRow.document, "wounds", 0, name, "value") for name in names]
    parts = [value.label(name) for name, value in zip(names, values, strict=True)]
    rows = _of_visits(
        select(MeasurementRow.visit_id, MeasurementRow.convention, *parts, *_WHOSE).join(
            VisitRow, VisitRow.id == MeasurementRow.visit_id
        ),
        since,
    )
    left_out, ruled = set(read_left_out(connection)), _ruled(connection)
    newest = {row.visit_id: row for row in connection.execute(rows.order_by(MeasurementRow.id))}
    entries = (
        SizesEntry(
            wound=_key(row),
            at=row.at,
            by=row.by,
            convention=row.convention,
            **{name: getattr(row, name) for name in names},
            **_both(ruled, visit_id),
        )
        for visit_id, row in newest.items()
        if visit_id not in left_out
    )
    return tuple(sorted(entries, key=lambda entry: entry.at))


_WHOSE = (PersonRow.code, WoundRow.number, VisitRow.at, MeasurementRow.by)


def _of_visits(rows: Select[*tuple[Any, ...]], since: datetime | None) -> Select[*tuple[Any, ...]]:
    rows = rows.join(WoundRow, WoundRow.id == VisitRow.wound_id).join(PersonRow, PersonRow.id == WoundRow.person_id)
    return rows if since is None else rows.where(VisitRow.at >= since)


def _key(row: Row[Any]) -> str:
    return f"{row.code}/{row.number}"


def _rings(
    connection: Connection, since: datetime | None
) -> tuple[Mapping[int, list[tuple[str, Any]]], Mapping[int, Any]]:
    """Return of visits with an edited outline all that was proposed, and the edited ones by their numbers."""
    of_visits = select(OutlineRow.visit_id).where(OutlineRow.kind == _EDITED)
    if since is not None:
        of_visits = of_visits.join(VisitRow, VisitRow.id == OutlineRow.visit_id).where(VisitRow.at >= since)
    rows = select(OutlineRow.id, OutlineRow.visit_id, OutlineRow.kind, OutlineRow.method, OutlineRow.rings).where(
        OutlineRow.visit_id.in_(of_visits), OutlineRow.kind.in_((_PROPOSED, _EDITED))
    )
    proposed: defaultdict[int, list[tuple[str, Any]]] = defaultdict(list)
    edited: dict[int, Any] = {}
    for row in connection.execute(rows.order_by(OutlineRow.id)):
        if row.kind == _PROPOSED:
            proposed[row.visit_id].append((row.method, row.rings))
        else:
            edited[row.id] = row.rings
    return proposed, edited


def _accepted(row: Row[Any], proposed: Mapping[int, list[tuple[str, Any]]], edited: Mapping[int, Any]) -> AcceptedEntry:
    if row.kind == _PROPOSED:
        return AcceptedEntry(_key(row), row.at, row.by, row.area)
    before = proposed.get(row.visit_id, [])
    outlines = tuple(_outline(rings) for _, rings in before)
    return AcceptedEntry(
        _key(row), row.at, row.by, row.area, _outline(edited[row.outline]), outlines, before[-1][0] if before else ""
    )


def _outline(rings: Mapping[str, Any]) -> Outline:
    return Outline(rings["outline"], tuple(rings["holes"]))


def _ruled(connection: Connection) -> Mapping[int, dict[str, Any]]:
    """Return what a ruler gave at each visit; the newest of a name counts."""
    rows = select(FindingRow.visit_id, FindingRow.name, FindingRow.value).where(
        FindingRow.name.in_((RULER_LENGTH, RULER_WIDTH))
    )
    found: defaultdict[int, dict[str, Any]] = defaultdict(dict)
    for visit_id, name, value in connection.execute(rows.order_by(FindingRow.id)):
        found[visit_id][name] = value
    return found


def _both(ruled: Mapping[int, dict[str, Any]], visit_id: int) -> dict[str, float | None]:
    said = ruled.get(visit_id, {})
    return {name: _positive(said.get(name)) for name in (RULER_LENGTH, RULER_WIDTH)}


def _positive(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and value > 0 else None
