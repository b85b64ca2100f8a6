"""Rows of the record become its entries: one query a table, however many wounds or visits are asked for."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import Connection, Row, Select, func, select

from measure.record.entries import (
    LEFT_OUT,
    AnswerEntry,
    Event,
    FindingEntry,
    Kind,
    MeasurementEntry,
    NoteEntry,
    OutlineEntry,
    PhotoEntry,
    Side,
    Site,
    VisitEntry,
    What,
    WoundEntry,
)
from measure.record.errors import UnknownWoundError
from measure.record.rings import outline_of
from measure.record.tables import (
    EventRow,
    FindingRow,
    MeasurementRow,
    NoteRow,
    OutlineRow,
    PersonRow,
    PhotoRow,
    PromptAnswerRow,
    SettingRow,
    VisitRow,
    WoundRow,
)

DRESSING, NEXT_DUE = "dressing", "next_due"
"""The finding, and the name in it, that tells when the next change of dressing is due."""

Entry = TypeVar("Entry")


class LastVisit(NamedTuple):
    """A line of the list of wounds: when the wound was last seen, and when its dressing is to be changed next."""

    wound: WoundEntry
    at: datetime | None
    next_due: date | None


# Wounds


def read_people(connection: Connection) -> list[str]:
    """Return the codes of all people, in their order."""
    return list(connection.scalars(select(PersonRow.code).order_by(PersonRow.code)))


def read_wounds(connection: Connection, *, person: str | None = None, wound_id: int | None = None) -> list[WoundEntry]:
    """Return the wounds of all people or of one, or one wound: by code, then by number."""
    wounds = select(WoundRow.__table__, PersonRow.code).join(PersonRow, PersonRow.id == WoundRow.person_id)
    events = select(EventRow.__table__)
    if person is not None:
        wounds = wounds.where(PersonRow.code == person)
        events = events.join(WoundRow, WoundRow.id == EventRow.wound_id).join(PersonRow).where(PersonRow.code == person)
    if wound_id is not None:
        wounds, events = wounds.where(WoundRow.id == wound_id), events.where(EventRow.wound_id == wound_id)
    of_wound = _grouped(connection, events.order_by(EventRow.id), "wound_id", _event)
    return [
        _wound(row, of_wound[row.id])
        for row in connection.execute(wounds.order_by(PersonRow.code, WoundRow.number))
        if row.id in of_wound
    ]


def read_wound(connection: Connection, wound_id: int) -> WoundEntry:
    """Return one wound.

    Raises
    ------
    UnknownWoundError
        If there is none of this number.
    """
    found = read_wounds(connection, wound_id=wound_id)
    if not found:
        raise UnknownWoundError(
            f"The record holds no wound that it numbers {wound_id}; choose the wound from the list."
        )
    return found[0]


def read_last_visits(connection: Connection) -> list[LastVisit]:
    """Return all wounds with what the list of wounds says of them, in five queries; visits left out don't count."""
    left_out = read_left_out(connection)
    last = select(VisitRow.wound_id, func.max(VisitRow.at).label("at")).where(VisitRow.id.not_in(left_out))
    seen = {row.wound_id: row.at for row in connection.execute(last.group_by(VisitRow.wound_id))}
    due = _next_due(connection, left_out)
    return [LastVisit(wound, seen.get(wound.id), due.get(wound.id)) for wound in read_wounds(connection)]


def read_left_out(connection: Connection) -> list[int]:
    """Return the numbers of the visits that are left out of their series; they are few."""
    said = select(FindingRow.visit_id, FindingRow.value).where(FindingRow.name == LEFT_OUT).order_by(FindingRow.id)
    newest = {row.visit_id: row.value for row in connection.execute(said)}
    return [visit_id for visit_id, reason in newest.items() if reason]


def _next_due(connection: Connection, left_out: Sequence[int]) -> dict[int, date | None]:
    """Return for each wound what the newest finding of its newest visit with one says."""
    newest_first = func.row_number().over(
        partition_by=VisitRow.wound_id, order_by=(VisitRow.at.desc(), VisitRow.id.desc(), FindingRow.id.desc())
    )
    ranked = (
        select(VisitRow.wound_id, FindingRow.value, newest_first.label("rank"))
        .join(FindingRow, FindingRow.visit_id == VisitRow.id)
        .where(FindingRow.name == DRESSING, VisitRow.id.not_in(left_out))
        .subquery()
    )
    newest = select(ranked.c.wound_id, ranked.c.value).where(ranked.c.rank == 1)
    return {row.wound_id: _day(row.value) for row in connection.execute(newest)}


def _day(dressing: object) -> date | None:
    """Return the day on which a change is due, where the finding says one."""
    said = dressing.get(NEXT_DUE) if isinstance(dressing, dict) else None
    try:
        return date.fromisoformat(str(said))
    except ValueError:
        return None


def _wound(row: Row[Any], events: Sequence[Event]) -> WoundEntry:
    return WoundEntry(
        row.id,
        row.code,
        row.number,
        Site(Side(row.side), row.place, row.position),
        Kind(row.kind),
        tuple(events),
        row.onset,
    )


def _event(row: Row[Any]) -> Event:
    return Event(What(row.what), row.at, row.by, row.other)


# Visits


def read_visits(
    connection: Connection, *, wound_id: int | None = None, visit_id: int | None = None
) -> list[VisitEntry]:
    """Return the visits to a wound, or one visit: by when the wound was seen, then as they were saved."""

    def of(statement: Select[Any]) -> Select[Any]:
        return statement.where(VisitRow.wound_id == wound_id if visit_id is None else VisitRow.id == visit_id)

    def told(table: type[Any], entry: Callable[[Row[Any]], Entry]) -> dict[int, list[Entry]]:
        rows = of(select(table.__table__).join(VisitRow, VisitRow.id == table.visit_id)).order_by(table.id)
        return _grouped(connection, rows, "visit_id", entry)

    visits = connection.execute(of(select(VisitRow.__table__)).order_by(VisitRow.at, VisitRow.id)).all()
    photos, outlines = told(PhotoRow, _photo), _outlines(connection, of)
    by_number = {outline.id: outline for several in outlines.values() for outline in several}
    numbers = told(MeasurementRow, lambda row: _measurement(row, by_number[row.outline_id]))
    findings, notes = told(FindingRow, _finding), told(NoteRow, _note)
    answers = told(PromptAnswerRow, _answer)
    return [
        VisitEntry(
            row.id,
            row.wound_id,
            row.at,
            row.by,
            row.unit,
            row.saved_at,
            photos=tuple(photos.get(row.id, ())),
            outlines=tuple(outlines.get(row.id, ())),
            measurements=tuple(numbers.get(row.id, ())),
            findings=tuple(findings.get(row.id, ())),
            notes=tuple(notes.get(row.id, ())),
            answers=tuple(answers.get(row.id, ())),
        )
        for row in visits
    ]


def read_visit(connection: Connection, visit_id: int) -> VisitEntry:
    """Return one visit.

    Raises
    ------
    UnknownWoundError
        If there is none of this number.
    """
    found = read_visits(connection, visit_id=visit_id)
    if not found:
        raise UnknownWoundError(
            f"The record holds no visit that it numbers {visit_id}; choose the visit from those of its wound."
        )
    return found[0]


def read_stand(connection: Connection, wound_id: int) -> tuple[int, ...]:
    """Return how many rows about a wound's visits each table holds.

    The newest row's number would not do: a server gives numbers before an act is over, so that a lower one may come
    into sight after a higher one.
    """
    tables = (FindingRow, MeasurementRow, NoteRow, PromptAnswerRow)
    added = [
        select(func.count(table.id)).join(VisitRow, VisitRow.id == table.visit_id).where(VisitRow.wound_id == wound_id)
        for table in tables
    ]
    visits = select(func.count(VisitRow.id)).where(VisitRow.wound_id == wound_id)
    return tuple(connection.execute(select(*(query.scalar_subquery() for query in (visits, *added)))).one())


def _outlines(connection: Connection, of: Callable[[Select[Any]], Select[Any]]) -> dict[int, list[OutlineEntry]]:
    rows = (
        select(OutlineRow.__table__, PhotoRow.sha256)
        .join(PhotoRow, PhotoRow.id == OutlineRow.photo_id)
        .join(VisitRow, VisitRow.id == OutlineRow.visit_id)
    )
    return _grouped(connection, of(rows).order_by(OutlineRow.id), "visit_id", _outline)


def _photo(row: Row[Any]) -> PhotoEntry:
    return PhotoEntry(row.sha256, row.source_sha256, row.media_type, row.width, row.height, row.taken_at)


def _outline(row: Row[Any]) -> OutlineEntry:
    return OutlineEntry(row.id, row.sha256, row.kind, row.method, outline_of(row.rings), row.at, row.by)


def _measurement(row: Row[Any], outline: OutlineEntry) -> MeasurementEntry:
    return MeasurementEntry(row.id, outline, row.convention, row.document, row.at, row.by)


def _finding(row: Row[Any]) -> FindingEntry:
    return FindingEntry(row.name, row.value, row.at, row.by)


def _note(row: Row[Any]) -> NoteEntry:
    return NoteEntry(row.text, row.at, row.by)


def _answer(row: Row[Any]) -> AnswerEntry:
    return AnswerEntry(row.reason, row.answer, row.at, row.by)


# Settings


def read_setting(connection: Connection, name: str, default: Any) -> Any:  # noqa: ANN401 - JSON holds anything
    """Return the newest value of a setting, or the default."""
    newest = select(SettingRow.value).where(SettingRow.name == name).order_by(SettingRow.id.desc()).limit(1)
    found = connection.execute(newest).first()
    return found.value if found else default


def _grouped(
    connection: Connection, rows: Select[Any], column: str, entry: Callable[[Row[Any]], Entry]
) -> dict[int, list[Entry]]:
    """Return the entries of all rows, by the number that one column holds."""
    grouped: defaultdict[int, list[Entry]] = defaultdict(list)
    found: Iterable[Row[Any]] = connection.execute(rows)
    for row in found:
        grouped[getattr(row, column)].append(entry(row))
    return grouped
