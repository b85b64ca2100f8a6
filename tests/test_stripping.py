"""What leaves a photo's file and what stays; read back by libraries that did not write it, and searched as bytes."""

import io
import struct
import zlib
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageCms
from PIL.TiffImagePlugin import IFDRational

from measure.photo import PhotoError, read_photo
from measure.record.boxes import Box
from measure.record.heif import stripped_heif
from measure.record.items import Item, Items, Reference, read_items, written
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


def sentence_of(reader, data: bytes) -> str:
    """Return why a file is refused; empty if it isn't."""
    try:
        reader(data)
    except PhotoError as error:
        return str(error)
    return ""


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
    with pytest.raises(PhotoError, match=r"^heel.jpg "):
        strip(data, "heel.jpg")
    assert sentence_of(strip, data) == sentence_of(read_photo, data)


# Files built in other ways


def written_jpeg(image: np.ndarray | Image.Image = None, **options) -> bytes:
    file = io.BytesIO()
    image = scene() if image is None else image
    (Image.fromarray(image) if isinstance(image, np.ndarray) else image).save(file, "JPEG", **options)
    return file.getvalue()


@pytest.mark.parametrize(
    "options",
    [
        {"progressive": True},
        {"restart_marker_rows": 2},
        {"keep_rgb": True},
        {"subsampling": 0, "optimize": True},
        {"exif": b"Exif\0\0II*\0\xff\xff\xff\xff"},
        {"exif": b"Exif\0\0"},
    ],
    ids=["progressive", "restarts", "rgb", "full colour", "broken EXIF", "empty EXIF"],
)
def test_every_jpeg_keeps_its_picture(options):
    data = written_jpeg(**options)
    stripped = strip(data)
    assert_same_photo(data, stripped.data)
    assert not stripped.rewritten


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_jpegs_of_other_colours_keep_them(mode):
    data = written_jpeg(Image.fromarray(scene()).convert(mode))
    stripped = strip(data)
    assert_same_photo(data, stripped.data)
    assert Image.open(io.BytesIO(stripped.data)).mode == mode


def test_second_pictures_go():
    file = io.BytesIO()
    second = Image.fromarray(scene()[::-1].copy())
    Image.fromarray(scene()).save(file, "MPO", save_all=True, append_images=[second], quality=90)
    stripped = strip(file.getvalue())
    assert_same_photo(file.getvalue(), stripped.data)
    assert stripped.data.count(b"\xff\xd8\xff") == 1
    assert b"MPF" not in stripped.data
    assert stripped.data.endswith(b"\xff\xd9")


def test_thumbnails_go():
    data = written_jpeg()
    assert data[2:11] == b"\xff\xe0\0\x10JFIF\0"
    thumbnail = bytes((7, 1)) + NAME.encode() + bytes(7)  # 7 x 1 px of RGB
    told = data[:4] + struct.pack(">H", 16 + 21) + data[6:18] + thumbnail + data[20:]
    assert NAME.encode() in told
    assert_same_photo(told, strip(told).data)
    assert NAME.encode() not in strip(told).data


def test_what_lies_between_segments_goes():
    data = written_jpeg()
    told = data[:20] + NAME.encode() + b"\0\xff\xff\xff" + data[21:]
    assert_same_photo(told, strip(told).data)
    assert NAME.encode() not in strip(told).data


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_every_png_keeps_its_picture(mode):
    if mode == "I;16":
        image = Image.fromarray(scene()[:, :, 0].astype(np.uint16) * 257)
    else:
        image = Image.fromarray(np.dstack([scene(), scene()[:, :, :1]])).convert(mode)
    file = io.BytesIO()
    image.save(file, "PNG", exif=telling_exif(3))
    stripped = strip(file.getvalue())
    assert_same_photo(file.getvalue(), stripped.data)
    assert not stripped.rewritten


@pytest.mark.parametrize("options", [{"lossless": True}, {"lossless": False}, {"lossless": True, "exif": b""}])
@pytest.mark.parametrize("channels", [3, 4])
def test_every_webp_keeps_its_picture(options, channels):
    file = io.BytesIO()
    pixels = np.dstack([scene(211, 203), scene(211, 203)])[:, :, :channels]
    Image.fromarray(pixels).save(file, "WEBP", **{"exif": telling_exif(7)} | options)
    stripped = strip(file.getvalue())
    assert_same_photo(file.getvalue(), stripped.data)
    assert not stripped.rewritten


@pytest.mark.parametrize("kind", ["AVIF", "HEIF"])
def test_transparency_stays(kind):
    file, pixels = io.BytesIO(), np.dstack([scene(), scene()[:, :, :1]])
    if kind == "AVIF":
        Image.fromarray(pixels).save(file, kind, quality=90, exif=telling_exif(5))
    else:
        pillow_heif.from_pillow(Image.fromarray(pixels)).save(file, quality=90, exif=telling_exif(5).tobytes())
    opaque = strip(telling(kind, 5)).photo.pixels
    stripped = strip(file.getvalue())
    assert_same_photo(file.getvalue(), stripped.data)
    assert not stripped.rewritten
    assert np.abs(stripped.photo.pixels.astype(int) - opaque).mean() > 50


@pytest.mark.parametrize("profile", [SRGB, SRGB[:16] + b"GRAY" + SRGB[20:]], ids=["rgb", "grey"])
def test_a_picture_written_anew_keeps_a_profile_that_fits(profile):
    file = io.BytesIO()
    Image.fromarray(scene()).save(file, "TIFF", icc_profile=profile)
    stripped = strip(file.getvalue())
    assert (stripped.rewritten, stripped.media_type) == (True, "image/png")
    assert opened(stripped.data).info.get("icc_profile") == (SRGB if profile == SRGB else None)


@pytest.mark.parametrize("kind", ["GIF", "WEBP", "TIFF"])
def test_what_can_not_be_copied_is_written_anew_without_loss(kind):
    file, image = io.BytesIO(), Image.fromarray(scene())
    if kind == "TIFF":
        image = Image.fromarray(scene()[:, :, 0].astype(np.uint16) * 250)
    comment = {"comment": NAME} if kind == "GIF" else {"tiffinfo": {315: NAME}} if kind == "TIFF" else {}
    image.save(file, kind, **comment)
    data = file.getvalue()
    if kind == "WEBP":  # one frame of an animation, after its header
        header = b"VP8X" + struct.pack("<II", 10, 2) + (263).to_bytes(3, "little") + (215).to_bytes(3, "little")
        frame = bytes(6) + header[-6:] + bytes(3) + b"\0" + data[12:]
        frames = b"ANIM" + struct.pack("<IIH", 6, 0, 0) + b"ANMF" + struct.pack("<I", len(frame)) + frame
        data = b"RIFF" + struct.pack("<I", len(frames) + 22) + b"WEBP" + header + frames
    stripped = strip(data)
    assert_same_photo(data, stripped.data)
    assert (stripped.rewritten, stripped.media_type) == (True, "image/png")
    assert NAME.encode() not in stripped.data


# The items of HEIC files, put together here as telephones do


@cache
def tile(number: int) -> bytes:
    file = io.BytesIO()
    pixels = np.ascontiguousarray(np.roll(scene(256, 256), 40 * number, axis=1) // 8 * 8)
    pillow_heif.from_pillow(Image.fromarray(pixels)).save(file, quality=90)
    return file.getvalue()


def telephone_heic() -> bytes:
    """Two tiles in a grid that is turned, with a preview, a depth map, words, and a picture beside it."""
    parts = [read_items(tile(number)) for number in range(3)]
    left, right, third = (part.items[part.main] for part in parts)
    size = Box(b"ispe", struct.pack(">III", 0, 512, 256))
    grid = Item(b"grid", struct.pack(">BBBBHH", 0, 0, 0, 1, 512, 256), ((size, False), (TURN, True)), in_meta=True)
    depth = Box(b"auxC", bytes(4) + b"urn:mpeg:hevc:2015:auxid:2\0")
    items = {
        3: left,
        4: right,
        9: grid,
        20: third,
        21: third._replace(properties=(*third.properties, (depth, True))),
        22: Item(b"mime", b"\0" + XMP),
        23: third,
        24: Item(b"Exif", b"\0\0\0\6" + telling_exif(6).tobytes(), hidden=True),
    }
    references = (
        Reference(b"dimg", 9, (4, 3)),
        Reference(b"thmb", 20, (9,)),
        Reference(b"auxl", 21, (9,)),
        Reference(b"cdsc", 22, (9,)),
        Reference(b"cdsc", 24, (9,)),
    )
    return written(Items(parts[0].brands, 9, items, references))


TURN = Box(b"irot", b"\3")


def test_a_telephones_heic_is_read_as_it_was_put_together():
    tiles = [read_photo(tile(number)).pixels for number in (1, 0)]
    assert np.array_equal(read_photo(telephone_heic()).pixels, np.rot90(np.hstack(tiles), 3))


def test_tiles_stay_and_everything_beside_the_picture_goes():
    data = telephone_heic()
    stripped = strip(data)
    assert_same_photo(data, stripped.data)
    assert not stripped.rewritten
    found = read_items(stripped.data)
    assert [item.kind for item in found.items.values()] == [b"hvc1", b"hvc1", b"grid", b"Exif"]
    assert sorted(reference.kind for reference in found.references) == [b"cdsc", b"dimg"]
    assert NAME.encode() not in stripped.data
    assert stripped.photo.camera_size == (4032, 3024)


def test_a_property_that_must_be_understood_and_is_not_known_is_not_dropped():
    found = read_items(tile(0))
    main = found.items[found.main]
    odd = main._replace(properties=(*main.properties, (Box(b"odd!", b"?"), True)))
    with pytest.raises(ValueError, match="hvc1"):
        stripped_heif(written(Items(found.brands, found.main, {found.main: odd}, ())), b"")


# Broken and hostile files


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_file_is_refused_or_stripped(data):
    kind = data.draw(st.sampled_from(KINDS))
    file = bytearray(telling(kind))
    head = data.draw(st.sampled_from([64, 1200, len(file)]))
    for _ in range(data.draw(st.integers(1, 4))):
        file[data.draw(st.integers(0, min(head, len(file)) - 1))] = data.draw(st.integers(0, 255))
    if refused := sentence_of(read_photo, bytes(file)):
        assert sentence_of(strip, bytes(file)) == refused
        return
    stripped = strip(bytes(file))
    assert_same_photo(bytes(file), stripped.data)
    assert NAME.encode() not in stripped.data


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_whatever_the_camera_wrote_the_photo_stays_the_same(data):
    tag = st.sampled_from([*CAMERA, ExifTags.Base.Orientation])
    value = st.one_of(
        st.integers(0, 2**32 - 1),
        st.floats(allow_nan=False, width=32),
        st.sampled_from(["", "26", "wide", "2026:03:29 01:59:58", "0026:03:29 01:59:58", "+01:00", "Z", "-00:30:15"]),
        st.builds(IFDRational, st.integers(0, 2**32 - 1), st.integers(0, 2**32 - 1)),
        st.tuples(st.integers(0, 9), st.integers(0, 9)),
    )
    tags = CAMERA | data.draw(st.dictionaries(tag, value, max_size=6))
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = data.draw(st.integers(0, 9))
    exif.get_ifd(ExifTags.IFD.Exif).update(tags)
    try:
        file = written_jpeg(scene(210, 200), exif=exif)
    except (ValueError, TypeError, OverflowError, struct.error):  # no camera could write that either
        return
    stripped = strip(file)
    assert_same_photo(file, stripped.data)
    assert not stripped.rewritten
    found = Image.open(io.BytesIO(stripped.data)).getexif()
    assert set(found) | set(found.get_ifd(ExifTags.IFD.Exif)) <= {*CAMERA, ExifTags.Base.Orientation, ExifTags.IFD.Exif}
