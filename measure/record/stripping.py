"""A photo's file without what it says of people, places and devices, before it goes into the record.

What stays is the picture, its colour profile, which side is up, when it was taken, the focal length and the size: what
`measure.photo` reads, and nothing else. What goes: place, serial numbers, maker notes, owner, comments, captions,
thumbnails, second pictures, films behind the picture, XMP, IPTC, and every block that is not known here.

JPEG, PNG, WebP, HEIC and AVIF files keep their compressed picture byte for byte. TIFF and GIF files, and files built so
that this can't be done, are written anew as PNG pictures, in which no pixel differs from what `measure.photo` reads.
Whichever way: the new file is read again and must give the same photo.
"""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from PIL import ExifTags, Image

from measure.photo import Opened, Photo, PhotoError, read_opened
from measure.record.chunks import stripped_png, stripped_webp
from measure.record.entries import PhotoEntry
from measure.record.heif import stripped_heif
from measure.record.kept_tags import exif_block
from measure.record.segments import stripped_jpeg

_LOSSLESS: dict[str, Callable[[bytes, bytes], bytes]] = {
    "image/jpeg": stripped_jpeg,
    "image/png": stripped_png,
    "image/webp": stripped_webp,
    "image/heic": stripped_heif,
    "image/avif": stripped_heif,
}

_PNG_EFFORT = 2
"""Of zlib, from 0 to 9: a photo's noise hardly gets smaller with more, and 12 megapixels take long enough."""


@dataclass(frozen=True, eq=False)
class Stripped:
    """A photo's file as the record keeps it.

    Attributes
    ----------
    data : bytes
    photo : Photo
        What the file shows; ``sha256`` is that of ``data``, and no place or owner can be found in either.
    media_type : str
        As ``image/jpeg``.
    source_sha256 : str
        Fingerprint of the file as it came, in hexadecimal digits.
    rewritten : bool
        Whether the picture had to be compressed anew, as PNG, without loss.
    """

    data: bytes
    photo: Photo
    media_type: str
    source_sha256: str
    rewritten: bool

    @property
    def entry(self) -> PhotoEntry:
        """The photo as the record lists it."""
        taken_at = self.photo.taken_at
        return PhotoEntry(
            sha256=self.photo.sha256,
            source_sha256=self.source_sha256,
            media_type=self.media_type,
            width=self.photo.width,
            height=self.photo.height,
            taken_at=taken_at.isoformat() if taken_at else None,
        )


def strip(data: bytes, name: str = "photo") -> Stripped:
    """Return a photo's file without what it says of people, places and devices.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        What to call it in sentences and in the photo.

    Raises
    ------
    PhotoError
        Whatever is wrong with the file, as of `measure.photo.read_photo`.
    """
    opened = read_opened(data, name)
    made = _without_loss(data, opened, name)
    rewritten = made is None
    if made is None:
        made = _read_again(_as_png(opened), opened, name)
    if made is None:
        raise PhotoError(
            f"{name} can't be freed of what it may say of people and places; save it as a new JPEG or PNG picture and "
            "choose that."
        )
    stripped, found = made
    return Stripped(stripped, found.photo, found.media_type, opened.photo.sha256, rewritten)


def _without_loss(data: bytes, opened: Opened, name: str) -> tuple[bytes, Opened] | None:
    """Return the file with its compressed picture copied; None where that can't be done with it."""
    method = _LOSSLESS.get(opened.media_type)
    if method is None:
        return None
    with suppress(Exception):  # what a tolerant reader reads may be built in any way
        return _read_again(method(data, exif_block(opened.tags)), opened, name)
    return None


def _read_again(data: bytes, opened: Opened, name: str) -> tuple[bytes, Opened] | None:
    """Read what was made; None unless it gives the photo that it was made of."""
    with suppress(PhotoError):
        found = read_opened(data, name)
        if _same(found.photo, opened.photo):
            return data, found
    return None


def _same(photo: Photo, other: Photo) -> bool:
    facts = ((one.taken_at, one.focal_px, one.camera_size) for one in (photo, other))
    return len(set(facts)) == 1 and np.array_equal(photo.pixels, other.pixels)


def _as_png(opened: Opened) -> bytes:
    """Return the upright pixels as a PNG file; a colour profile that is not one of RGB can't describe them."""
    file = BytesIO()
    profile = opened.colours if opened.colours[16:20] == b"RGB " else b""
    Image.fromarray(opened.photo.pixels).save(file, "PNG", compress_level=_PNG_EFFORT, icc_profile=profile or None)
    upright = {tag: value for tag, value in opened.tags.items() if tag != ExifTags.Base.Orientation}
    return stripped_png(file.getvalue(), exif_block(upright))
