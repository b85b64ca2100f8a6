"""Photos under their hashes: in a folder and in a store without one, whole or not there at all."""

import hashlib
import io
from uuid import uuid4

import fsspec
import numpy as np
import pytest
from PIL import Image

from measure.record.photo_files import SUFFIXES, PhotoFileError, PhotoFiles


def photo_bytes(seed: int = 1, kind: str = "JPEG") -> bytes:
    file = io.BytesIO()
    pixels = np.random.default_rng(seed).integers(0, 255, (220, 220, 3), np.uint8)
    Image.fromarray(pixels).save(file, kind)
    return file.getvalue()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture(params=["folder", "memory"])
def where(request, tmp_path) -> str:
    """Where the photos lie: in a folder that is not there yet, or in fsspec's memory."""
    return str(tmp_path / "new" / "photos") if request.param == "folder" else f"memory://{uuid4().hex}/photos"


def under(where: str) -> list[str]:
    """List the names of all files that lie there."""
    system, root = fsspec.core.url_to_fs(where)
    return sorted(path.removeprefix(root).lstrip("/") for path in system.find(root))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF"])
def test_what_is_put_comes_back(where, kind):
    data = photo_bytes(kind=kind)
    PhotoFiles(where).put(data, sha(data))
    assert PhotoFiles(where).get(sha(data)) == data
    assert under(where) == [f"{sha(data)[:2]}/{sha(data)}{SUFFIXES[f'image/{kind.lower()}']}"]


def test_putting_twice_keeps_one_file(where):
    data, files = photo_bytes(), PhotoFiles(where)
    files.put(data, sha(data))
    files.put(data, sha(data))
    assert len(under(where)) == 1


def test_putting_again_repairs_a_damaged_file(where):
    data, files = photo_bytes(), PhotoFiles(where)
    files.put(data, sha(data))
    with fsspec.open(f"{where}/{under(where)[0]}", "wb") as file:
        file.write(data[:100])
    with pytest.raises(PhotoFileError, match=rf"^The photo {sha(data)[:12]} of the record is damaged in .*; bring it"):
        files.get(sha(data))
    files.put(data, sha(data))
    assert files.get(sha(data)) == data


def test_a_missing_photo(where):
    with pytest.raises(PhotoFileError, match=r"^The photo abababababab of the record is missing from .* from a backup"):
        PhotoFiles(where).get("ab" * 32)


@pytest.mark.parametrize("name", ["", "../../etc/passwd", "AB" * 32, "ab" * 31, "ab" * 32 + "\n"])
def test_a_name_that_is_no_hash_opens_nothing(where, name):
    with pytest.raises(PhotoFileError, match="^This is not the name of a photo in the record"):
        PhotoFiles(where).get(name)


def test_bytes_under_another_hash_are_a_mistake(where):
    with pytest.raises(ValueError, match="abab"):
        PhotoFiles(where).put(photo_bytes(), "ab" * 32)
    assert under(where) == []
