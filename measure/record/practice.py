"""How visits were made: a narrow reading of the record for counts, without outlines and whole documents."""

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby, pairwise
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, Select, Text, func, select, type_coerce

from measure.record.entries import LEFT_OUT, Status, What
from measure.record.inside import text_inside
from measure.record.reading import DRESSING, NEXT_DUE, read_last_visits, read_left_out
from measure.record.tables import EventRow, FindingRow, MeasurementRow, PersonRow, PhotoRow, VisitRow, WoundRow

_FAILED = '"ok":false'
"""What a document says of a failed check, as the record writes JSON; most documents need no parsing for it."""


@dataclass(frozen=True, slots=True)
class PracticeVisit:
    """How a visit was made.

    Attributes
    ----------
    id : int
    wound : str
        Key of the wound.
    at, saved_at : datetime
        When the wound was seen, and when that came into the record.
    by, unit : str
        Initials or staff code; ward or team, empty where nobody said.
    photo, measured : bool
        Whether it has a photo, and numbers.
    found : frozenset of str
        Names of the findings that were said.
    convention, convention_before : str
        How length and width were taken, and at the last measured visit to this wound; empty where there is none.
    scale : str
        What gave the scale; empty where nothing was measured.
    failed : tuple of str
        Checks of the photo that failed.
    reason : str
        Why the photo was kept in spite of them; empty where nobody said.
    due : date, optional
        The day that the visit before named for the next change of dressing; None also where the wound healed since.
    """

    id: int
    wound: str
    at: datetime
    saved_at: datetime
    by: str
    unit: str
    photo: bool
    measured: bool
    found: frozenset[str]
    convention: str
    convention_before: str
    scale: str
    failed: tuple[str, ...]
    reason: str
    due: date | None


@dataclass(frozen=True, slots=True)
class Standing:
    """An open wound: its key, the unit of its last visit, and the day on which its next change of dressing is due."""

    wound: str
    unit: str
    next_due: date | None


@dataclass(frozen=True)
class Practice:
    """What a record tells of how visits are made.

    Attributes
    ----------
    visits : tuple of PracticeVisit
        Of the period, oldest first, without those that were left out of their series.
    left_out : int
        How many of the period were.
    standings : tuple of Standing
        All open wounds as they stand now.
    """

    visits: tuple[PracticeVisit, ...]
    left_out: int
    standings: tuple[Standing, ...]


class _Numbers(NamedTuple):
    """Of the newest numbers of a visit."""

    convention: str
    scale: str = ""
    failed: tuple[str, ...] = ()
    reason: str = ""


def read_practice(connection: Connection, since: datetime | None = None) -> Practice:
    """Return how the visits since an instant were made; all where none is given."""
    left_out = set(read_left_out(connection))
    visits = _visits(connection)
    counted = [row for row in visits if row.id not in left_out]
    photos = set(connection.scalars(select(PhotoRow.visit_id).distinct()))
    numbers, found = _numbers(connection, since), _found(connection, since)
    made = [
        _visit(row, photos, numbers, found, chained)
        for row, chained in _chained(connection, counted, numbers)
        if since is None or row.at >= since
    ]
    in_period = sum(since is None or row.at >= since for row in visits if row.id in left_out)
    return Practice(
        tuple(sorted(made, key=lambda visit: (visit.at, visit.id))), in_period, _standings(connection, counted)
    )


def read_practice_stand(connection: Connection) -> tuple[int, ...]:
    """Return how many rows the tables hold: another value as soon as anything is added, and quick to read."""
    tables = (VisitRow, PhotoRow, MeasurementRow, FindingRow, EventRow, WoundRow)
    return tuple(connection.scalar(select(func.count(table.id))) or 0 for table in tables)


def _visits(connection: Connection) -> Sequence[Row[Any]]:
    """Return all visits, wound by wound, each wound's by when it was seen."""
    rows = (
        select(VisitRow.__table__, PersonRow.code, WoundRow.number)
        .join(WoundRow, WoundRow.id == VisitRow.wound_id)
        .join(PersonRow, PersonRow.id == WoundRow.person_id)
    )
    return connection.execute(rows.order_by(VisitRow.wound_id, VisitRow.at, VisitRow.id)).all()


def _numbers(connection: Connection, since: datetime | None) -> dict[int, _Numbers]:
    """Return the newest numbers of each visit; of those before the period the convention alone."""
    found = {
        row.visit_id: _Numbers(row.convention)
        for row in connection.execute(select(MeasurementRow.visit_id, MeasurementRow.convention).order_by("id"))
    }
    parts = {
        "scale": text_inside(connection, MeasurementRow.document, "calibration", "source"),
        "checks": text_inside(connection, MeasurementRow.document, "checks"),
        "acceptance": text_inside(connection, MeasurementRow.document, "acceptance"),
    }
    rows: Select[*tuple[Any, ...]] = select(
        MeasurementRow.visit_id, MeasurementRow.convention, *(part.label(name) for name, part in parts.items())
    ).order_by(MeasurementRow.id)
    if since is not None:
        rows = rows.join(VisitRow, VisitRow.id == MeasurementRow.visit_id).where(VisitRow.at >= since)
    return found | {row.visit_id: _told(row) for row in connection.execute(rows)}


def _told(row: Row[*tuple[Any, ...]]) -> _Numbers:
    acceptance = json.loads(row.acceptance) if row.acceptance else {}
    checks = json.loads(row.checks) if row.checks and _FAILED in row.checks else ()
    failed = tuple(check["check"] for check in checks if not check["ok"]) or tuple(acceptance.get("failed_checks", ()))
    return _Numbers(row.convention, row.scale or "", failed, acceptance.get("reason", ""))


def _found(connection: Connection, since: datetime | None) -> Mapping[int, set[str]]:
    """Return the names of what was found at each visit; what was taken back counts no more."""
    said = type_coerce(FindingRow.value, Text) != "null"
    rows = select(FindingRow.visit_id, FindingRow.name, said.label("said")).order_by(FindingRow.id)
    if since is not None:
        rows = rows.join(VisitRow, VisitRow.id == FindingRow.visit_id).where(VisitRow.at >= since)
    found: defaultdict[int, set[str]] = defaultdict(set)
    for visit_id, name, told in connection.execute(rows):
        (found[visit_id].add if told else found[visit_id].discard)(name)
    return found


def _chained(
    connection: Connection, visits: Sequence[Row[Any]], numbers: Mapping[int, _Numbers]
) -> Iterator[tuple[Row[Any], tuple[str, date | None]]]:
    """Yield each visit with what the visits before it left: how lengths were taken, and when it was due."""
    due, ended = _due(connection), _ended(connection)
    for wound_id, of_wound in groupby(visits, key=lambda row: row.wound_id):
        convention, several = "", list(of_wound)
        for before, row in pairwise([None, *several]):
            named = due.get(before.id) if before is not None else None
            if row is None:
                continue
            healed = before is not None and any(before.at < at <= row.at for at in ended.get(wound_id, ()))
            yield row, (convention, None if healed else named)
            convention = numbers[row.id].convention if row.id in numbers else convention


def _due(connection: Connection) -> dict[int, date | None]:
    """Return the day that each visit named for the next change of dressing."""
    named = text_inside(connection, FindingRow.value, NEXT_DUE)
    rows = select(FindingRow.visit_id, named.label("named")).where(FindingRow.name == DRESSING)
    return {row.visit_id: _day(row.named) for row in connection.execute(rows.order_by(FindingRow.id))}


def _day(said: str | None) -> date | None:
    try:
        return date.fromisoformat(said or "")
    except ValueError:
        return None


def _ended(connection: Connection) -> Mapping[int, list[datetime]]:
    """Return when wounds healed, or were merged or split: no dressing is due after that."""
    ends = (What.HEALED.value, What.MERGED.value, What.SPLIT.value)
    ended: defaultdict[int, list[datetime]] = defaultdict(list)
    for wound_id, at in connection.execute(select(EventRow.wound_id, EventRow.at).where(EventRow.what.in_(ends))):
        ended[wound_id].append(at)
    return ended


def _visit(
    row: Row[Any],
    photos: set[int],
    numbers: Mapping[int, _Numbers],
    found: Mapping[int, set[str]],
    chained: tuple[str, date | None],
) -> PracticeVisit:
    measured = numbers.get(row.id, _Numbers(""))
    convention_before, due = chained
    return PracticeVisit(
        id=row.id,
        wound=f"{row.code}/{row.number}",
        at=row.at,
        saved_at=row.saved_at,
        by=row.by,
        unit=row.unit,
        photo=row.id in photos,
        measured=row.id in numbers,
        found=frozenset(found.get(row.id, ())) - {LEFT_OUT},
        convention=measured.convention,
        convention_before=convention_before,
        scale=measured.scale,
        failed=measured.failed,
        reason=measured.reason,
        due=due,
    )


def _standings(connection: Connection, visits: Sequence[Row[Any]]) -> tuple[Standing, ...]:
    units = {row.wound_id: row.unit for row in visits}  # the last one of each wound stays
    return tuple(
        Standing(each.wound.key, units.get(each.wound.id, ""), each.next_due)
        for each in read_last_visits(connection)
        if each.wound.status is Status.OPEN
    )
