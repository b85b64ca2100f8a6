"""What the camera noted about a photo: when it was taken, through which lens, and in which size.

Places, serial numbers, makers and owners are not looked at.
"""

import math
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from typing import TypeAlias

from PIL import ExifTags, ImageFile

from calibration.plane import FULL_FRAME_DIAGONAL_MM

Tags: TypeAlias = Mapping[int, object]

PLAUSIBLE_EQUIVALENT_MM = (8.0, 400.0)
"""From fisheye to long telephoto; EXIF values outside are errors of the writing program."""


def read_tags(image: ImageFile.ImageFile) -> Tags:
    """Read the orientation and the Exif directory; broken EXIF data never stop a photo, they tell less."""
    tags: dict[int, object] = {}
    with suppress(Exception):
        exif = image.getexif()
        tags[ExifTags.Base.Orientation] = exif.get(ExifTags.Base.Orientation)
        tags.update(exif.get_ifd(ExifTags.IFD.Exif))
    return tags


def taken_at(tags: Tags) -> datetime | None:
    """Capture time, with its time zone where the camera noted the offset (EXIF 2.31 and later)."""
    moment = _text(tags.get(ExifTags.Base.DateTimeOriginal))
    offset = _text(tags.get(ExifTags.Base.OffsetTimeOriginal))
    with suppress(ValueError):
        return datetime.strptime(moment + offset, "%Y:%m:%d %H:%M:%S%z")
    with suppress(ValueError):
        return datetime.strptime(moment, "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 - no offset is known
    return None


def _text(value: object) -> str:
    return value.strip("\0 ") if isinstance(value, str) else ""


def focal_px(tags: Tags, width: int, height: int) -> float | None:
    """Focal length in pixels of a picture of this size; None where EXIF doesn't tell or tells nonsense."""
    diagonal_px = math.hypot(width, height)
    shortest_px, longest_px = (mm * diagonal_px / FULL_FRAME_DIAGONAL_MM for mm in PLAUSIBLE_EQUIVALENT_MM)
    for found_px in (_focal_from_equivalent(tags, diagonal_px), _focal_from_sensor(tags, diagonal_px)):
        if shortest_px <= found_px <= longest_px:
            return found_px
    return None


def _focal_from_equivalent(tags: Tags, diagonal_px: float) -> float:
    """From the 35 mm equivalent, which compares diagonals (CIPA DC-008, tag 0xA405); 0 if unknown."""
    return number(tags.get(ExifTags.Base.FocalLengthIn35mmFilm)) * diagonal_px / FULL_FRAME_DIAGONAL_MM


def camera_size(tags: Tags) -> tuple[int, int] | None:
    """Return the longer and the shorter side that the camera noted (EXIF tags 0xA002 and 0xA003); None if unknown."""
    width, height = (
        int(number(tags.get(tag))) for tag in (ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight)
    )
    return (max(width, height), min(width, height)) if width and height else None


_MM_PER_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}
"""FocalPlaneResolutionUnit: inch and centimetre by the standard, millimetre and micrometre by custom."""


def _focal_from_sensor(tags: Tags, diagonal_px: float) -> float:
    """From the focal length in mm and the pixels a mm on the sensor; 0 if unknown.

    The resolution refers to the picture as the camera stored it, whose size is noted beside it. Diagonals
    tell how much smaller this copy is, whichever way round either is stored.
    """
    unit_mm = _MM_PER_UNIT.get(int(number(tags.get(ExifTags.Base.FocalPlaneResolutionUnit))), 25.4)
    pixels_per_mm = number(tags.get(ExifTags.Base.FocalPlaneXResolution)) / unit_mm
    stored_px = math.hypot(
        number(tags.get(ExifTags.Base.ExifImageWidth)),
        number(tags.get(ExifTags.Base.ExifImageHeight)),
    )
    resized = diagonal_px / stored_px if stored_px else 1.0
    return number(tags.get(ExifTags.Base.FocalLength)) * pixels_per_mm * resized


def number(value: object) -> float:
    """Read an EXIF number; 0 for one that is missing, negative, infinite or no number at all."""
    with suppress(TypeError, ValueError, ArithmeticError):
        read = float(value)  # type: ignore[arg-type] # anything may stand in an EXIF tag
        return read if 0 < read < math.inf else 0.0
    return 0.0
