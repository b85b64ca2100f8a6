"""Why no sticker could be read: blurred, smeared, dark and bright renderings, and photos that are none of these.

The scenes have 2016 x 1512 pixels, so that a blur of 3 px is one of 6 px at 12 megapixels.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.detect import find_stickers
from calibration.errors import StickerNotFoundError
from calibration.legibility import least_blur_px, unreadable_error, why_unreadable
from measure.photo import read_photo
from measure.rendering import Camera, Light, Scene, Sensor, Sticker, Wound, render

SCENE = Scene(camera=Camera(width=2016, height=1512, tilt_deg=15, roll_deg=20), seed=3)


def _gray(layout="corner", **change):
    wound = Wound(length_mm=15, width_mm=11) if layout == "tile" else Wound()
    scene = replace(SCENE, **({"stickers": (Sticker(layout=layout),), "wound": wound} | change))
    return cv2.cvtColor(render(scene).pixels, cv2.COLOR_RGB2GRAY)


@pytest.mark.parametrize(("layout", "blur_px"), [("corner", 3), ("strip", 4), ("corner", 6), ("tile", 3)])
def test_a_blurred_photo_is_told(layout, blur_px):
    assert why_unreadable(_gray(layout, sensor=Sensor(blur_px=blur_px))) == "blurred"


@pytest.mark.parametrize("motion_deg", [30, 90])
def test_a_smeared_photo_is_told_though_edges_along_the_smear_are_sharp(motion_deg):
    assert why_unreadable(_gray(sensor=Sensor(motion_px=15.0, motion_deg=motion_deg))) == "blurred"


@pytest.mark.parametrize(("exposure_ev", "why"), [(-5.0, "dark"), (4.0, "bright")])
def test_a_photo_without_light_or_with_too_much_is_told(exposure_ev, why):
    assert why_unreadable(_gray(light=Light(exposure_ev=exposure_ev))) == why


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"light": Light(exposure_ev=-2.0)},
        {"stickers": ()},
        {"stickers": (), "seed": 1},
    ],
    ids=["good", "dim", "no sticker", "no sticker either"],
)
def test_a_legible_photo_is_not_blamed(change):
    assert why_unreadable(_gray(**change)) is None


def test_sample_photographs_are_legible(sample):
    assert why_unreadable(cv2.cvtColor(read_photo(sample.photo).pixels, cv2.COLOR_RGB2GRAY)) is None


@pytest.mark.parametrize("level", [60, 128, 240])
def test_a_plain_picture_tells_nothing(level):
    assert why_unreadable(np.full((600, 800), level, dtype=np.uint8)) is None


@pytest.mark.parametrize(("level", "why"), [(0, "dark"), (255, "bright")])
def test_a_covered_lens_and_a_lamp_are_told(level, why):
    assert why_unreadable(np.full((600, 800), level, dtype=np.uint8)) == why


@pytest.mark.parametrize("shape", [(1, 1), (1, 5000), (3, 2), (64, 64)])
def test_every_shape_is_taken(shape):
    assert why_unreadable(np.random.default_rng(1).integers(90, 120, shape, dtype=np.uint8)) in {None, "blurred"}


@pytest.mark.parametrize("sigma", [1.5, 2.5, 4.0])
def test_the_blur_of_edges_is_what_was_put_in(sigma):
    """Truth by construction: discs, blurred; the gradient's own kernel of 3 px adds a little."""
    picture = np.full((1500, 2000), 60, dtype=np.uint8)
    for x, y in np.ndindex(6, 4):
        cv2.circle(picture, (170 + 330 * x, 170 + 330 * y), 140, 200, -1)
    blurred = cv2.GaussianBlur(picture, (0, 0), sigma)
    assert least_blur_px(blurred) == pytest.approx(sigma, rel=0.15)


def test_a_larger_picture_of_the_same_is_judged_alike():
    gray = _gray(sensor=Sensor(blur_px=3.0))
    twice = cv2.resize(gray, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    assert why_unreadable(gray) == why_unreadable(twice) == "blurred"


@pytest.mark.parametrize(
    ("gray", "code", "said"),
    [
        (np.zeros((60, 80), dtype=np.uint8), "dark-photo", "nearly black.* Turn on a light"),
        (np.full((60, 80), 255, dtype=np.uint8), "bright-photo", "nearly white.* Dim the light"),
    ],
)
def test_the_sentence_says_what_to_do(gray, code, said):
    with pytest.raises(StickerNotFoundError, match=said) as told:
        raise unreadable_error(gray)
    assert told.value.code == code


def test_a_blurred_photo_is_answered_with_what_to_do():
    with pytest.raises(StickerNotFoundError, match=r"too blurred or smeared.* Tap on the sticker to focus") as told:
        raise unreadable_error(_gray(sensor=Sensor(blur_px=6.0)))
    assert told.value.code == "blurred-photo"


def test_a_legible_photo_gets_no_error():
    assert unreadable_error(np.full((60, 80), 128, dtype=np.uint8)) is None


def test_the_search_for_a_sticker_names_the_blur():
    with pytest.raises(StickerNotFoundError, match="too blurred or smeared"):
        find_stickers(_gray(sensor=Sensor(blur_px=6.0)))
