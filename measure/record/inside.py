"""Parts of JSON documents, taken out by the database: whole documents are large, and most is not wanted.

Ten thousand documents take seconds to be parsed here, and a tenth of a second in SQLite's own reader.
"""

from typing import Any

from sqlalchemy import ColumnElement, Connection, Float, String, Text, cast, func, type_coerce
from sqlalchemy.dialects.postgresql import ARRAY, JSON
from sqlalchemy.orm import InstrumentedAttribute


def text_inside(connection: Connection, column: InstrumentedAttribute[Any], *path: str | int) -> ColumnElement[str]:
    """Return what selects a part as text: a text as it is, a list or named values as JSON, null where it isn't there.

    Parameters
    ----------
    connection : Connection
        Databases ask for a part each in their own way.
    column : attribute of a table
        That holds JSON as text.
    *path : str or int
        Names, and places in lists from 0.
    """
    raw = type_coerce(column, Text)
    if connection.dialect.name == "sqlite":
        return type_coerce(func.json_extract(raw, _sqlite_path(path)), String)
    return type_coerce(cast(raw, JSON).op("#>>")(cast([str(step) for step in path], ARRAY(Text))), String)


def number_inside(connection: Connection, column: InstrumentedAttribute[Any], *path: str | int) -> ColumnElement[float]:
    """Return what selects a part as a number; null where it is none."""
    return cast(text_inside(connection, column, *path), Float(53))


def _sqlite_path(path: tuple[str | int, ...]) -> str:
    return "$" + "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
