"""The one door for photo files: bytes become upright RGB pixels, or a sentence says why not.

A photo is a still picture: JPEG (also the several-picture kind that phones write; its first picture counts),
PNG, TIFF, WebP, HEIC, AVIF or GIF. What comes out is 8-bit RGB with the camera's orientation applied.
Colour profiles are not applied: values are taken as the file stores them.

Only the capture time, the focal length and the size are taken from the EXIF data. Places, serial numbers, makers and
owners are never read into the result.
"""

import hashlib
import math
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path
from pkgutil import resolve_name
from typing import IO, NamedTuple, TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageFile

from calibration.errors import EbblineError
from measure.exif import Tags, camera_size, focal_px, number, read_tags, taken_at

MAX_MEGAPIXELS = 130
"""Phones take up to 108 megapixels in one piece; beyond lies a mistake or a trap for the memory."""

MIN_SIDE_PX = 200
"""A thumbnail has 160 px; below this a sticker's saddle points can't be told apart."""

MAX_FILE_MB = 500
"""An uncompressed picture of ``MAX_MEGAPIXELS`` has 390 MB."""

SIZE_TOLERANCE = 0.02
"""Relative; a picture of 1 megapixel filled up to blocks of 16 px differs by less. Who cuts or reduces a photo on
purpose changes more."""

Pixels: TypeAlias = NDArray[np.uint8]


class PhotoError(EbblineError):
    """The file can't be used as a photo; the message says what was found and what to do."""

    code = "unreadable-photo"


@dataclass(frozen=True, eq=False)
class Photo:
    """A still photo as the person saw it.

    Attributes
    ----------
    name : str
        The path or name as it was given.
    pixels : ndarray of shape (H, W, 3), uint8
        RGB, orientation applied; the array can't be written to.
    sha256 : str
        Fingerprint of the file's bytes, in hexadecimal digits.
    taken_at : datetime or None
        When the shutter opened; without time zone where the camera did not note one.
    focal_px : float or None
        Focal length in pixels of this picture, where EXIF tells it plausibly.
    camera_size : tuple of two int or None
        The sides in pixels that the camera noted, the longer one first; a turn doesn't change them.
    """

    name: str
    pixels: Pixels
    sha256: str
    taken_at: datetime | None
    focal_px: float | None
    camera_size: tuple[int, int] | None = None

    @property
    def resized(self) -> bool:
        """Whether the picture has another size than the camera noted: cut, or made smaller or larger.

        Noted sizes that are filled up to whole blocks of pixels differ by less than `SIZE_TOLERANCE`.
        """
        if self.camera_size is None:
            return False
        sides = sorted((self.width, self.height), reverse=True)
        return any(
            abs(side - noted) > SIZE_TOLERANCE * noted for side, noted in zip(sides, self.camera_size, strict=True)
        )

    @property
    def width(self) -> int:
        """Extent from left to right, in pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Extent from top to bottom, in pixels."""
        return int(self.pixels.shape[0])


def read_photo(source: Path | str | bytes | IO[bytes], name: str | None = None) -> Photo:
    """Read a photo from a path, from the bytes of a file, or from an open binary file.

    Parameters
    ----------
    source : Path, str, bytes or binary file
        A ``str`` is a path. An open file is read from its start where it can be rewound.
    name : str, optional
        What to call the photo in results and sentences; by default its path.

    Returns
    -------
    Photo

    Raises
    ------
    PhotoError
        Whatever is wrong with the file; nothing else is raised for any content.

    Notes
    -----
    A file that was cut short is refused. One that was damaged in its middle is read as any viewer reads it, with
    the damage in sight: of all these formats only PNG carries checksums.
    """
    name = _name_of(source) if name is None else name
    return read_opened(file_bytes(source, name), name).photo


class Opened(NamedTuple):
    """A photo with what else its file says, for who writes the file anew.

    Attributes
    ----------
    photo : Photo
    tags : mapping
        Orientation and Exif directory, with whatever the camera noted there.
    colours : bytes
        Its ICC profile; empty where there is none.
    media_type : str
        As ``image/jpeg``.
    """

    photo: Photo
    tags: Tags
    colours: bytes
    media_type: str


def read_opened(data: bytes, name: str) -> Opened:
    """Read a photo from the bytes of a file as `read_photo` does, and keep what else the file says."""
    found = _decode(file_bytes(data, name), name)
    height, width = found.pixels.shape[:2]
    photo = Photo(
        name=name,
        pixels=found.pixels,
        sha256=hashlib.sha256(data).hexdigest(),
        taken_at=taken_at(found.tags),
        focal_px=focal_px(found.tags, width, height),
        camera_size=camera_size(found.tags),
    )
    return Opened(photo, found.tags, found.colours, found.media_type)


def _name_of(source: Path | str | bytes | IO[bytes]) -> str:
    if isinstance(source, Path | str):
        return str(source)
    return str(getattr(source, "name", "photo"))


def file_bytes(source: Path | str | bytes | IO[bytes], name: str) -> bytes:
    """Return the bytes of a file, named so in sentences; a `PhotoError` if there are none, or far too many."""
    data = source if isinstance(source, bytes) else _read(source, name)
    if not data:
        raise PhotoError(f"{name} is empty (0 bytes); copy or send the photo again from the camera or phone.")
    if len(data) > MAX_FILE_MB * 1_000_000:
        raise PhotoError(
            f"{name} has more than {MAX_FILE_MB} MB, too much for one photo; "
            "choose the photo itself, or save a smaller copy of it."
        )
    return data


def _read(source: Path | str | IO[bytes], name: str) -> bytes:
    """Read at most one byte more than is allowed, so that a huge file costs no memory."""
    limit = MAX_FILE_MB * 1_000_000 + 1
    try:
        if not isinstance(source, Path | str):
            return _from_start(source).read(limit)
        with Path(source).open("rb") as file:
            return file.read(limit)
    except (OSError, ValueError) as error:  # ValueError: a name with a zero byte in it
        raise PhotoError(f"{name} {_trouble(error)}") from error


def _from_start(file: IO[bytes]) -> IO[bytes]:
    if file.seekable():
        file.seek(0)
    return file


def _trouble(error: OSError | ValueError) -> str:
    match error:
        case FileNotFoundError() | NotADirectoryError() | ValueError():
            return "does not exist; check how the file's name and its folder are written."
        case IsADirectoryError():
            return "is a folder, not a photo; name the photo file inside it."
        case PermissionError():
            return "may not be opened by you; ask its owner for access, or copy it to a folder of your own."
        case _:
            return "can't be read from where it is stored; copy it to this computer and try again."


class _Kind(NamedTuple):
    """A kind of file: how its bytes start, what a person calls it, what reads it (None: nothing here), its type."""

    start: bytes
    noun: str
    plugin: str | None = None
    media_type: str = ""


# The plugins are named one by one instead of going through Image.open, which imports and could run dozens of
# parsers that no photo needs. Nor need pi_heif be registered with the whole process. The first match counts.
_JPEG = "PIL.JpegImagePlugin:JpegImageFile"
_HEIC = "pi_heif:HeifImageFile"
_KINDS = (
    _Kind(rb"\xff\xd8\xff", "a JPEG photo", _JPEG, "image/jpeg"),
    _Kind(rb"\x89PNG\r\n\x1a\n", "a PNG picture", "PIL.PngImagePlugin:PngImageFile", "image/png"),
    _Kind(rb"II\*\0.{4}CR|.{4}ftypcrx ", "a raw camera file"),
    _Kind(rb"II[*+]\0|MM\0[*+]", "a TIFF picture", "PIL.TiffImagePlugin:TiffImageFile", "image/tiff"),
    _Kind(rb"RIFF.{4}WEBP", "a WebP picture", "PIL.WebPImagePlugin:WebPImageFile", "image/webp"),
    _Kind(rb"GIF8[79]a", "a GIF picture", "PIL.GifImagePlugin:GifImageFile", "image/gif"),
    _Kind(
        rb".{4}ftyp(avif|avis|m[is]f1.{,32}avif)", "an AVIF photo", "PIL.AvifImagePlugin:AvifImageFile", "image/avif"
    ),
    _Kind(rb".{4}ftyp(hei[cmsx]|hev[cmsx]|m[is]f1)", "a HEIC photo", _HEIC, "image/heic"),
    _Kind(rb".{4}ftyp", "a video"),
    _Kind(rb".{128}DICM", "a DICOM file"),
    _Kind(rb"%PDF", "a PDF document"),
    _Kind(rb"PK\x03\x04", "a ZIP archive or an Office document"),
    _Kind(rb"[\t\n\r -~\x80-\xff]{64}|[\t\n\r -~\x80-\xff]+\Z", "a text file"),
    _Kind(rb"", "a file of an unknown kind"),
)


def _kind_of(data: bytes) -> _Kind:
    return next(kind for kind in _KINDS if re.match(kind.start, data, re.DOTALL))


def kind_of_file(data: bytes) -> str:
    """Return the media type of a photo's file by how its bytes start, as ``image/jpeg``; empty for anything else."""
    return _kind_of(data).media_type


_pillow = threading.Lock()


@contextmanager
def _quiet_pillow() -> Iterator[None]:
    """Keep Pillow's warnings about big pictures and odd EXIF data to itself; this file has its own limits.

    Pages are served by several threads. ``Image.MAX_IMAGE_PIXELS`` would change the limit for all of them,
    and so do warning filters before Python 3.14: the lock sees to it that each list of filters is put back
    in order. One photo at a time also bounds the memory.
    """
    with _pillow, warnings.catch_warnings():
        warnings.filterwarnings("ignore", module=r"PIL\.|pi_heif\.")
        yield


class _Decoded(NamedTuple):
    pixels: Pixels
    tags: Tags
    colours: bytes
    media_type: str


def _decode(data: bytes, name: str) -> _Decoded:
    """Upright pixels of shape (H, W, 3), read-only, and what else there is; every failure becomes a sentence."""
    kind = _kind_of(data)
    try:
        stored = _stored(data, kind, name)
        pixels = _upright(stored.pixels, stored.tags.get(ExifTags.Base.Orientation))
    except PhotoError:
        raise
    except Image.DecompressionBombError as error:
        raise _too_large(name, f"more than {MAX_MEGAPIXELS}") from error
    except MemoryError as error:
        raise PhotoError(
            f"{name} needs more memory than this computer has free; "
            "close other programs, or save a smaller copy of the photo."
        ) from error
    except Exception as error:  # hostile bytes make the libraries raise nearly anything
        raise PhotoError(
            f"{name} starts like {kind.noun} but can't be read to its end, so it is damaged or was not "
            "copied completely; copy or send it again from the camera or phone."
        ) from error
    pixels.setflags(write=False)
    return stored._replace(pixels=pixels)


def _stored(data: bytes, kind: _Kind, name: str) -> _Decoded:
    """Pixels as stored, and what else there is; nothing is decoded before the header was checked."""
    with _quiet_pillow():
        image = _open(data, kind, name)
        _check_size(image, name)
        _check_still(image, name)
        _check_colours(image, name)
        # Pixels first: a PNG may carry its EXIF data behind them, and after them TIFF and HEIC, whose readers
        # turn the picture themselves, report it as upright.
        pixels, tags = _pixels(image), read_tags(image)
        return _Decoded(pixels, tags, image.info.get("icc_profile") or b"", kind.media_type)


def _open(data: bytes, kind: _Kind, name: str) -> ImageFile.ImageFile:
    if kind.plugin is None:
        raise PhotoError(
            f"{name} is {kind.noun}, not a photo that can be read here; "
            "choose the photo itself, as a JPEG, PNG, TIFF, WebP, HEIC or AVIF file."
        )
    if kind.plugin == _JPEG and not _reaches_its_end(data):
        raise EOFError
    if kind.plugin == _HEIC and not _says_it_in_text(data):
        raise UnicodeError
    plugin: type[ImageFile.ImageFile] = resolve_name(kind.plugin)
    return plugin(BytesIO(data))


_HEIC_WORDS = re.compile(rb"infe(?:\x02.{7}|\x03.{9})(.{4}[^\0]*\0[^\0]*)|auxC.{4}([^\0]*)", re.DOTALL)
"""Kind, name and content type of an item (ISO/IEC 14496-12, 8.11.6); what a further picture is (23008-12, 6.5.8)."""


def _says_it_in_text(heic: bytes) -> bool:
    """Whether the words that pi_heif makes text of are UTF-8; it ends the whole program over others."""
    with suppress(UnicodeDecodeError):
        for words in _HEIC_WORDS.finditer(heic):
            (words[1] or words[2] or b"").decode()
        return True
    return False


_JPEG_MARKER = re.compile(rb"\xff+([^\x00\xd0-\xd7\xff])")
_END_OF_IMAGE = b"\xd9"


def _reaches_its_end(jpeg: bytes) -> bool:
    """Whether the marker that ends the (first) picture is there; without it Pillow may read zeros as pixels.

    Segments are skipped by their length, so that the end of a thumbnail inside the EXIF data doesn't count;
    in the compressed data between them 0xFF is followed by 0 or a restart marker (ITU-T T.81, B.1.1).
    """
    position = 2
    while marker := _JPEG_MARKER.search(jpeg, position):
        if marker[1] == _END_OF_IMAGE:
            return True
        position = marker.end() + int.from_bytes(jpeg[marker.end() : marker.end() + 2], "big")
    return False


def _check_size(image: ImageFile.ImageFile, name: str) -> None:
    width, height = image.size
    if width * height > MAX_MEGAPIXELS * 1_000_000:
        raise _too_large(name, f"{math.ceil(width * height / 1e6)}")
    if min(width, height) < MIN_SIDE_PX:
        raise PhotoError(
            f"{name} has only {width} x {height} pixels, and at least {MIN_SIDE_PX} a side are needed; "
            "use the original photo, not a preview of it."
        )


def _too_large(name: str, megapixels: str) -> PhotoError:
    return PhotoError(
        f"{name} has {megapixels} megapixels, and at most {MAX_MEGAPIXELS} can be read; "
        "save a smaller copy (12 megapixels are plenty), or photograph again at the camera's usual size."
    )


def _check_still(image: ImageFile.ImageFile, name: str) -> None:
    """Refuse animations and several pages. HEIC may hold several pictures, for it names the main one."""
    pictures = 1 if image.format == "HEIF" else getattr(image, "n_frames", 1)
    if pictures != 1:
        raise PhotoError(
            f"{name} holds {pictures} pictures where one is expected; "
            "save the one that shows the wound as a photo of its own."
        )


_NEW_SUBFILE_TYPE = 0x00FE
_DNG_VERSION = 0xC612


def _check_colours(image: ImageFile.ImageFile, name: str) -> None:
    tags = getattr(image, "tag_v2", {})
    if _DNG_VERSION in tags or number(tags.get(_NEW_SUBFILE_TYPE)) == 1:  # the first picture is only a preview
        raise PhotoError(f"{name} is a raw camera file; save it as a JPEG or TIFF picture and choose that.")
    if image.mode in {"F", "LAB", "HSV"}:
        raise PhotoError(
            f"{name} stores its colours in a way made for laboratories, not as red, green and blue; "
            "save it as a JPEG or PNG picture and choose that."
        )


_BAND_PX = 1 << 18


def _pixels(image: ImageFile.ImageFile) -> Pixels:
    """Decode, and convert band by band: faster than all at once, and no further copy of the whole is needed."""
    image.load()
    width, height = image.size
    pixels = np.empty((height, width, 3), np.uint8)
    rows = max(1, _BAND_PX // width)
    for top in range(0, height, rows):
        bottom = min(top + rows, height)
        pixels[top:bottom] = _rgb(image.crop((0, top, width, bottom)))
    return pixels


def _rgb(band: Image.Image) -> Pixels:
    """Any colour mode to 8-bit RGB, shape (h, w, 3); transparent parts become white."""
    if band.mode.startswith("I"):
        return _rgb_from_deep_grey(np.asarray(band))
    if band.has_transparency_data:
        white = Image.new("RGBA", band.size, "white")
        band = Image.alpha_composite(white, band.convert("RGBA"))
    return np.asarray(band.convert("RGB"))


def _rgb_from_deep_grey(levels: NDArray[np.integer]) -> Pixels:
    """Grey levels 0 to 65535, shape (h, w), to 8 bits by 65535 / 255 = 257, rounded; Pillow clips at 255."""
    if levels.min() < 0 or levels.max() > 0xFFFF:
        raise ValueError
    grey = (levels.astype(np.uint32) + 128) // 257
    return np.repeat(grey.astype(np.uint8)[:, :, np.newaxis], 3, axis=2)


# EXIF orientation (TIFF 6.0, tag 274): is the stored picture transposed, and which flip makes it upright?
# The flip is OpenCV's code: 1 left-right, 0 top-bottom, -1 both.
_TURNS: dict[object, tuple[bool, int | None]] = {
    2: (False, 1),
    3: (False, -1),
    4: (False, 0),
    5: (True, None),
    6: (True, 1),
    7: (True, -1),
    8: (True, 0),
}


def _upright(pixels: Pixels, orientation: object) -> Pixels:
    """Turn and mirror as the orientation tag says, reusing the array where the shape allows it.

    Values that the standard doesn't know count as upright.
    """
    transposed, flip = _TURNS.get(orientation, (False, None))
    if transposed:
        pixels = np.asarray(cv2.transpose(pixels), np.uint8)
    if flip is not None:
        cv2.flip(pixels, flip, dst=pixels)
    return pixels
