"""Readings over all wounds of a record at once: how visits were made, and what the record holds twice of a wound."""

from datetime import datetime

from measure.record.admission import instant
from measure.record.at_hand import AcceptedEntry, SizesEntry, read_accepted, read_sizes
from measure.record.database import Database
from measure.record.practice import Practice, read_practice, read_practice_stand


class Survey:
    """The readings over all wounds of an open record. Reached as `measure.record.store.Record.survey`.

    All methods raise `RecordError` where the database can't be used. Threads may share it.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    def practice(self, since: datetime | None = None) -> Practice:
        """Return how the visits since an instant were made, without outlines and documents."""
        with self._database.look() as connection:
            return read_practice(connection, _instant(since))

    def accepted(self, since: datetime | None = None) -> tuple[AcceptedEntry, ...]:
        """Return the outlines that were measured at visits since an instant, with what had been proposed."""
        with self._database.look() as connection:
            return read_accepted(connection, _instant(since))

    def sizes(self, since: datetime | None = None) -> tuple[SizesEntry, ...]:
        """Return the sizes, by photo and by ruler, of visits since an instant."""
        with self._database.look() as connection:
            return read_sizes(connection, _instant(since))

    def stand(self) -> tuple[int, ...]:
        """Return what is another value as soon as a reading may tell something else: cheaper than reading."""
        with self._database.look() as connection:
            return read_practice_stand(connection)


def _instant(since: datetime | None) -> datetime | None:
    return None if since is None else instant(since)
