"""Photos as files under the hash of their bytes, in a folder or in any store that fsspec knows.

A file lies in a folder named by the first two digits of its hash: ``ab/ab34...jpg``. It appears under its name only
when all of it is there, is never changed, and is checked against its hash whenever it is read.
"""

import hashlib
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

import fsspec
from fsspec.implementations.local import LocalFileSystem

from calibration.errors import EbblineError
from measure.photo import kind_of_file

SUFFIXES = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "image/heic": ".heic",
    "image/avif": ".avif",
}
"""Of the kinds of file that `measure.record.stripping.strip` returns; the most frequent kind is looked for first."""

_HASH = re.compile(r"[0-9a-f]{64}")


class PhotoFileError(EbblineError):
    """A photo of the record can't be kept, or can't be found as it was kept."""

    code = "unusable-photo-file"


class PhotoFiles:
    """The photos of a record; safe to use from several threads and processes.

    Parameters
    ----------
    url : str or Path
        A folder, or a URL that fsspec knows, as ``s3://bucket/folder``.
    **options
        For that file system, as a key to it.

    Raises
    ------
    PhotoFileError
        If nothing here can reach such a store.
    """

    def __init__(self, url: str | Path, **options: Any) -> None:  # noqa: ANN401 - each file system has its own
        try:
            self._system, root = fsspec.core.url_to_fs(str(url), **options)
        except (ImportError, ValueError) as error:
            raise PhotoFileError(
                "The place of the photos is named in a way that nothing here can reach; give a folder, or a URL of a "
                "store whose fsspec package is installed."
            ) from error
        self._root = str(root).rstrip("/")

    def put(self, data: bytes, sha256: str) -> None:
        """Keep a file under the hash of its bytes; one that is there already, and whole, stays.

        Parameters
        ----------
        data : bytes
            As `measure.record.stripping.Stripped.data`.
        sha256 : str
            In hexadecimal digits.

        Raises
        ------
        PhotoFileError
            If the file can't be written; nothing lies under its name then.
        ValueError
            If the hash is not that of the bytes.
        """
        if hashlib.sha256(data).hexdigest() != sha256:
            raise ValueError(sha256)
        path = self._path(sha256, SUFFIXES[kind_of_file(data)])
        with self._sentence("A photo can't be kept in {place}; see that there is room and that you may write there."):
            if self._found(path) == data:
                return
            self._write(path, data)

    def get(self, sha256: str) -> bytes:
        """Return the bytes of a file.

        Raises
        ------
        PhotoFileError
            If it is missing, damaged, or can't be reached.
        """
        if not _HASH.fullmatch(sha256):
            raise PhotoFileError("This is not the name of a photo in the record; open the photo from its visit.")
        with self._sentence("The photos in {place} can't be reached; see that the store is there and may be read."):
            found = next(self._copies(sha256), None)
        if found is None:
            raise PhotoFileError(
                f"The photo {sha256[:12]} of the record is missing from {self._place}; bring it back from a backup."
            )
        if hashlib.sha256(found).hexdigest() != sha256:
            raise PhotoFileError(
                f"The photo {sha256[:12]} of the record is damaged in {self._place}: its bytes are not those that were "
                "kept; bring it back from a backup."
            )
        return found

    def _copies(self, sha256: str) -> Iterator[bytes]:
        for suffix in SUFFIXES.values():
            found = self._found(self._path(sha256, suffix))
            if found is not None:
                yield found

    def _found(self, path: str) -> bytes | None:
        try:
            return bytes(self._system.cat_file(path))
        except FileNotFoundError:
            return None

    def _path(self, sha256: str, suffix: str) -> str:
        return f"{self._root}/{sha256[:2]}/{sha256}{suffix}"

    def _write(self, path: str, data: bytes) -> None:
        if isinstance(self._system, LocalFileSystem):
            _write_local(Path(path), data)
        else:
            self._upload(path, data)

    def _upload(self, path: str, data: bytes) -> None:
        """Send the file under a name of its own, read it back, then move it: a broken line leaves no half a photo."""
        part = _part(path)
        self._system.makedirs(path.rpartition("/")[0], exist_ok=True)
        try:
            self._system.pipe_file(part, data)
            if self._system.cat_file(part) != data:
                raise OSError
            self._system.mv(part, path)
        finally:
            if self._system.exists(part):
                self._system.rm_file(part)

    @property
    def _place(self) -> str:
        """What to call the store; a URL may hold a password, and is not shown."""
        return self._root if isinstance(self._system, LocalFileSystem) else "the store of photos"

    @contextmanager
    def _sentence(self, text: str) -> Iterator[None]:
        try:
            yield
        except Exception as error:  # each file system has exceptions of its own
            raise PhotoFileError(text.format(place=self._place)) from error


def _part(path: str) -> str:
    """Name an unfinished file: nobody else's, and never that of a photo."""
    folder, _, name = path.rpartition("/")
    return f"{folder}/.{name}.{uuid4().hex}.part"


def _write_local(path: Path, data: bytes) -> None:
    """Write beside the final name, see it onto the disk, then rename: a power cut leaves all of it or nothing."""
    _make_folder(path.parent)
    part = Path(_part(str(path)))
    try:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    _sync_folder(path.parent)


def _make_folder(folder: Path) -> None:
    """Make a folder and those above it, and see their names onto the disk."""
    missing = [above for above in (folder, *folder.parents) if not above.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for made in missing:
        _sync_folder(made.parent)


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # a folder can't be opened there; the file system keeps its own journal of names
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
