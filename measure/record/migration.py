"""Brings a database to the newest form of the tables, by the numbered migrations in ``versions``.

All steps run in one transaction under a lock, so that of two programs that open an old record one migrates it and the
other waits, and a broken-off migration leaves the old form. Before an SQLite file is migrated, a copy of it is put
beside it as ``record.db.before-0003``, named after the form that the record gets: whoever goes back to an older version
of this program puts that copy in its place.
"""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from measure.record.database import Database
from measure.record.errors import RecordError

_VERSIONS = Path(__file__).parent / "versions"
_TABLE = "alembic_version"
_LOCK = 0x65_62_62_6C_69_6E_65  # "ebbline" in ASCII: the advisory lock that programs of this kind take on a server

REVISIONS = tuple(sorted(file.name[:4] for file in _VERSIONS.glob("[0-9][0-9][0-9][0-9]_*.py")))
"""Numbers of all migrations, oldest first."""


def migrate(database: Database) -> None:
    """Bring a database to the newest form; an empty one gets all its tables.

    Raises
    ------
    RecordError
        If it was made by a newer version of this program or by another program, or can't be written.
    """
    with database.look() as connection:
        if _revision(connection, database) == REVISIONS[-1]:
            return
    with database.told(), database.engine.begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
        found = _revision(connection, database)
        if found == REVISIONS[-1]:
            return  # by another program, while this one waited
        if found and database.place.file:
            _back_up(database.place.file)
        _upgrade(connection)


def _revision(connection: Connection, database: Database) -> str | None:
    """Return the number of the last migration that was run; None for an empty database."""
    tables = inspect(connection).get_table_names()
    if _TABLE not in tables:
        if tables:
            raise RecordError(
                f"{database.place} holds data of another program (tables such as {tables[0]}); name another place for "
                "the record."
            )
        return None
    found = connection.execute(text(f"SELECT version_num FROM {_TABLE}")).scalar()  # noqa: S608 - a constant
    if found is not None and found not in REVISIONS:
        raise RecordError(
            f"{database.place} was made by a newer version of this program (form {found}, known here up to "
            f"{REVISIONS[-1]}); update this program, nothing was changed."
        )
    return found


def _back_up(file: Path) -> None:
    """Copy an SQLite file as it stands, whole or not at all.

    Raises
    ------
    RecordError
        If it can't be copied; the file is in its old form then.
    """
    copy = file.with_name(f"{file.name}.before-{REVISIONS[-1]}")
    try:
        _copy(file, copy)
    except (OSError, sqlite3.Error) as error:
        raise RecordError(
            f"{file} has to be brought to a newer form, and can't be copied to {copy.name} before that; see that there "
            "is room and that you may write in its folder: nothing was changed."
        ) from error


def _copy(file: Path, copy: Path) -> None:
    unfinished = copy.with_name(f"{copy.name}.part")
    unfinished.unlink(missing_ok=True)
    with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(unfinished)) as target:
        source.backup(target)
    with unfinished.open("rb+") as made:
        os.fsync(made.fileno())
    unfinished.replace(copy)


def _upgrade(connection: Connection) -> None:
    from alembic import command  # noqa: PLC0415 - most records need no migration, and the import takes a while
    from alembic.config import Config  # noqa: PLC0415

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    command.upgrade(config, "head")
