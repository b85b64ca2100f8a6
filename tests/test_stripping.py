"""What leaves a photo's file and what stays; read back by libraries that did not write it, and searched as bytes."""

import io
import struct
import zlib
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pillow_heif
import pytest
from PIL import ExifTags, Image, ImageCms

from measure.photo import PhotoError, read_photo
from measure.record.stripping import strip

KINDS = ["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "AVIF"]
KEPT_WHOLE = ["JPEG", "PNG", "WEBP", "HEIF", "AVIF"]
NAME = "Invented Owner"  # in every place that can hold words
CAMERA = {
    ExifTags.Base.DateTimeOriginal: "2026:03:29 01:59:58",
    ExifTags.Base.OffsetTimeOriginal: "-03:30",
    ExifTags.Base.FocalLength: 4.25,
    ExifTags.Base.FocalLengthIn35mmFilm: 26,
    ExifTags.Base.ExifImageWidth: 4032,
    ExifTags.Base.ExifImageHeight: 3024,
    ExifTags.Base.FocalPlaneXResolution: 18142.857,
    ExifTags.Base.FocalPlaneYResolution: 18142.857,
    ExifTags.Base.FocalPlaneResolutionUnit: 2,
}
PRIVATE = {
    ExifTags.Base.MakerNote: NAME.encode(),
    ExifTags.Base.UserComment: b"ASCII\0\0\0" + NAME.encode(),
    ExifTags.Base.CameraOwnerName: NAME,
    ExifTags.Base.BodySerialNumber: NAME,
    ExifTags.Base.LensSerialNumber: NAME,
    ExifTags.Base.LensModel: NAME,
    ExifTags.Base.ImageUniqueID: NAME,
    ExifTags.Base.SubsecTimeOriginal: "123",
}
OWNER = (
    ExifTags.Base.Make,
    ExifTags.Base.Model,
    ExifTags.Base.Artist,
    ExifTags.Base.Copyright,
    ExifTags.Base.ImageDescription,
    ExifTags.Base.Software,
    ExifTags.Base.HostComputer,
)
PLACE = {
    ExifTags.GPS.GPSLatitudeRef: "N",
    ExifTags.GPS.GPSLatitude: (52.0, 31.0, 12.0),
    ExifTags.GPS.GPSAreaInformation: b"ASCII\0\0\0" + NAME.encode(),
}
XMP = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><dc:creator>{NAME}</dc:creator></x:xmpmeta>'.encode()
SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def scene(width: int = 264, height: int = 216) -> np.ndarray:
    """Noise over a gradient: no turn, mirroring or new compression leaves it unchanged."""
    y, x = np.mgrid[0:height, 0:width]
    rgb = np.stack([x * 200 // width, y * 200 // height, np.full_like(x, 96)], axis=2)
    return (rgb + np.random.default_rng(7).integers(0, 24, rgb.shape)).astype(np.uint8)


def telling_exif(orientation: int) -> Image.Exif:
    """EXIF data that say who, where, when and with what."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    for tag in OWNER:
        exif[tag] = NAME
    exif.get_ifd(ExifTags.IFD.Exif).update(CAMERA | PRIVATE)
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(PLACE)
    exif[ExifTags.IFD.Exif] = exif[ExifTags.IFD.GPSInfo] = 0  # writing TIFF, Pillow asks only where a pointer is
    return exif


@cache
def telling(kind: str, orientation: int = 6) -> bytes:
    """Return a file in which everything that its kind can hold is told."""
    image, file, exif = Image.fromarray(scene()), io.BytesIO(), telling_exif(orientation)
    match kind:
        case "JPEG":
            image.save(file, kind, quality=90, exif=exif, xmp=XMP, comment=NAME, icc_profile=SRGB)
            data = file.getvalue()
            iptc = b"\xff\xed" + struct.pack(">H", len(NAME) + 2 + 14) + b"Photoshop 3.0\0" + NAME.encode()
            return data[:2] + iptc + data[2:] + b"\0\0\0\x18ftypmp42" + NAME.encode()
        case "PNG":
            image.save(file, kind, exif=exif, icc_profile=SRGB)
            data, text = file.getvalue(), b"tEXtAuthor\0" + NAME.encode()
            chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
            return data[:33] + chunk + data[33:] + NAME.encode()
        case "WEBP":
            image.save(file, kind, quality=90, exif=exif, xmp=XMP, icc_profile=SRGB)
        case "TIFF":
            image.save(file, kind, exif=exif, icc_profile=SRGB)
        case "HEIF":
            pillow_heif.from_pillow(image).save(file, quality=90, exif=exif.tobytes(), xmp=XMP, icc_profile=SRGB)
        case "AVIF":
            image.save(file, kind, quality=90, exif=exif, xmp=XMP, icc_profile=SRGB)
    return file.getvalue()


def opened(data: bytes) -> Image.Image:
    """Open a file as somebody else's program does."""
    if data[4:8] == b"ftyp" and data[8:12] != b"avif":
        return pillow_heif.open_heif(io.BytesIO(data)).to_pillow()
    return Image.open(io.BytesIO(data))


def assert_same_photo(data: bytes, stripped: bytes) -> None:
    before, after = read_photo(data), read_photo(stripped)
    assert np.array_equal(before.pixels, after.pixels)
    assert (before.taken_at, before.focal_px, before.camera_size) == (
        after.taken_at,
        after.focal_px,
        after.camera_size,
    )


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", KINDS)
def test_the_photo_stays_the_same(kind, orientation):
    data = telling(kind, orientation)
    stripped = strip(data)
    assert_same_photo(data, stripped.data)
    assert stripped.rewritten == (kind not in KEPT_WHOLE)


@pytest.mark.parametrize("kind", KINDS)
def test_no_word_of_anybody_stays(kind):
    data = telling(kind)
    assert NAME.encode() in data
    assert b"nvented" not in strip(data).data


@pytest.mark.parametrize("kind", KINDS)
def test_another_reader_finds_only_what_is_kept(kind):
    exif = opened(strip(telling(kind)).data).getexif()
    assert set(exif) <= {ExifTags.Base.Orientation, ExifTags.IFD.Exif}
    assert not exif.get_ifd(ExifTags.IFD.GPSInfo)
    assert dict(exif.get_ifd(ExifTags.IFD.Exif)) == pytest.approx(CAMERA)


@pytest.mark.parametrize("kind", KINDS)
def test_the_colour_profile_stays(kind):
    assert opened(strip(telling(kind)).data).info["icc_profile"] == SRGB


def test_the_compressed_picture_of_a_jpeg_is_copied():
    data = telling("JPEG")
    scan = data[data.index(b"\xff\xda") : data.index(b"\xff\xd9\0\0\0\x18ftyp") + 2]
    assert len(scan) > 10_000
    assert strip(data).data.endswith(scan)


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_stripped_stays_when_it_is_stripped_again(kind):
    once = strip(telling(kind)).data
    assert strip(once).data == once


def test_the_entry_names_both_files():
    data = telling("JPEG")
    stripped = strip(data, "heel.jpg")
    assert stripped.entry.source_sha256 == read_photo(data).sha256
    assert stripped.entry.sha256 == read_photo(stripped.data).sha256
    assert (stripped.entry.media_type, stripped.entry.width, stripped.entry.height) == ("image/jpeg", 216, 264)
    assert stripped.entry.taken_at == "2026-03-29T01:59:58-03:30"
    assert stripped.photo.taken_at.astimezone(UTC) == datetime(2026, 3, 29, 5, 29, 58, tzinfo=UTC)


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"\xff\xd8\xff\xe0", telling("JPEG")[:9000]])
def test_what_is_no_photo_has_the_sentence_of_any_reader(data):
    with pytest.raises(PhotoError, match=r"^heel.jpg ") as refused:
        strip(data, "heel.jpg")
    with pytest.raises(PhotoError) as read:
        read_photo(data, "heel.jpg")
    assert str(refused.value) == str(read.value)
