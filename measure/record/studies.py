"""The agreement studies of a record: begun, traced photo by photo, closed and opened again; only ever added to.

As with visits, each act is one transaction that is saved whole before its method returns. A rater saves a photo once a
trial, from however many devices, and begins a trial when the one before is finished.
"""

from sqlalchemy import select
from sqlalchemy.orm import Session

from measure.record.admission import initials, instant, line
from measure.record.database import Database
from measure.record.errors import ChangedError, RecordError, UnknownStudyError
from measure.record.photo_facts import PhotoFacts, count_facts, read_photo_facts
from measure.record.study_entries import StudyEntry, StudyHead, StudyPlan, StudyWhat
from measure.record.study_reading import read_head, read_heads, read_studies, read_study
from measure.record.study_rows import TracingDraft, study_row, tracing_row
from measure.record.tables import StudyEventRow, StudyRow, TracingRow


class Studies:
    """The studies of an open record; threads may share them. Reached as `measure.record.store.Record.studies`.

    All methods raise `RecordError` where the database can't be used.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    # Reading

    def all(self) -> list[StudyEntry]:
        """Return all studies with all that was traced, in the order in which they began."""
        with self._database.look() as connection:
            return read_studies(connection)

    def one(self, study_id: int) -> StudyEntry:
        """Return one study with all that was traced.

        Raises
        ------
        UnknownStudyError
            If there is none.
        """
        with self._database.look() as connection:
            return read_study(connection, study_id)

    def heads(self) -> list[StudyHead]:
        """Return all studies without what was traced: for lists and for whoever traces, many times cheaper."""
        with self._database.look() as connection:
            return read_heads(connection)

    def head(self, study_id: int) -> StudyHead:
        """Return one study without what was traced.

        Raises
        ------
        UnknownStudyError
            If there is none.
        """
        with self._database.look() as connection:
            return read_head(connection, study_id)

    def photo_facts(self) -> list[PhotoFacts]:
        """Return what a draw has to know of each visit's photo, by when the wound was seen."""
        with self._database.look() as connection:
            return read_photo_facts(connection)

    def facts_stand(self) -> tuple[int, ...]:
        """Return what is another value as soon as `photo_facts` may be others: cheaper than reading them."""
        with self._database.look() as connection:
            return count_facts(connection)

    # Acts

    def add(self, name: str, plan: StudyPlan, by: str) -> StudyEntry:
        """Begin a study.

        Parameters
        ----------
        name : str
            By which its raters know it.
        plan : StudyPlan
        by : str
            Initials or staff code of who begins it.
        """
        by = initials(by)
        row = study_row(name, plan, instant(None), by)
        with self._database.act() as session:
            session.add(row)
            session.flush()
            return read_study(session.connection(), row.id)

    def add_tracing(self, study_id: int, draft: TracingDraft, by: str) -> StudyHead:
        """Save what a rater traced; return how far the study has come.

        Raises
        ------
        ChangedError
            If the study is closed, or this rater has saved this photo in this trial already.
        RecordError
            If the study does not ask this rater for this photo now.
        """
        now, by = instant(None), initials(by)
        with self._database.act() as session:
            _lock_study(session, study_id)
            head = read_head(session.connection(), study_id)
            _check_open(head)
            _check_asked(head, draft)
            _check_not_saved(session, head, draft)
            session.add(tracing_row(study_id, draft, now, by))
            session.flush()
            return read_head(session.connection(), study_id)

    def close(self, study_id: int, reason: str, by: str) -> StudyHead:
        """Close a study, so that nothing more is traced in it; what was traced stays.

        Raises
        ------
        ChangedError
            If it is closed already.
        """
        return self._happen(study_id, StudyWhat.CLOSED, reason, by)

    def reopen(self, study_id: int, reason: str, by: str) -> StudyHead:
        """Open a study again.

        Raises
        ------
        ChangedError
            If it is open.
        """
        return self._happen(study_id, StudyWhat.REOPENED, reason, by)

    def _happen(self, study_id: int, what: StudyWhat, reason: str, by: str) -> StudyHead:
        now, by, said = instant(None), initials(by), line(reason, "The reason", 200)
        if not said:
            raise RecordError(f"Nobody said why the study is {what}; give the reason in a few words.")
        with self._database.act() as session:
            _lock_study(session, study_id)
            head = read_head(session.connection(), study_id)
            if what is StudyWhat.CLOSED:
                _check_open(head)
            elif not head.closed:
                raise ChangedError(f"The study {head.name!r} is open already; go on with it.")
            session.add(StudyEventRow(study_id=study_id, what=what.value, reason=said, at=now, by=by))
            session.flush()
            return read_head(session.connection(), study_id)


def _lock_study(session: Session, study_id: int) -> None:
    """Lock the row of a study until the act is over, so that others wait who add to it."""
    if session.scalar(select(StudyRow.id).where(StudyRow.id == study_id).with_for_update()) is None:
        raise UnknownStudyError(f"The record holds no study that it numbers {study_id}; choose one from the list.")


def _check_open(head: StudyHead) -> None:
    if head.closed:
        raise ChangedError(
            f"{head.closed.by} has closed the study {head.name!r} ({head.closed.at:%Y-%m-%d %H:%M} UTC: "
            f"{head.closed.reason}); nothing more is saved in it unless it is opened again."
        )


def _check_asked(head: StudyHead, draft: TracingDraft) -> None:
    """Refuse a tracing that the plan does not ask for, or not yet."""
    plan, photos = head.plan, len(head.plan.photos)
    if draft.rater not in plan.raters:
        raise RecordError(
            f"{draft.rater} is no rater of the study {head.name!r}; its raters are {', '.join(plan.raters)}."
        )
    if not (1 <= draft.photo <= photos and 1 <= draft.trial <= plan.trials):
        raise RecordError(
            f"The study {head.name!r} has {photos} photos in each of {plan.trials} trials, no photo {draft.photo} in "
            f"trial {draft.trial}; open the study again from the list."
        )
    for trial in range(1, draft.trial):
        traced = head.done_by(draft.rater, trial)
        if traced < photos:
            raise RecordError(
                f"In trial {trial} {traced} of {photos} photos are traced, so trial {draft.trial} can't begin; trace "
                "the others first."
            )


def _check_not_saved(session: Session, head: StudyHead, draft: TracingDraft) -> None:
    found = (TracingRow.rater == draft.rater, TracingRow.trial == draft.trial, TracingRow.photo == draft.photo)
    before = session.scalar(select(TracingRow.at).where(TracingRow.study_id == head.id, *found))
    if before is not None:
        raise ChangedError(
            f"This photo was saved already, at {before:%H:%M} UTC, from another device or another window; that tracing "
            "stays and this one was not saved. Go on with the next photo."
        )
