"""What is read of patches and paper: on drawn stickers, whose every pixel is known."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from calibration.colour import linear_light
from calibration.detect import Sticker
from calibration.patches import HEM, PAPER, read_paper, read_patches
from calibration.plane import straight_plane
from calibration.sheet import sticker_png
from calibration.sticker import LAYOUTS

PX_PER_MM = 10
ALL = pytest.mark.parametrize("name", LAYOUTS)


def _drawn(name, saddles=None):
    """Return the drawing as a photo, and sticker and plane as if found; pixel centres lie half a px inside."""
    layout = LAYOUTS[name]
    with Image.open(BytesIO(sticker_png(layout, round(25.4 * PX_PER_MM)))) as drawing:
        pixels = np.array(drawing.convert("RGB"))
    mm = layout.saddles if saddles is None else layout.saddles[saddles]
    sticker = Sticker(layout, mm * PX_PER_MM, mm, np.ones(len(mm)), len(mm), cut_off=False)
    plane = straight_plane(1 / PX_PER_MM, 0.01, pixels.shape[1::-1], None, "pose", 0.1)
    return pixels, sticker, plane


def _at(pixels, place):
    """Return the pixels of a place as a view into the picture."""
    left, top = round(place.x * PX_PER_MM), round(place.y * PX_PER_MM)
    return pixels[top : top + round(place.height * PX_PER_MM), left : left + round(place.width * PX_PER_MM)]


@ALL
def test_patches_have_the_light_that_was_drawn(name):
    pixels, sticker, plane = _drawn(name)
    readings = read_patches(pixels, sticker, plane)
    for reading, patch in zip(readings, sticker.layout.patches, strict=True):
        assert reading.name == patch.name
        np.testing.assert_allclose(reading.light, linear_light()[list(patch.srgb)], rtol=1e-6)
        middle = (patch.place.x + patch.place.width / 2, patch.place.y + patch.place.height / 2)
        np.testing.assert_allclose(reading.place, np.array(middle) * PX_PER_MM)
        assert reading.readable.all()
        assert reading.unused == ""


@ALL
def test_paper_is_white(name):
    pixels, sticker, plane = _drawn(name)
    readings = read_paper((pixels * 0.9).astype(np.uint8), sticker, plane)
    layout = sticker.layout
    assert sum(reading.name == PAPER for reading in readings) == len(layout.fields)
    assert {reading.name for reading in readings} == {PAPER, HEM}
    for reading in readings:
        np.testing.assert_allclose(reading.light, linear_light()[229], rtol=1e-6)


def test_hem_is_read_only_beside_saddle_points_that_were_found():
    _, sticker, plane = _drawn("strip", saddles=slice(0, 1))
    pixels, whole, _ = _drawn("strip")
    beside = [reading for reading in read_paper(pixels, sticker, plane) if reading.name == HEM]
    assert len(beside) == 2
    away = np.array([reading.place for reading in beside]) - sticker.points_px
    assert np.abs(away).max() <= sticker.layout.hem.pitch * PX_PER_MM / 2 + 1e-9
    assert sum(reading.name == HEM for reading in read_paper(pixels, whole, plane)) > 30


def _changed(change):
    """Return the first reading of the tile after a change to its pixels, which get its patch too."""
    pixels, sticker, plane = _drawn("tile")
    change(pixels, _at(pixels, sticker.layout.patches[0].place))
    return read_patches(pixels, sticker, plane)[0]


def test_clipped_and_dark_channels_are_not_readable():
    def change(_, patch):
        patch[:] = (254, 120, 2)

    reading = _changed(change)
    assert list(reading.readable) == [False, True, False]
    assert reading.unused == ""  # one channel is left


@pytest.mark.parametrize(("value", "reason"), [(255, "too bright"), (1, "too dark")])
def test_a_patch_without_a_readable_channel_says_why(value, reason):
    def change(_, patch):
        patch[:] = value

    assert _changed(change).unused == reason


def test_a_half_covered_patch_is_uneven():
    def change(_, patch):
        patch[: len(patch) // 2] = (40, 60, 150)

    reading = _changed(change)
    assert reading.unused == "uneven"
    assert not reading.readable.any()


def test_specks_do_not_matter():
    def change(_, patch):
        patch[8:10, 5:15] = 0

    before = _changed(lambda *_: None)
    np.testing.assert_allclose(_changed(change).light, before.light, rtol=1e-6)


def test_noise_hardly_matters_and_is_told():
    def change(pixels, _):
        noise = np.random.default_rng(2).normal(0, 6, pixels.shape)
        pixels[:] = np.clip(np.rint(pixels + noise), 0, 255).astype(np.uint8)

    before, after = _changed(lambda *_: None), _changed(change)
    assert (np.abs(after.light - before.light) < 3 * after.noise).all()
    assert (after.noise > before.noise).all()


def test_a_patch_outside_the_photo_says_so():
    pixels, sticker, plane = _drawn("tile")
    cut = pixels[: round(7 * PX_PER_MM)]  # within the first row of patches
    reasons = {reading.unused for reading in read_patches(cut, sticker, plane)}
    assert reasons == {"outside the photo"}
