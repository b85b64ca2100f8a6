"""The record: people as codes, their wounds, visits with photos and numbers; only ever added to.

Each act is one transaction: it is saved whole before its method returns, or a `RecordError` says why nothing was.
Photo files are on the disk before a visit that shows them is saved, so a visit never names a photo that isn't there.
Two people at once wait for each other for a moment; both visits to a wound are kept, and the later one is told of the
other.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Self

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from measure.outline import Outline
from measure.record.admission import code, day, initials, instant, json_value, line, words
from measure.record.database import Database
from measure.record.draft import DraftMeasurement, DraftOutline, VisitDraft
from measure.record.entries import Kind, PhotoEntry, Side, Site, Status, VisitEntry, What, WoundEntry
from measure.record.errors import RecordError, UnknownWoundError
from measure.record.events import check_event, check_other, check_unchanged
from measure.record.migration import migrate
from measure.record.photo_files import PhotoFiles
from measure.record.place import Place, place_of
from measure.record.reading import (
    LastVisit,
    read_last_visits,
    read_people,
    read_setting,
    read_stand,
    read_visit,
    read_visits,
    read_wound,
    read_wounds,
)
from measure.record.rows import finding_rows, measurement_row, outline_row, photo_row
from measure.record.stripping import strip
from measure.record.studies import Studies
from measure.record.survey import Survey
from measure.record.tables import (
    EventRow,
    NoteRow,
    PersonRow,
    PhotoRow,
    PromptAnswerRow,
    SettingRow,
    VisitRow,
    WoundRow,
)


@dataclass(frozen=True, eq=False)
class Saved:
    """A visit that was saved, and those that others had saved on the same wound since the page was drawn."""

    visit: VisitEntry
    others: tuple[VisitEntry, ...] = ()


def open_record(where: str | Path, *, create: bool = True) -> "Record":
    """Open the record in a folder or at a database URL, make it where there is none, bring it to the newest form.

    Parameters
    ----------
    where : str or Path
        A folder, which gets ``record.db`` and ``photos/``; or ``sqlite:///FILE`` or
        ``postgresql+psycopg://USER@HOST/DATABASE``, with ``?photos=`` and a folder or fsspec URL. Without that, photos
        lie where ``EBBLINE_PHOTOS`` says, or in ``photos`` beside an SQLite file.
    create : bool
        Whether an SQLite file is made where there is none; else that is an error, as it is for whoever only reads.

    Raises
    ------
    RecordError
        If it can't be opened, was made by a newer version, or is none. The sentence holds no password.
    """
    place = place_of(where)
    if place.file and create:
        _make_folder(place.file.parent)
    elif place.file and not place.file.exists():
        raise RecordError(f"There is no record at {place.file}; check the name, or make one with ebbline app --data.")
    database = Database(place)
    try:
        migrate(database)
    except BaseException:
        database.engine.dispose()
        raise
    return Record(place, database)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(
            f"The folder {folder} for the record can't be made ({error.strerror}); name a folder that you may write to."
        ) from error


class Record:
    """An open record; threads may share it. Made by `open_record`.

    All its methods raise `RecordError` where the database or a photo's file can't be used.

    Attributes
    ----------
    place : Place
    studies : Studies
        Agreement studies: photos traced again to learn how well people agree.
    survey : Survey
        Readings over all wounds at once.
    """

    def __init__(self, place: Place, database: Database) -> None:
        self.place = place
        self.studies = Studies(database)
        self.survey = Survey(database)
        self._database = database
        self._files = PhotoFiles(place.photos)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give back the connections; what was saved is saved without it."""
        self._database.engine.dispose()

    # Reading

    def people(self) -> list[str]:
        """Return the codes of all people, in their order."""
        with self._database.look() as connection:
            return read_people(connection)

    def wounds(self, person: str | None = None, *, open_only: bool = False) -> list[WoundEntry]:
        """Return the wounds of a person, or of all, by code and number; those that are open now, if asked for."""
        person = None if person is None else code(person)
        with self._database.look() as connection:
            found = read_wounds(connection, person=person)
        return [wound for wound in found if wound.status is Status.OPEN or not open_only]

    def wound(self, key: str) -> WoundEntry:
        """Return the wound of a key such as ``P014/2``.

        Raises
        ------
        UnknownWoundError
            If there is none.
        """
        person, _, number = key.strip().upper().partition("/")
        with self._database.look() as connection:
            found = read_wounds(connection, person=person)
        for wound in found:
            if str(wound.number) == number:
                return wound
        known = ", ".join(wound.key for wound in found)
        raise UnknownWoundError(
            f"There is no wound {key.strip()[:40]!r} in the record"
            + (f"; this person has {known}." if known else "; give one such as P014/2: code, stroke, number.")
        )

    def visits(self, wound_id: int) -> list[VisitEntry]:
        """Return the visits to a wound, in the order in which it was seen."""
        with self._database.look() as connection:
            return read_visits(connection, wound_id=wound_id)

    def visit(self, visit_id: int) -> VisitEntry:
        """Return one visit.

        Raises
        ------
        UnknownWoundError
            If there is none.
        """
        with self._database.look() as connection:
            return read_visit(connection, visit_id)

    def stand(self, wound_id: int) -> tuple[int, ...]:
        """Return what is another value as soon as anything is added to a wound's visits: cheaper than reading them."""
        with self._database.look() as connection:
            return read_stand(connection, wound_id)

    def last_visits(self) -> list[LastVisit]:
        """Return each wound with when it was last seen and when its next change of dressing is due, if anyone said."""
        with self._database.look() as connection:
            return read_last_visits(connection)

    def setting(self, name: str, default: Any = None) -> Any:  # noqa: ANN401 - JSON holds anything
        """Return the newest value of a setting of the site, or the default."""
        with self._database.look() as connection:
            return read_setting(connection, name, default)

    # Photos

    def put_photo(self, data: bytes, name: str) -> PhotoEntry:
        """Take what tells of people and places out of a photo file, keep it under its hash, and return what it is.

        It belongs to nothing until a visit that shows it is saved.

        Parameters
        ----------
        data : bytes
            The file as it came.
        name : str
            What to call it in sentences.

        Raises
        ------
        PhotoError
            If it is no photo that can be read.
        PhotoFileError
            If it can't be kept.
        """
        stripped = strip(data, name)
        self._files.put(stripped.data, stripped.entry.sha256)
        return stripped.entry

    def photo_bytes(self, sha256: str) -> bytes:
        """Return the file of a photo, checked against its hash.

        Raises
        ------
        PhotoFileError
            If it is missing, damaged, or can't be reached.
        """
        return self._files.get(sha256)

    # Acts

    def open_wound(  # noqa: PLR0913 - what a wound is
        self, person: str, site: Site, kind: Kind, by: str, *, at: datetime | None = None, onset: date | None = None
    ) -> WoundEntry:
        """Add a wound under the person's next number; a code that is not yet known is a new person.

        Parameters
        ----------
        person : str
            Code: letters, digits and dashes, at most 20; kept in capitals.
        site : Site
        kind : Kind
        by : str
            Initials or staff code of who does this.
        at : datetime, optional
            When it was first seen here; by default now.
        onset : date, optional
            Since when the person has it.
        """
        person, by, now = code(person), initials(by), instant(None)
        place = line(site.place, "The place of the wound")
        if not place:
            raise RecordError("Nobody said where on the body the wound is; name the place, such as heel.")
        position = line(site.position, "The position of the wound")
        with self._database.act() as session:
            person_id = _locked_person(session, person, now, by)
            highest = session.scalar(select(func.max(WoundRow.number)).where(WoundRow.person_id == person_id))
            wound = WoundRow(
                person_id=person_id,
                number=(highest or 0) + 1,
                side=Side(site.side).value,
                place=place,
                position=position,
                kind=Kind(kind).value,
                onset=day(onset),
                at=now,
                by=by,
            )
            session.add(wound)
            session.flush()
            opened = now if at is None else instant(at)
            session.add(EventRow(wound_id=wound.id, what=What.OPENED.value, at=opened, saved_at=now, by=by))
            session.flush()
            return read_wound(session.connection(), wound.id)

    def mark(  # noqa: PLR0913 - what can be said of an event
        self,
        wound_id: int,
        what: What,
        by: str,
        *,
        at: datetime | None = None,
        other: int | None = None,
        seen: int | None = None,
    ) -> WoundEntry:
        """Note that a wound healed, opened again, was merged or split.

        Parameters
        ----------
        wound_id : int
        what : What
        by : str
            Initials or staff code of who says so.
        at : datetime, optional
            When it was found; by default now.
        other : int, optional
            Number (of the same person) of the wound into which this one was merged or split.
        seen : int, optional
            How many events of the wound the page showed.

        Raises
        ------
        ChangedError
            If something else has happened to the wound that the page did not show.
        RecordError
            If it can't happen to a wound as it stands.
        """
        by, now, what = initials(by), instant(None), What(what)
        with self._database.act() as session:
            _lock_wound(session, wound_id)
            wound = read_wound(session.connection(), wound_id)
            happened = now if at is None else instant(at)
            check_unchanged(wound, seen)
            check_event(wound, what, happened)
            numbers = [each.number for each in read_wounds(session.connection(), person=wound.person)]
            check_other(wound, what, other, numbers)
            session.add(EventRow(wound_id=wound_id, what=what.value, other=other, at=happened, saved_at=now, by=by))
            session.flush()
            return read_wound(session.connection(), wound_id)

    def save_visit(self, draft: VisitDraft, *, seen: int | None = None) -> Saved:
        """Save a visit, whole.

        Parameters
        ----------
        draft : VisitDraft
        seen : int, optional
            How many visits to this wound the page knew of; those saved since are told as ``others``.

        Raises
        ------
        RecordError
            If something in it can't be kept; nothing is saved then.
        """
        now, by, at = instant(None), initials(draft.by), instant(draft.at)
        unit, note = line(draft.unit, "The ward or team"), words(draft.note, "The note")
        self._check_photo(draft)
        with self._database.act() as session:
            _lock_wound(session, draft.wound)
            others = _since(session, draft.wound, seen)
            visit = VisitRow(wound_id=draft.wound, unit=unit, at=at, saved_at=now, by=by)
            session.add(visit)
            session.flush()
            outlines = _add_photo(session, visit.id, draft, now)
            if draft.measured:
                outline = outlines[draft.measured.outline]
                session.add(measurement_row(visit.id, outline, draft.measured, now, by))
            session.add_all(finding_rows(visit.id, draft.findings, now, by))
            session.add_all([NoteRow(visit_id=visit.id, text=note, at=now, by=by)] if note else [])
            session.flush()
            connection = session.connection()
            return Saved(read_visit(connection, visit.id), tuple(read_visit(connection, number) for number in others))

    def add_findings(self, visit_id: int, findings: Mapping[str, Any], by: str) -> VisitEntry:
        """Add findings to a visit; the newest of a name counts, the earlier ones stay."""
        now, by = instant(None), initials(by)
        with self._database.act() as session:
            read_visit(session.connection(), visit_id)
            session.add_all(finding_rows(visit_id, findings, now, by))
            session.flush()
            return read_visit(session.connection(), visit_id)

    def add_note(self, visit_id: int, text: str, by: str) -> VisitEntry:
        """Add words to a visit."""
        now, by, text = instant(None), initials(by), words(text, "The note")
        if not text:
            raise RecordError("The note is empty; write what is to be kept.")
        with self._database.act() as session:
            read_visit(session.connection(), visit_id)
            session.add(NoteRow(visit_id=visit_id, text=text, at=now, by=by))
            session.flush()
            return read_visit(session.connection(), visit_id)

    def answer_prompt(self, visit_id: int, reason: str, answer: str, by: str) -> VisitEntry:
        """Add what was done about a prompt to call the provider.

        Parameters
        ----------
        visit_id : int
            The visit that led to the prompt.
        reason : str
            As of `measure.escalation.prompts.Prompt`.
        answer : str
            What was done, in words: who was told, and what they said.
        by : str
            Initials or staff code of who did it.
        """
        now, by, answer = instant(None), initials(by), words(answer, "The answer")
        reason = line(reason, "The reason of the prompt")
        if not (reason and answer):
            raise RecordError("Nobody said what was done; write whom you told and what they said.")
        with self._database.act() as session:
            read_visit(session.connection(), visit_id)
            session.add(PromptAnswerRow(visit_id=visit_id, reason=reason, answer=answer, at=now, by=by))
            session.flush()
            return read_visit(session.connection(), visit_id)

    def add_measurement(  # noqa: PLR0913 - what numbers come with
        self,
        visit_id: int,
        outline: Outline,
        document: Mapping[str, Any],
        by: str,
        *,
        convention: str,
        method: str = "given",
    ) -> VisitEntry:
        """Add numbers to a visit whose wound was traced anew on its photo; the newest count, the earlier ones stay.

        Parameters
        ----------
        visit_id : int
        outline : Outline
            As traced, in pixels of the visit's photo; kept with the kind ``retraced``.
        document : mapping
            As of `measure.record.entries.MeasurementEntry`.
        by : str
            Initials or staff code of who traced it.
        convention : str
            How length and width were taken.
        method : str
            What drew it, where no person did.
        """
        now, by = instant(None), initials(by)
        with self._database.act() as session:
            read_visit(session.connection(), visit_id)
            photo = session.scalar(
                select(PhotoRow.id).where(PhotoRow.visit_id == visit_id).order_by(PhotoRow.id).limit(1)
            )
            if photo is None:
                raise RecordError("This visit has no photo on which an outline could lie; save a visit with the photo.")
            row = outline_row(visit_id, photo, DraftOutline("retraced", method, outline, by), now)
            session.add(row)
            session.flush()
            session.add(measurement_row(visit_id, row.id, DraftMeasurement(0, convention, document), now, by))
            session.flush()
            return read_visit(session.connection(), visit_id)

    def set(self, name: str, value: Any, by: str) -> None:  # noqa: ANN401 - JSON holds anything
        """Set a setting of the site; earlier values stay in the record."""
        name, by = line(name, "The name of the setting"), initials(by)
        kept = json_value(value, f"The setting {name}")
        with self._database.act() as session:
            session.add(SettingRow(name=name, value=kept, at=instant(None), by=by))

    def _check_photo(self, draft: VisitDraft) -> None:
        """Refuse a visit whose photo is not in the record, and outlines or numbers without what they belong to."""
        if draft.photo:
            self._files.get(draft.photo.sha256)
        elif draft.outlines or draft.measured:
            raise RecordError("The visit has an outline but no photo on which it lies; add the photo.")
        if draft.measured and not 0 <= draft.measured.outline < len(draft.outlines):
            raise RecordError(
                f"The visit's numbers belong to outline {draft.measured.outline} (from 0), and it has "
                f"{len(draft.outlines)}; save the numbers with the outline that was measured."
            )


# Locks


def _locked_person(session: Session, person: str, now: datetime, by: str) -> int:
    """Return the number of a person, made where the code is new, with the row locked until the act is over."""
    locked = select(PersonRow.id).where(PersonRow.code == person).with_for_update()
    found = session.scalar(locked)
    if found is None:
        try:
            with session.begin_nested():
                session.add(PersonRow(code=person, at=now, by=by))
        except IntegrityError:
            pass  # somebody else made the person just now
        found = session.scalar(locked)
    if found is None:
        message = f"the person {person} is neither there nor can be made"
        raise AssertionError(message)
    return found


def _lock_wound(session: Session, wound_id: int) -> None:
    """Lock the row of a wound until the act is over, so that others wait who add to it."""
    if session.scalar(select(WoundRow.id).where(WoundRow.id == wound_id).with_for_update()) is None:
        raise UnknownWoundError(
            f"The record holds no wound that it numbers {wound_id}; choose the wound from the list."
        )


# Visits


def _since(session: Session, wound_id: int, seen: int | None) -> list[int]:
    """Return the numbers of the visits that were saved after the first so many."""
    if seen is None:
        return []
    saved = select(VisitRow.id).where(VisitRow.wound_id == wound_id).order_by(VisitRow.id)
    return list(session.scalars(saved.offset(max(seen, 0))))


def _add_photo(session: Session, visit_id: int, draft: VisitDraft, now: datetime) -> list[int]:
    """Add the photo of a visit and the outlines on it; return the outlines' numbers."""
    if draft.photo is None:
        return []
    photo = photo_row(visit_id, draft.photo)
    session.add(photo)
    session.flush()
    outlines = [outline_row(visit_id, photo.id, outline, now) for outline in draft.outlines]
    session.add_all(outlines)
    session.flush()
    return [outline.id for outline in outlines]
