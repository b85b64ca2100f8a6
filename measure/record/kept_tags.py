"""The few EXIF tags that stay with a photo in the record, written anew: nothing of the camera's own block is copied."""

from contextlib import suppress
from fractions import Fraction
from typing import TypeAlias

from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from measure.exif import Tags, number, taken_at

Value: TypeAlias = int | float | IFDRational | str

_NUMBERS = (
    ExifTags.Base.FocalLength,
    ExifTags.Base.FocalLengthIn35mmFilm,
    ExifTags.Base.ExifImageWidth,
    ExifTags.Base.ExifImageHeight,
    ExifTags.Base.FocalPlaneXResolution,
    ExifTags.Base.FocalPlaneYResolution,
    ExifTags.Base.FocalPlaneResolutionUnit,
)
"""What `measure.exif` reads for the focal length and the size, and the resolution of the other direction beside it."""

_LARGEST = 2**31 - 1
"""Of a whole number that every reader takes; larger ones are written with a floating point."""

_FINEST = 1_000_000
"""Denominator of fractions in place of numbers with a point: cameras note none finer."""


def exif_block(tags: Tags) -> bytes:
    """Return a new EXIF block, without the ``Exif`` that begins it in a JPEG file; empty where nothing is to be kept.

    Kept are orientation, capture time with its offset, focal length, size, and pixels per mm of the sensor. Texts are
    written anew from what they mean, so that no other words can hide in them.

    Parameters
    ----------
    tags : mapping
        As of `measure.exif.read_tags`.
    """
    turn, kept = _orientation(tags), {**_moment(tags), **_numbers(tags)}
    if turn is None and not kept:
        return b""
    exif = Image.Exif()
    if turn is not None:
        exif[ExifTags.Base.Orientation] = turn
    exif.get_ifd(ExifTags.IFD.Exif).update(kept)
    return exif.tobytes().removeprefix(b"Exif\0\0")


def _orientation(tags: Tags) -> int | None:
    value = tags.get(ExifTags.Base.Orientation)
    return value if isinstance(value, int) and 1 <= value <= 8 else None


def _moment(tags: Tags) -> dict[int, Value]:
    """Capture time as the standard writes it (CIPA DC-008); nothing where it can't be read."""
    moment = taken_at(tags)
    if moment is None:
        return {}
    text = moment.isoformat(" ")
    written: dict[int, Value] = {ExifTags.Base.DateTimeOriginal: text[:10].replace("-", ":") + text[10:19]}
    if text[19:]:
        written[ExifTags.Base.OffsetTimeOriginal] = text[19:]
    return written


def _numbers(tags: Tags) -> dict[int, Value]:
    found: dict[int, Value] = {}
    for tag in _NUMBERS:
        with suppress(KeyError):
            if number(tags[tag]):
                found[tag] = _as_written(tags[tag])
    return found


def _as_written(value: object) -> Value:
    """Return a number as it stood there where it did as a number, so that it is read back to its last digit."""
    if isinstance(value, IFDRational) or (isinstance(value, int) and value <= _LARGEST):
        return value
    fraction = Fraction(number(value)).limit_denominator(_FINEST)  # as the standard has it
    return IFDRational(fraction) if float(fraction) == number(value) < _LARGEST else number(value)
