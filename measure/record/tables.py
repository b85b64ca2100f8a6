"""The tables of the record; they are made and changed by the numbered migrations in ``versions`` alone.

Rows are added and never changed: a correction is a further row. ``at`` is when something was or was said, ``by`` are
initials or a staff code. What has a form of its own (rings, documents, findings, settings) is kept as JSON text, in
which floats stay exact.
"""

import json
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, Double, ForeignKey, MetaData, String, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

from measure.record.admission import dumps


class Instant(TypeDecorator[datetime]):
    """An instant: goes in with any time zone, lies in UTC, comes back with it."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn to UTC; SQLite keeps no zone."""
        if value is None:
            return None
        if value.utcoffset() is None:
            message = "an instant without its time zone"
            raise ValueError(message)
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Say that it is UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if dialect.name == "sqlite" else value.astimezone(UTC)


class Json(TypeDecorator[Any]):
    """JSON as text: SQLite takes a lone number in a column that it calls JSON for one of its own, and rounds it."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str:  # noqa: ANN401, ARG002 - as the base class has it
        """Write it."""
        return dumps(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ANN401, ARG002 - the same
        """Read it."""
        return None if value is None else json.loads(value)


class Table(DeclarativeBase):
    """What all tables share."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy reads it so
        datetime: Instant(),
        Any: Json(),
        str: String(),
    }


class PersonRow(Table):
    """A person, as a code."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    code: Mapped[str] = mapped_column(unique=True)
    at: Mapped[datetime]
    by: Mapped[str]


class WoundRow(Table):
    """A wound of a person; its number counts from 1 a person."""

    __tablename__ = "wound"
    __table_args__ = (UniqueConstraint("person_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    number: Mapped[int]
    side: Mapped[str]
    place: Mapped[str]
    position: Mapped[str]
    kind: Mapped[str]
    onset: Mapped[date | None]
    at: Mapped[datetime]
    by: Mapped[str]


class EventRow(Table):
    """What happened to a wound as a whole; ``other`` is the number of another wound of the same person."""

    __tablename__ = "event"

    id: Mapped[int] = mapped_column(primary_key=True)
    wound_id: Mapped[int] = mapped_column(ForeignKey("wound.id"), index=True)
    what: Mapped[str]
    other: Mapped[int | None]
    at: Mapped[datetime]
    saved_at: Mapped[datetime]
    by: Mapped[str]


class VisitRow(Table):
    """A visit to a wound."""

    __tablename__ = "visit"

    id: Mapped[int] = mapped_column(primary_key=True)
    wound_id: Mapped[int] = mapped_column(ForeignKey("wound.id"), index=True)
    unit: Mapped[str]
    at: Mapped[datetime]
    saved_at: Mapped[datetime]
    by: Mapped[str]


class PhotoRow(Table):
    """A photo of a visit; its file lies under ``sha256``, and may be the photo of several visits."""

    __tablename__ = "photo"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    sha256: Mapped[str] = mapped_column(index=True)
    source_sha256: Mapped[str] = mapped_column(index=True)
    media_type: Mapped[str]
    width: Mapped[int]
    height: Mapped[int]
    taken_at: Mapped[str | None]


class OutlineRow(Table):
    """An outline on a photo: ``rings`` is ``{"outline": [[x, y], ...], "holes": [[[x, y], ...]]}`` in its pixels."""

    __tablename__ = "outline"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    photo_id: Mapped[int] = mapped_column(ForeignKey("photo.id"))
    kind: Mapped[str]
    method: Mapped[str]
    rings: Mapped[Any]
    at: Mapped[datetime]
    by: Mapped[str]


class MeasurementRow(Table):
    """The numbers of an outline, as a whole document."""

    __tablename__ = "measurement"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    outline_id: Mapped[int] = mapped_column(ForeignKey("outline.id"))
    convention: Mapped[str]
    document: Mapped[Any]
    at: Mapped[datetime]
    by: Mapped[str]


class FindingRow(Table):
    """One finding of a visit; the newest of a name counts."""

    __tablename__ = "finding"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    name: Mapped[str] = mapped_column(index=True)
    value: Mapped[Any]
    at: Mapped[datetime]
    by: Mapped[str]


class NoteRow(Table):
    """Words about a visit."""

    __tablename__ = "note"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    text: Mapped[str]
    at: Mapped[datetime]
    by: Mapped[str]


class PromptAnswerRow(Table):
    """What was done about a prompt to call the provider."""

    __tablename__ = "prompt_answer"

    id: Mapped[int] = mapped_column(primary_key=True)
    visit_id: Mapped[int] = mapped_column(ForeignKey("visit.id"), index=True)
    reason: Mapped[str]
    answer: Mapped[str]
    at: Mapped[datetime]
    by: Mapped[str]


class SettingRow(Table):
    """A setting of the site; the newest of a name counts."""

    __tablename__ = "setting"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(index=True)
    value: Mapped[Any]
    at: Mapped[datetime]
    by: Mapped[str]


class StudyRow(Table):
    """An agreement study; ``plan`` is the form of `measure.record.study_rows.plan_document`."""

    __tablename__ = "study"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    plan: Mapped[Any]
    at: Mapped[datetime]
    by: Mapped[str]


class StudyEventRow(Table):
    """What happened to a study as a whole after it began: it was closed, or opened again; the newest counts."""

    __tablename__ = "study_event"

    id: Mapped[int] = mapped_column(primary_key=True)
    study_id: Mapped[int] = mapped_column(ForeignKey("study.id"), index=True)
    what: Mapped[str]
    reason: Mapped[str]
    at: Mapped[datetime]
    by: Mapped[str]


class TracingRow(Table):
    """A photo of a study as a rater traced it in a trial, once; ``rings`` as of an outline."""

    __tablename__ = "tracing"
    __table_args__ = (UniqueConstraint("study_id", "rater", "trial", "photo"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    study_id: Mapped[int] = mapped_column(ForeignKey("study.id"))
    photo: Mapped[int]
    rater: Mapped[str]
    trial: Mapped[int]
    rings: Mapped[Any]
    document: Mapped[Any]
    seconds: Mapped[float] = mapped_column(Double)
    at: Mapped[datetime]
    by: Mapped[str]
