"""What the record holds twice of the same wound: outlines proposed and accepted, sizes by photo and by ruler."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, select

from measure.outline import Outline
from measure.record.inside import number_inside
from measure.record.reading import read_left_out
from measure.record.rings import outline_of
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
    gone_over : bool
        Whether a person edited or checked it; else the proposal was measured and nobody said so.
    edits : int, optional
        How often it was edited, where the numbers say.
    edited : Outline, optional
        As the person left it, in photo pixels; of each wound's first visit that has one alone, for outlines are large
        and visits of one wound resemble one another.
    proposed : tuple of Outline
        All that were proposed in the photo, of the same visits.
    """

    wound: str
    at: datetime
    by: str
    area_cm2: float
    gone_over: bool = False
    edits: int | None = None
    edited: Outline | None = None
    proposed: tuple[Outline, ...] = ()


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
    parts = {
        "area": number_inside(connection, MeasurementRow.document, "wounds", 0, "area_cm2", "value"),
        "edits": number_inside(connection, MeasurementRow.document, "editing", "edits"),
    }
    rows = _of_visits(
        select(
            MeasurementRow.visit_id,
            OutlineRow.kind,
            OutlineRow.id.label("outline"),
            *(part.label(name) for name, part in parts.items()),
            *_WHOSE,
        )
        .join(OutlineRow, OutlineRow.id == MeasurementRow.outline_id)
        .join(VisitRow, VisitRow.id == MeasurementRow.visit_id)
        .where(OutlineRow.kind.in_((_PROPOSED, _EDITED))),
        since,
    )
    left_out = set(read_left_out(connection))
    found = connection.execute(rows.order_by(MeasurementRow.id))
    newest = {row.visit_id: row for row in found if row.visit_id not in left_out and row.area is not None}
    told = sorted(newest.values(), key=lambda row: (row.at, row.visit_id))
    first = {_key(row): row.visit_id for row in reversed(told) if row.kind == _EDITED}
    drawn = _drawn(connection, list(first.values()))
    return tuple(_accepted(row, drawn.get(row.visit_id, {})) for row in told)


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


def _key(row: Row[*tuple[Any, ...]]) -> str:
    return f"{row.code}/{row.number}"


def _drawn(connection: Connection, visits: Sequence[int]) -> Mapping[int, dict[int, tuple[str, Any]]]:
    """Return kind and rings of the outlines, proposed or edited, of some visits, by their numbers."""
    rows = select(OutlineRow.id, OutlineRow.visit_id, OutlineRow.kind, OutlineRow.rings).where(
        OutlineRow.visit_id.in_(visits), OutlineRow.kind.in_((_PROPOSED, _EDITED))
    )
    drawn: defaultdict[int, dict[int, tuple[str, Any]]] = defaultdict(dict)
    for row in connection.execute(rows.order_by(OutlineRow.id)):
        drawn[row.visit_id][row.id] = (row.kind, row.rings)
    return drawn


def _accepted(row: Row[*tuple[Any, ...]], drawn: Mapping[int, tuple[str, Any]]) -> AcceptedEntry:
    return AcceptedEntry(
        wound=_key(row),
        at=row.at,
        by=row.by,
        area_cm2=row.area,
        gone_over=row.kind == _EDITED,
        edits=None if row.edits is None else int(row.edits),
        edited=outline_of(drawn[row.outline][1]) if drawn else None,
        proposed=tuple(outline_of(rings) for kind, rings in drawn.values() if kind == _PROPOSED),
    )


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
