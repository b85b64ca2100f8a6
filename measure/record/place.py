"""Where a record lies: a folder or a database URL, and the folder or store of its photos."""

import os
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from measure.record.errors import RecordError

FILE = "record.db"
"""Name of the SQLite file in a folder."""

PHOTOS = "photos"
"""Name of the folder of photos beside it."""

PHOTOS_VARIABLE = "EBBLINE_PHOTOS"
"""Environment variable that says where photos lie if the URL doesn't."""

_DRIVERS = {"sqlite": "sqlite", "postgresql": "postgresql+psycopg", "postgresql+psycopg": "postgresql+psycopg"}


@dataclass(frozen=True)
class Place:
    """Where a record lies.

    Attributes
    ----------
    url : sqlalchemy.URL
        Of the database.
    photos : str
        Folder or fsspec URL.
    file : Path, optional
        The database's file; None for a server.
    """

    url: URL
    photos: str
    file: Path | None

    def __str__(self) -> str:
        """Say it without user and password."""
        if self.file:
            return str(self.file)
        port = f":{self.url.port}" if self.url.port else ""
        return f"{self.url.database or 'the database'} on {self.url.host or 'this computer'}{port}"


def place_of(where: str | Path) -> Place:
    """Find out where a record lies.

    Parameters
    ----------
    where : str or Path
        A folder, or a URL: ``sqlite:///FILE`` or ``postgresql+psycopg://USER@HOST/DATABASE``, with ``?photos=URL``.

    Raises
    ------
    RecordError
        If it is neither, or nobody said where the photos of a server's record lie.
    """
    if isinstance(where, Path) or "://" not in where:
        return _in_folder(Path(where))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        raise RecordError(
            "The address of the record can't be read; give a folder, or an address such as "
            "postgresql+psycopg://USER@HOST/DATABASE?photos=FOLDER."
        ) from None  # its message may hold a password
    if url.drivername not in _DRIVERS:
        raise RecordError(
            f"The address of the record begins with {url.drivername}, which is not known here; give a folder, or an "
            "address that begins with sqlite or postgresql+psycopg."
        )
    photos = url.query.get("photos", "")
    if not isinstance(photos, str):
        raise RecordError("The address of the record names more than one place for photos; name one.")
    url = url.difference_update_query(["photos"]).set(drivername=_DRIVERS[url.drivername])
    return _in_file(url, photos) if url.drivername == "sqlite" else _on_server(url, photos)


def _in_folder(folder: Path) -> Place:
    folder = folder.expanduser()
    file = (folder / FILE).absolute()
    return Place(URL.create("sqlite", database=str(file)), str(folder.absolute() / PHOTOS), file)


def _in_file(url: URL, photos: str) -> Place:
    if url.database in {None, "", ":memory:"}:
        raise RecordError("The address of the record names no file, so nothing would be kept; give sqlite:///FILE.")
    file = Path(str(url.database)).absolute()
    photos = photos or os.environ.get(PHOTOS_VARIABLE, "") or str(file.parent / PHOTOS)
    return Place(url.set(database=str(file)), photos, file)


def _on_server(url: URL, photos: str) -> Place:
    photos = photos or os.environ.get(PHOTOS_VARIABLE, "")
    if not photos:
        raise RecordError(
            f"Nobody said where the photos of a record on a server lie; add ?photos=FOLDER to its address, or set "
            f"{PHOTOS_VARIABLE}."
        )
    return Place(url, photos, None)
