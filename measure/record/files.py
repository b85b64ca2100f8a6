"""Photo files in a folder, each under its hash."""

import hashlib
import os
from pathlib import Path

from measure.record.errors import RecordError


class Files:
    """A folder of files that are named after their hashes.

    Parameters
    ----------
    folder : str
    """

    def __init__(self, folder: str) -> None:
        self._folder = Path(folder)

    def put(self, data: bytes, sha256: str) -> None:
        """Keep a file: on the disk, whole, before this returns."""
        path = self._path(sha256)
        if path.exists():
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_name(f"{path.name}.{os.getpid()}.part")
        with unfinished.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)

    def get(self, sha256: str) -> bytes:
        """Return a file.

        Raises
        ------
        RecordError
            If it is missing or damaged.
        """
        try:
            data = self._path(sha256).read_bytes()
        except OSError as error:
            raise RecordError(
                f"The photo {sha256[:12]} can't be read ({error.strerror}); put back its file from your backup."
            ) from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise RecordError(f"The file of the photo {sha256[:12]} was changed; put it back from your backup.")
        return data

    def _path(self, sha256: str) -> Path:
        return self._folder / sha256[:2] / sha256
