"""Writes a rendering as the JPEG file that a telephone would save."""

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.Image import Transpose

from .rendering import Rendering

_ORIENTATION, _EXIF, _TAKEN, _OFFSET, _FOCAL_35MM = 0x0112, 0x8769, 0x9003, 0x9011, 0xA405
_STORED = {
    1: None,
    2: Transpose.FLIP_LEFT_RIGHT,
    3: Transpose.ROTATE_180,
    4: Transpose.FLIP_TOP_BOTTOM,
    5: Transpose.TRANSPOSE,
    6: Transpose.ROTATE_90,
    7: Transpose.TRANSVERSE,
    8: Transpose.ROTATE_270,
}  # what turns an upright photo into the pixels that are stored under each orientation


@dataclass(frozen=True)
class ExifFacts:
    """What the file says about the photo.

    Attributes
    ----------
    focal_35mm : int, optional
        Focal length in mm on 36 x 24 mm film; without it the camera's own, or none for bare pixels.
    taken_at : str, optional
        Time as ``YYYY:MM:DD HH:MM:SS``.
    offset : str, optional
        Time zone as ``+01:00``.
    orientation : int
        1 to 8; the pixels are stored turned accordingly.
    """

    focal_35mm: int | None = None
    taken_at: str | None = "2024:03:04 10:15:00"
    offset: str | None = "+01:00"
    orientation: int = 1


def jpeg(
    photo: Rendering | NDArray[np.uint8],
    quality: int = 88,
    facts: ExifFacts | None = ExifFacts(),
) -> bytes:
    """Return the photo as JPEG; without facts the file carries no EXIF."""
    pixels = photo.pixels if isinstance(photo, Rendering) else photo
    image = Image.fromarray(pixels)
    buffer = BytesIO()
    if facts is None:
        image.save(buffer, "JPEG", quality=quality)
        return buffer.getvalue()
    turn = _STORED[facts.orientation]
    image = image if turn is None else image.transpose(turn)
    image.save(buffer, "JPEG", quality=quality, exif=_exif(facts, photo))
    return buffer.getvalue()


def write_photo(
    path: Path,
    photo: Rendering | NDArray[np.uint8],
    quality: int = 88,
    facts: ExifFacts | None = ExifFacts(),
) -> None:
    """Write the photo as a JPEG file."""
    path.write_bytes(jpeg(photo, quality, facts))


def _exif(facts: ExifFacts, photo: Rendering | NDArray[np.uint8]) -> Image.Exif:
    exif = Image.Exif()
    exif[_ORIENTATION] = facts.orientation
    known = round(photo.scene.camera.focal_35mm) if isinstance(photo, Rendering) else None
    details = {_TAKEN: facts.taken_at, _OFFSET: facts.offset, _FOCAL_35MM: facts.focal_35mm or known}
    exif.get_ifd(_EXIF).update({tag: value for tag, value in details.items() if value is not None})
    return exif
