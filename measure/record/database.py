"""The door to the database: connections, one transaction an act, and sentences for what databases say.

SQLite: acts begin with BEGIN IMMEDIATE, so that two writers queue instead of failing halfway; the write-ahead log lets
others read meanwhile, and each commit is on the disk before it returns. PostgreSQL: acts lock the row of the wound or
person that they add to, and readers see one moment (REPEATABLE READ).
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.orm import Session

from measure.record.errors import RecordError
from measure.record.place import Place

WAIT_S = 30
"""How long a writer waits for others. An act takes milliseconds, a photo's bytes are not among what it waits for."""

CONNECT_S = 10
"""How long to wait for a server to answer at all."""

_READING = "ebbline_reading"


class Database:
    """Connections to the database of a record; threads may share it.

    Parameters
    ----------
    place : Place
        Where it lies.
    """

    def __init__(self, place: Place) -> None:
        self.place = place
        self.engine = _engine(place)
        self._reading = self.engine.execution_options(**{_READING: True})
        if place.file is None:
            self._reading = self._reading.execution_options(isolation_level="REPEATABLE READ")

    @contextmanager
    def act(self) -> Iterator[Session]:
        """Give a session whose whole work is saved at the end, or nothing of it."""
        with self.told(), Session(self.engine) as session, session.begin():
            yield session

    @contextmanager
    def look(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of the record, and waits for nobody."""
        with self.told(), self._reading.connect() as connection:
            yield connection

    @contextmanager
    def told(self) -> Iterator[None]:
        """Turn what the database says of itself, its file or its server into a sentence.

        Raises
        ------
        RecordError
            What it says may hold an address with a password, so it is not passed on.
        """
        try:
            yield
        except DBAPIError as error:
            sentence = self._sentence(error)
            if sentence is None:
                raise
            raise RecordError(sentence) from None

    def _sentence(self, error: DBAPIError) -> str | None:
        """Return a sentence; None for what is a mistake of the program."""
        if self.place.file is None:
            return self._of_server(error)
        if not isinstance(error.orig, sqlite3.DatabaseError) or isinstance(error.orig, sqlite3.IntegrityError):
            return None
        said = str(error.orig)
        known = (sentence for part, sentence in _OF_FILES.items() if part in said)
        return next((f"{self.place} {sentence}" for sentence in known), None)

    def _of_server(self, error: DBAPIError) -> str | None:
        said, state = str(error.orig), getattr(error.orig, "sqlstate", None)
        if state in _OF_SERVERS:
            return f"The record {self.place} {_OF_SERVERS[state]}"
        if not (error.connection_invalidated or (isinstance(error, OperationalError) and state is None)):
            return None
        if "authentication failed" in said or "no password supplied" in said:
            return (
                f"The record {self.place} does not let this user in; check the user and password in its address "
                "(a password may also stand in the environment as PGPASSWORD)."
            )
        if "does not exist" in said:
            return f"There is no database {self.place}, or no such user; check the address, or ask who runs the server."
        return (
            f"The record {self.place} does not answer; check that its server runs and can be reached from here, and "
            "try again: nothing of this was saved."
        )


_OF_FILES = {
    "database is locked": f"was in use by others for {WAIT_S} seconds, so nothing was saved; try again.",
    "not a database": "is no database of this program; name another folder, or move the file away.",
    "malformed": "is damaged; put back a copy from your backup.",
    "readonly": "may not be written by you; ask for the right to write it and its folder.",
    "unable to open": "can't be opened or made; check that its folder is there and that you may write in it.",
    "is full": "can't grow, the disk is full, so nothing was saved; make room and try again.",
    "disk I/O error": "can't be read or written, the disk gives an error; check it, and put back a copy if needed.",
}


_OF_SERVERS = {  # by PostgreSQL's SQLSTATE codes (its manual, appendix A)
    "42501": "may not be written by this user; ask who runs the server for the right to make tables and add to them.",
    "25006": "can be read only, so nothing was saved; ask who runs the server.",
    "53100": "can't grow, the server's disk is full, so nothing was saved; ask who runs the server.",
    "53300": "has no connection free, so nothing was saved; try again in a moment.",
}


def _engine(place: Place) -> Engine:
    if place.file is None:
        return _of_server(place)
    engine = create_engine(
        place.url,
        connect_args={"timeout": WAIT_S, "check_same_thread": False},
        hide_parameters=True,
    )
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _of_server(place: Place) -> Engine:
    try:
        return create_engine(
            place.url,
            connect_args={"connect_timeout": place.url.query.get("connect_timeout", CONNECT_S)},
            hide_parameters=True,
            pool_pre_ping=True,
        )
    except ImportError:
        raise RecordError(
            "This installation can't speak with PostgreSQL; add what it needs: pip install 'ebbline[postgresql]'."
        ) from None


def _set_up(connection: sqlite3.Connection, _: object) -> None:
    connection.isolation_level = None  # transactions begin where `_begin` says, not where the driver guesses
    connection.execute(f"PRAGMA busy_timeout = {WAIT_S * 1000}")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")


def _begin(connection: Connection) -> None:
    options: dict[str, Any] = dict(connection.get_execution_options())
    connection.exec_driver_sql("BEGIN" if options.get(_READING) else "BEGIN IMMEDIATE")
