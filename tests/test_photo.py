"""Photo files of every kind, whole and broken; pictures are made here, truth is built with numpy alone."""

import hashlib
import io
import itertools
import re
import struct
import subprocess
import sys
import threading
import warnings
import zlib
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from calibration.errors import EbblineError
from measure import photo as photo_module
from measure.exif import focal_px
from measure.photo import MAX_MEGAPIXELS, MIN_SIDE_PX, Photo, PhotoError, read_photo

LOSSLESS = ["PNG", "TIFF", "WEBP"]
LOSSY = ["JPEG", "HEIF", "AVIF"]
STILL = [*LOSSLESS, *LOSSY]


def scene(width: int = 264, height: int = 216) -> np.ndarray:
    """Four corners of different colours over a gradient: no turn or mirroring leaves it unchanged."""
    y, x = np.mgrid[0:height, 0:width]
    rgb = np.stack([x * 255 // width, y * 255 // height, np.full_like(x, 96)], axis=2)
    rgb[:48, :48] = (250, 20, 20)
    rgb[:48, -48:] = (20, 250, 20)
    rgb[-48:, :48] = (20, 20, 250)
    return rgb.astype(np.uint8)


def noisy(width: int = 264, height: int = 216) -> np.ndarray:
    noise = np.random.default_rng(7).integers(-12, 13, (height, width, 1))
    return np.clip(scene(width, height).astype(int) + noise, 0, 255).astype(np.uint8)


def encoded(pixels: np.ndarray | Image.Image, kind: str, **options) -> bytes:
    """Return the picture as the bytes of a file, at a quality that leaves colours recognisable."""
    image = pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
    options = {"JPEG": {"quality": 95}, "WEBP": {"lossless": True}, "AVIF": {"quality": 95}}.get(kind, {}) | options
    file = io.BytesIO()
    if kind == "HEIF":
        exif = options.pop("exif", None)
        pillow_heif.from_pillow(image).save(file, quality=95, exif=exif and exif.tobytes(), **options)
    else:
        image.save(file, kind, **options)
    return file.getvalue()


@cache
def whole(kind: str) -> bytes:
    return encoded(noisy(), kind)


def exif_with(tags: dict | None = None, orientation: int | None = None) -> Image.Exif:
    exif = Image.Exif()
    if orientation is not None:
        exif[ExifTags.Base.Orientation] = orientation
    exif.get_ifd(ExifTags.IFD.Exif).update(tags or {})
    return exif


def photo_with(tags: dict, width: int = 400, height: int = 300) -> Photo:
    return read_photo(encoded(scene(width, height), "JPEG", exif=exif_with(tags)))


def header_png(width: int, height: int) -> bytes:
    """Make a PNG that claims a size and holds no pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    start = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return start + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


# What comes out ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", LOSSLESS)
def test_lossless_kinds_come_out_exactly(kind):
    assert np.array_equal(read_photo(encoded(noisy(), kind)).pixels, noisy())


@pytest.mark.parametrize("kind", LOSSY)
def test_lossy_kinds_come_out_nearly(kind):
    got = read_photo(encoded(scene(), kind)).pixels.astype(int)
    assert got.shape == scene().shape
    assert np.abs(got - scene()).mean() < 3


@pytest.mark.parametrize("kind", ["HEIF", "AVIF"])
def test_the_general_brand_of_its_family_is_recognised(kind):
    data = whole(kind)
    assert np.array_equal(read_photo(data[:8] + b"mif1" + data[12:]).pixels, read_photo(data).pixels)


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_jpeg_pixels_are_those_of_another_decoder(progressive, mode):
    data = encoded(Image.fromarray(noisy()).convert(mode), "JPEG", progressive=progressive)
    expected = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)[:, :, ::-1]
    assert np.abs(read_photo(data).pixels.astype(int) - expected).max() <= 2


def test_a_jpeg_that_stores_rgb_directly_keeps_its_colours():
    got = read_photo(encoded(scene(), "JPEG", keep_rgb=True)).pixels.astype(int)
    assert np.abs(got - scene()).mean() < 3


def test_photo_tells_size_fingerprint_and_name():
    data = encoded(scene(300, 220), "PNG")
    photo = read_photo(data, name="left heel")
    assert (photo.width, photo.height, photo.name) == (300, 220, "left heel")
    assert photo.pixels.dtype == np.uint8
    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    assert (photo.taken_at, photo.focal_px) == (None, None)


@pytest.mark.parametrize("kind", STILL)
def test_pixels_can_be_used_but_not_written(kind):
    pixels = read_photo(whole(kind)).pixels
    assert cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).shape == pixels.shape[:2]
    with pytest.raises(ValueError, match="read-only"):
        pixels[0, 0] = 0


def test_path_text_bytes_and_open_file_give_the_same(tmp_path):
    data, path = whole("PNG"), tmp_path / "foot.png"
    path.write_bytes(data)
    upload = io.BytesIO(data)
    upload.read()  # a page has shown it already
    with path.open("rb") as file:
        photos = [read_photo(source) for source in (path, str(path), data, upload, file)]
    assert len({photo.sha256 for photo in photos}) == 1
    assert [photo.name for photo in photos] == [str(path), str(path), "photo", "photo", str(path)]


def test_only_time_focal_length_and_size_leave_the_exif_data():
    assert set(Photo.__dataclass_fields__) == {"name", "pixels", "sha256", "taken_at", "focal_px", "camera_size"}


# Orientation of TIFF 6.0 / EXIF, tag 274 (from memory): which side of the upright scene the stored row 0 and
# column 0 show. An upright array a is thus stored by a camera that writes the value k as STORED[k](a).

STORED = {
    1: lambda a: a,  # row 0 is the top, column 0 the left side
    2: lambda a: a[:, ::-1],  # top, right
    3: lambda a: a[::-1, ::-1],  # bottom, right
    4: lambda a: a[::-1],  # bottom, left
    5: lambda a: a.transpose(1, 0, 2),  # left, top
    6: lambda a: a[:, ::-1].transpose(1, 0, 2),  # right, top
    7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),  # right, bottom
    8: lambda a: a[::-1].transpose(1, 0, 2),  # left, bottom
}


@pytest.mark.parametrize("orientation", STORED)
@pytest.mark.parametrize("kind", STILL)
def test_every_orientation_comes_out_upright_once(kind, orientation):
    stored = np.ascontiguousarray(STORED[orientation](scene()))
    got = read_photo(encoded(stored, kind, exif=exif_with(orientation=orientation))).pixels
    assert got.shape == scene().shape
    assert np.abs(got.astype(int) - scene()).mean() < (3 if kind in LOSSY else 0.001)


@pytest.mark.parametrize("compression", ["raw", "tiff_lzw", "jpeg"])
def test_compressed_tiff_is_turned_once(compression):
    stored = np.ascontiguousarray(STORED[6](scene()))
    data = encoded(stored, "TIFF", compression=compression, exif=exif_with(orientation=6))
    assert np.abs(read_photo(data).pixels.astype(int) - scene()).mean() < 3


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_an_orientation_outside_the_standard_is_ignored(value):
    got = read_photo(encoded(scene(), "PNG", exif=exif_with(orientation=value)))
    assert np.array_equal(got.pixels, scene())


# Colour modes -----------------------------------------------------------------------------------


def test_cmyk_jpeg_becomes_rgb():
    ink = np.zeros((220, 220, 4), np.uint8)
    ink[:110] = (200, 50, 10, 30)
    got = read_photo(encoded(Image.frombytes("CMYK", (220, 220), ink.tobytes()), "JPEG")).pixels[[20, 200], 20]
    paper = (255 - np.array([200, 50, 10])) * (255 - 30) / 255  # ink covers what is left of the light, from memory
    assert got == pytest.approx(np.array([paper, [255, 255, 255]]), abs=3)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
@pytest.mark.parametrize("byte_order", ["<u2", ">u2"])
def test_deep_grey_is_scaled_by_257_and_rounded(kind, byte_order):
    levels = np.linspace(0, 65535, 300 * 220).round().astype(byte_order).reshape(220, 300)
    got = read_photo(encoded(Image.fromarray(levels), kind)).pixels
    assert np.array_equal(got, np.repeat(np.rint(levels / 257)[:, :, None], 3, axis=2))


def test_32_bit_grey_counts_as_16_bit():
    levels = np.linspace(0, 65535, 220 * 220).astype(np.int32).reshape(220, 220)
    got = read_photo(encoded(Image.fromarray(levels), "TIFF")).pixels[:, :, 0]
    assert np.array_equal(got, np.rint(levels / 257))


@pytest.mark.parametrize("suffix", [".png", ".tiff"])
def test_deep_colour_is_read_within_one_level(suffix):
    deep = np.random.default_rng(3).integers(0, 65536, (220, 300, 3)).astype(np.uint16)
    data = cv2.imencode(suffix, deep[:, :, ::-1])[1].tobytes()
    assert np.abs(read_photo(data).pixels - deep / 257).max() <= 1


@pytest.mark.parametrize("mode", ["1", "L", "P"])
def test_few_colours_come_out_as_rgb(mode):
    image = Image.fromarray(scene()).convert(mode)
    assert np.array_equal(read_photo(encoded(image, "PNG")).pixels, np.asarray(image.convert("RGB")))


@pytest.mark.parametrize("mode", ["LA", "RGBA"])
def test_transparent_parts_become_white(mode):
    image = Image.new("RGBA", (220, 220), (0, 0, 0, 0)).convert(mode)
    image.paste(Image.new("RGBA", (220, 110), (60, 60, 60, 128)).convert(mode))
    got = read_photo(encoded(image, "PNG")).pixels[[20, 200], 20]
    assert got == pytest.approx(np.array([[157] * 3, [255] * 3]), abs=1)  # 60 + (255 - 60) * 127 / 255


@pytest.mark.parametrize("mode", ["P", "RGB", "L"])
def test_a_transparent_colour_becomes_white(mode):
    image = Image.new(mode, (220, 220), 0)
    image.paste(1 if mode == "P" else Image.new(mode, (220, 110), "gray"), (0, 0, 220, 110))
    data = encoded(image, "PNG", transparency=(0, 0, 0) if mode == "RGB" else 0)
    assert read_photo(data).pixels[200, 20].tolist() == [255, 255, 255]
    assert read_photo(data).pixels[20, 20].tolist() != [255, 255, 255]


# EXIF -------------------------------------------------------------------------------------------


def test_a_known_offset_gives_an_instant():
    tags = {0x9003: "2026:03:29 01:59:58", 0x9011: "-03:30"}
    zone = timezone(timedelta(hours=-3, minutes=-30))
    assert photo_with(tags).taken_at == datetime(2026, 3, 29, 1, 59, 58, tzinfo=zone)


@pytest.mark.parametrize("offset", [{}, {0x9011: "   :  "}, {0x9011: "summer"}])
def test_without_an_offset_the_time_stays_naive(offset):
    taken_at = photo_with({0x9003: "2026:03:29 01:59:58"} | offset).taken_at
    assert taken_at == datetime(2026, 3, 29, 1, 59, 58)  # noqa: DTZ001 - that is the point


@pytest.mark.parametrize("text", ["", "    :  :     :  :  ", "2026:13:40 25:00:00", "yesterday"])
def test_nonsense_times_are_unknown(text):
    assert photo_with({0x9003: text, 0x9011: "+01:00"}).taken_at is None


def test_the_time_of_the_last_change_is_no_capture_time():
    exif = Image.Exif()
    exif[ExifTags.Base.DateTime] = "2026:03:29 01:59:58"
    assert read_photo(encoded(scene(), "JPEG", exif=exif)).taken_at is None


@pytest.mark.parametrize("kind", STILL)
def test_time_and_focal_length_come_from_every_kind(kind):
    tags = {0x9003: "2026:03:29 01:59:58", 0x9011: "+00:00", 0xA405: 26}
    exif = exif_with(tags, orientation=6)
    exif[ExifTags.Base.Software] = "a camera"  # writing AVIF, Pillow drops a directory that stands alone
    if kind == "TIFF":
        exif[ExifTags.IFD.Exif] = 0  # writing TIFF, it asks for the directory only if a pointer is there
    photo = read_photo(encoded(scene(400, 300), kind, exif=exif))
    assert photo.taken_at == datetime(2026, 3, 29, 1, 59, 58, tzinfo=UTC)
    assert photo.focal_px == pytest.approx(26 * 500 / 43.27, rel=1e-4)


def test_equivalent_focal_length_compares_diagonals():
    # EXIF tag 0xA405 (CIPA DC-008, from memory): same diagonal angle of view as on 36 x 24 mm film. A 4:3 picture
    # of 400 x 300 px has 500 px, the film 43.27 mm; its diagonal angle at 26 mm is 2 atan(43.27 / 52) = 79.5 deg.
    focal_px = photo_with({0xA405: 26}).focal_px
    assert np.degrees(2 * np.arctan(250 / focal_px)) == pytest.approx(79.5, abs=0.05)


SENSOR = {0x920A: 4.25, 0xA20E: 18142.857, 0xA210: 2, 0xA002: 4032, 0xA003: 3024}  # 1.4 um pixels, 12 megapixels
FOCAL_PX = 4.25 / 0.0014 * 400 / 4032  # of the same picture at 400 x 300 px


@pytest.mark.parametrize(
    ("change", "factor"),
    [
        ({}, 1),
        ({0xA20E: 714.28571, 0xA210: 4}, 1),
        ({0xA20E: 7142.8571, 0xA210: 3}, 1),
        ({0xA002: 3024, 0xA003: 4032}, 1),
        ({0xA405: 0}, 1),
        ({0xA405: 65535}, 1),
        ({0xA002: 400, 0xA003: 300, 0xA20E: 1814.2857}, 4032 / 4000),
    ],
    ids=["inches", "mm", "cm", "turned", "equivalent unknown", "equivalent nonsense", "not resized"],
)
def test_focal_length_from_the_sensor(change, factor):
    assert photo_with(SENSOR | change).focal_px == pytest.approx(FOCAL_PX * factor, rel=1e-3)


def test_focal_length_from_the_sensor_without_a_noted_size():
    tags = {tag: value for tag, value in SENSOR.items() if tag not in {0xA002, 0xA003}} | {0xA20E: 1800.0}
    assert photo_with(tags).focal_px == pytest.approx(4.25 * 1800 / 25.4, rel=1e-6)


@pytest.mark.parametrize(
    "tags",
    [{}, {0xA405: 0}, {0xA405: 7}, {0xA405: 401}, {0x920A: 4.25}, SENSOR | {0x920A: 0}, SENSOR | {0x920A: 4250.0}],
)
def test_implausible_focal_lengths_are_unknown(tags):
    assert photo_with(tags).focal_px is None


@pytest.mark.parametrize("value", ["wide", b"26", (26, 27), (), None, float("nan"), float("inf"), -26])
def test_anything_else_in_a_number_tag_is_unknown(value):
    assert focal_px({0xA405: value}, 400, 300) is None or value == b"26"


@pytest.mark.parametrize(
    "exif",
    [b"Exif\0\0", b"Exif\0\0garbage", b"Exif\0\0II*\0\xff\xff\xff\xff", b"Exif\0\0II*\0\x08\0\0\0\xff\xff"],
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_broken_exif_does_not_stop_the_photo(kind, exif):
    assert read_photo(encoded(scene(), kind, exif=exif)).pixels.shape == scene().shape


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_mutated_exif_does_not_stop_the_photo(data):
    exif = bytearray(exif_with(SENSOR | {0x9003: "2026:03:29 01:59:58"}, orientation=1).tobytes())
    for _ in range(data.draw(st.integers(1, 4))):
        exif[data.draw(st.integers(6, len(exif) - 1))] = data.draw(st.integers(0, 255))
    pixels = read_photo(encoded(scene(), "JPEG", exif=bytes(exif))).pixels
    assert sorted(pixels.shape) == sorted(scene().shape)


# Several pictures -------------------------------------------------------------------------------


def test_a_phone_photo_with_several_pictures_gives_its_first():
    second = Image.fromarray(scene()[::-1])
    data = encoded(scene(), "MPO", save_all=True, append_images=[second], quality=95)
    assert np.abs(read_photo(data).pixels.astype(int) - scene()).mean() < 3
    broken = data.replace(b"MPF\0", b"MPF\0\xff\xff\xff\xff", 1)
    assert np.abs(read_photo(broken).pixels.astype(int) - scene()).mean() < 3


def test_heic_with_several_pictures_gives_the_main_one():
    heif = pillow_heif.from_pillow(Image.fromarray(scene()[::-1].copy()))
    heif.add_from_pillow(Image.fromarray(scene()))
    file = io.BytesIO()
    heif.save(file, quality=95, primary_index=1)
    assert np.abs(read_photo(file.getvalue()).pixels.astype(int) - scene()).mean() < 3


@pytest.mark.parametrize("kind", ["GIF", "WEBP", "PNG", "TIFF", "AVIF"])
def test_animations_and_pages_are_refused_with_their_number(kind):
    others = [Image.fromarray(np.roll(scene(), 30 * i, axis=1)) for i in (1, 2)]
    data = encoded(scene(), kind, save_all=True, append_images=others)
    with pytest.raises(PhotoError, match=r"^walk holds 3 pictures where one is expected; save the one"):
        read_photo(data, name="walk")


def test_a_gif_that_stands_still_is_read():
    assert read_photo(encoded(Image.new("RGB", (220, 220), "red"), "GIF")).pixels[9, 9].tolist() == [255, 0, 0]


@pytest.mark.parametrize("words", [b"Exif", b"mime", b"application/rdf+xml"])
def test_words_in_heic_that_are_no_text_end_nothing(words):
    file = io.BytesIO()
    exif = exif_with(orientation=1).tobytes()
    pillow_heif.from_pillow(Image.fromarray(scene())).save(file, exif=exif, xmp=b"<x:xmpmeta/>")
    assert words in file.getvalue()
    broken = file.getvalue().replace(words, b"\xdd" + words[1:], 1)
    with pytest.raises(PhotoError, match=r"^heel.heic starts like a HEIC photo but can't be read to its end"):
        read_photo(broken, name="heel.heic")


# Files that are no photo ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["missing.jpg", "a.jpg/b.jpg", "zero\0byte.jpg"])
def test_a_missing_file(tmp_path, name):
    (tmp_path / "a.jpg").write_bytes(b"x")
    with pytest.raises(PhotoError, match=r"\.jpg does not exist; check how the file's name"):
        read_photo(tmp_path / name)


def test_a_folder(tmp_path):
    with pytest.raises(PhotoError, match="is a folder, not a photo; name the photo file inside it"):
        read_photo(tmp_path)


@pytest.mark.parametrize(
    ("error", "sentence"),
    [(PermissionError, "may not be opened by you; ask its owner"), (OSError, "can't be read from where it is stored")],
)
def test_a_file_that_can_not_be_opened(monkeypatch, error, sentence):
    def refuse(*_):
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(PhotoError, match=r"^photos/heel.jpg " + sentence):
        read_photo("photos/heel.jpg")


def test_an_empty_file():
    with pytest.raises(PhotoError, match=r"^heel.jpg is empty \(0 bytes\); copy or send"):
        read_photo(b"", name="heel.jpg")


def test_a_file_far_too_long(monkeypatch):
    monkeypatch.setattr(photo_module, "MAX_FILE_MB", 1)
    with pytest.raises(PhotoError, match=r"^film.jpg has more than 1 MB, too much for one photo"):
        read_photo(io.BytesIO(bytes(1_000_001)), name="film.jpg")


NO_PHOTOS = {
    "a PDF document": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
    "a text file": "Größe der Wunde: 4 cm".encode(),
    "a video": b"\0\0\0\x20ftypisom\0\0\2\0isomiso2mp41",
    "a ZIP archive or an Office document": b"PK\x03\x04\x14\0\x06\0",
    "a DICOM file": bytes(128) + b"DICM\2\0\0\0",
    "a raw camera file": b"II*\0\x10\0\0\0CR\2\0",
    "a file of an unknown kind": b"\x07\x00\x01" * 50,
}


@pytest.mark.parametrize("noun", NO_PHOTOS)
def test_a_file_that_is_something_else(noun):
    with pytest.raises(PhotoError, match=f"^heel.jpg is {noun}, not a photo that can be read here; choose the photo"):
        read_photo(NO_PHOTOS[noun], name="heel.jpg")


@pytest.mark.parametrize("tags", [{0xC612: b"\1\4\0\0"}, {254: 1}], ids=["DNG", "preview first"])
def test_a_raw_file_is_not_mistaken_for_its_preview(tags):
    with pytest.raises(PhotoError, match=r"^heel.dng is a raw camera file; save it as a JPEG"):
        read_photo(encoded(scene(), "TIFF", tiffinfo=tags), name="heel.dng")


def test_fractional_brightness_is_refused():
    data = encoded(Image.fromarray(np.ones((220, 220), np.float32)), "TIFF")
    with pytest.raises(PhotoError, match=r"^lab.tif stores its colours in a way made for laboratories"):
        read_photo(data, name="lab.tif")


# Sizes ------------------------------------------------------------------------------------------


def test_too_many_megapixels_are_refused_from_the_header():
    with pytest.raises(PhotoError, match=r"^huge.png has 400 megapixels, and at most 130 can be read; save a smaller"):
        read_photo(header_png(20000, 20000), name="huge.png")


def test_too_many_megapixels_in_webp():
    canvas = (16000 - 1).to_bytes(3, "little") * 2
    body = b"WEBPVP8X" + struct.pack("<II", 10, 0) + canvas + whole("WEBP")[12:]
    # Pillow knows the size before it reserves memory since version 13; older ones stop at the missing pixels.
    sentence = r"^huge.webp (has more than 130 megapixels, and at most 130 can be read|starts like a WebP picture)"
    with pytest.raises(PhotoError, match=sentence):
        read_photo(b"RIFF" + struct.pack("<I", len(body)) + body, name="huge.webp")


def test_the_limits_themselves():
    with pytest.raises(PhotoError, match=r"^a has 131 megapixels, and at most 130"):
        read_photo(header_png(13000, MAX_MEGAPIXELS * 1_000_000 // 13000 + 1), name="a")
    with pytest.raises(PhotoError, match="damaged"):
        read_photo(header_png(13000, MAX_MEGAPIXELS * 1_000_000 // 13000))  # accepted, then there are no pixels
    assert read_photo(encoded(scene(MIN_SIDE_PX, 300), "PNG")).width == MIN_SIDE_PX


@pytest.mark.parametrize("size", [(MIN_SIDE_PX - 1, 300), (300, MIN_SIDE_PX - 1)])
def test_too_few_pixels(size):
    with pytest.raises(PhotoError, match=rf"^icon.png has only {size[0]} x {size[1]} pixels, and at least 200 a side"):
        read_photo(encoded(scene(*size), "PNG"), name="icon.png")


@pytest.mark.parametrize("kind", STILL)
def test_big_photos_bring_no_warning_and_leave_the_limit_alone(monkeypatch, kind):
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 40_000)  # the scene has 57 024: Pillow would warn
    filters = list(warnings.filters)
    read_photo(whole(kind))
    assert Image.MAX_IMAGE_PIXELS == 40_000
    assert warnings.filters == filters


def test_a_full_memory_has_its_sentence(monkeypatch):
    def refuse(*_):
        raise MemoryError

    monkeypatch.setattr(photo_module, "_pixels", refuse)
    with pytest.raises(PhotoError, match=r"^big.jpg needs more memory than this computer has free; close other"):
        read_photo(whole("JPEG"), name="big.jpg")


@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak memory from /proc")
def test_memory_and_imports_of_a_cold_start(tmp_path):
    (tmp_path / "bomb.png").write_bytes(header_png(20000, 20000))
    image = Image.fromarray(cv2.resize(scene(), (4000, 3000)))
    image.save(tmp_path / "photo.jpg", exif=exif_with(orientation=6))
    image.save(tmp_path / "photo.png", compress_level=1)
    script = """
import re, sys
from pathlib import Path
from measure.photo import read_photo, PhotoError
def peak_mb():
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
peaks = [peak_mb()]
for name in ("bomb.png", "photo.jpg", "photo.png"):
    try:
        read_photo(name)
    except PhotoError:
        pass
    peaks.append(peak_mb())
print(*peaks, "pi_heif" in sys.modules)
"""
    here = {"PYTHONPATH": str(Path(__file__).parents[1])}
    run = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, env=here, capture_output=True, check=True)
    *peaks, pi_heif = run.stdout.decode().split()
    start, bomb, jpeg, png = map(float, peaks)
    assert bomb - start < 10
    assert jpeg - start < 120  # 36 MB are the pixels
    assert png - start < 150
    assert pi_heif == "False"


# Damage -----------------------------------------------------------------------------------------

DAMAGED = "can't be read to its end, so it is damaged or was not copied completely; copy or send it again"


@pytest.mark.parametrize("kind", STILL)
@pytest.mark.parametrize("part", [0.1, 0.5, 0.9, 0.98])
def test_a_file_cut_short(kind, part):
    data = whole(kind)
    with pytest.raises(PhotoError, match=r"^heel starts like .* but " + DAMAGED):
        read_photo(data[: int(len(data) * part)], name="heel")


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("lost", [1, 2, 3, 10, 100, 1000])
def test_a_jpeg_that_lost_its_end(progressive, lost):
    data = encoded(noisy(), "JPEG", progressive=progressive)
    with pytest.raises(PhotoError, match=DAMAGED):
        read_photo(data[:-lost])


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])  # the others carry nothing by which to tell
@pytest.mark.parametrize("filler", [b"\0", b"\xff"])
def test_a_file_whose_rest_was_never_written(kind, filler):
    data = whole(kind)
    with pytest.raises(PhotoError, match=DAMAGED):
        read_photo(data[: len(data) // 2].ljust(len(data), filler))


def test_the_end_of_a_thumbnail_is_not_the_end_of_the_photo():
    exif = exif_with({0x927C: encoded(scene(160, 120), "JPEG")})
    data = encoded(noisy(), "JPEG", exif=exif)
    assert read_photo(data).width == 264
    with pytest.raises(PhotoError, match=DAMAGED):
        read_photo(data[:-500])


def test_what_follows_the_end_of_a_jpeg_is_ignored():
    assert read_photo(whole("JPEG") + b"a short film").width == 264


@pytest.mark.parametrize("kind", STILL)
def test_a_file_without_its_last_bytes_is_refused_or_complete(kind):
    expected, data = read_photo(whole(kind)).pixels, whole(kind)
    for lost in itertools.chain(range(1, 40, 3), range(40, 400, 60)):
        try:
            got = read_photo(data[:-lost]).pixels
        except PhotoError:
            continue
        assert np.array_equal(got, expected)


# Random content ---------------------------------------------------------------------------------


def read_or_refuse(data: bytes) -> None:
    """Fail on anything but a photo or one sentence."""
    sentence = "upload is read."
    try:
        assert read_photo(data, name="upload").pixels.ndim == 3
    except PhotoError as error:
        sentence = str(error)
    assert re.fullmatch(r"upload (.+)\.", sentence)


@settings(max_examples=100, deadline=None)
@given(st.binary(min_size=1, max_size=300))
def test_random_bytes(data):
    read_or_refuse(data)


@pytest.mark.parametrize("kind", [*STILL, "GIF"])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_random_bytes_behind_a_true_start(kind, data):
    start = whole(kind)[: data.draw(st.integers(12, 200))]
    read_or_refuse(start + data.draw(st.binary(max_size=300)))


@pytest.mark.parametrize("kind", [*STILL, "GIF"])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_mutated_files(kind, data):
    mutated = bytearray(whole(kind))
    reach = data.draw(st.sampled_from([64, 700, len(mutated)]))
    for _ in range(data.draw(st.integers(1, 5))):
        mutated[data.draw(st.integers(0, min(reach, len(mutated)) - 1))] = data.draw(st.integers(0, 255))
    read_or_refuse(bytes(mutated))


def test_errors_belong_to_the_tree():
    assert issubclass(PhotoError, EbblineError)


def test_many_threads_read_at_once():
    filters, widths = list(warnings.filters), []
    jobs = [
        threading.Thread(target=lambda kind=kind: widths.append(read_photo(whole(kind)).width)) for kind in STILL * 3
    ]
    for job in jobs:
        job.start()
    for job in jobs:
        job.join()
    assert widths == [264] * len(jobs)
    assert warnings.filters == filters


WIDTH, HEIGHT = ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight


@pytest.mark.parametrize("noted", [(400, 300), (300, 400), (400, 304)])
def test_a_photo_of_the_noted_size_is_as_taken(noted):
    """Either way round, for a camera may turn the pixels itself, and filled up to blocks of 16 px."""
    photo = photo_with({WIDTH: noted[0], HEIGHT: noted[1]})
    assert photo.camera_size == (max(noted), min(noted))
    assert not photo.resized


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turning_a_photo_upright_does_not_count_as_resizing(orientation):
    stored = encoded(scene(400, 300), "JPEG", exif=exif_with({WIDTH: 400, HEIGHT: 300}, orientation))
    assert not read_photo(stored).resized


@pytest.mark.parametrize("noted", [(4000, 3000), (410, 300), (400, 400)])
def test_a_photo_cut_or_reduced_afterwards_is_known_by_the_noted_size(noted):
    assert photo_with({WIDTH: noted[0], HEIGHT: noted[1]}).resized


@pytest.mark.parametrize("tags", [{}, {WIDTH: 4000}, {WIDTH: 0, HEIGHT: 0}])
def test_without_a_noted_size_nothing_is_claimed(tags):
    photo = photo_with(tags)
    assert photo.camera_size is None
    assert not photo.resized
