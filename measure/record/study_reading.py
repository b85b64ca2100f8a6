"""Rows of agreement studies become entries: one query a table, however many studies are asked for."""

from collections import defaultdict
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, select

from measure.record.errors import UnknownStudyError
from measure.record.rings import outline_of
from measure.record.study_entries import StudyEntry, StudyEvent, StudyHead, StudyWhat, TracingEntry
from measure.record.study_rows import plan_of
from measure.record.tables import StudyEventRow, StudyRow, TracingRow

Study = TypeVar("Study", bound=StudyHead)


def read_studies(connection: Connection, study_id: int | None = None) -> list[StudyEntry]:
    """Return all studies, or one, with all that was traced, in the order in which they began."""
    tracings: defaultdict[int, list[TracingEntry]] = defaultdict(list)
    rows = select(TracingRow.__table__).order_by(TracingRow.id)
    for row in connection.execute(_of(rows, study_id)):
        tracings[row.study_id].append(_tracing(row))
    return [
        StudyEntry(head.id, head.name, head.plan, head.at, head.by, head.events, head.done, tuple(tracings[head.id]))
        for head in read_heads(connection, study_id)
    ]


def read_study(connection: Connection, study_id: int) -> StudyEntry:
    """Return one study with all that was traced.

    Raises
    ------
    UnknownStudyError
        If there is none of this number.
    """
    return _only(read_studies(connection, study_id), study_id)


def read_heads(connection: Connection, study_id: int | None = None) -> list[StudyHead]:
    """Return all studies, or one, without what was traced, in the order in which they began."""
    events: defaultdict[int, list[StudyEvent]] = defaultdict(list)
    for row in connection.execute(_of(select(StudyEventRow.__table__).order_by(StudyEventRow.id), study_id)):
        events[row.study_id].append(StudyEvent(StudyWhat(row.what), row.reason, row.at, row.by))
    done: defaultdict[int, list[tuple[str, int, int]]] = defaultdict(list)
    saved = select(*(TracingRow.__table__.c[name] for name in ("study_id", "rater", "trial", "photo")))
    for row in connection.execute(_of(saved, study_id)):
        done[row.study_id].append((row.rater, row.trial, row.photo))
    studies = select(StudyRow.__table__).order_by(StudyRow.id)
    found = connection.execute(studies if study_id is None else studies.where(StudyRow.id == study_id))
    return [
        StudyHead(row.id, row.name, plan_of(row.plan), row.at, row.by, tuple(events[row.id]), frozenset(done[row.id]))
        for row in found
    ]


def read_head(connection: Connection, study_id: int) -> StudyHead:
    """Return one study without what was traced.

    Raises
    ------
    UnknownStudyError
        If there is none of this number.
    """
    return _only(read_heads(connection, study_id), study_id)


def _of(rows: Select[Any], study_id: int | None) -> Select[Any]:
    return rows if study_id is None else rows.where(rows.selected_columns.study_id == study_id)


def _only(found: list[Study], study_id: int) -> Study:
    if not found:
        raise UnknownStudyError(f"The record holds no study that it numbers {study_id}; choose one from the list.")
    return found[0]


def _tracing(row: Row[Any]) -> TracingEntry:
    return TracingEntry(
        row.id,
        row.photo,
        row.rater,
        row.trial,
        outline_of(row.rings),
        row.document,
        row.seconds,
        row.at,
        row.by,
    )
