"""Each check: which side of its limit is good, a sentence that says what to do, and rendered photos of either kind."""

import math
from dataclasses import replace

import numpy as np
import pytest

from measure import checks
from measure.outline import Outline, read_outlines
from measure.photo import Photo, read_photo
from measure.pipeline import complete, prepare
from measure.rendering import Camera, Light, Scene, Sensor, Sticker, Wound, jpeg, render
from measure.report import document

TOO_HIGH = [
    (checks.check_tilt, checks.MAX_TILT_DEG),
    (checks.check_distance, checks.MAX_MM_PER_PX),
    (checks.check_sharpness, checks.MAX_EDGE_MM),
    (checks.check_motion, checks.MAX_SMEAR_MM),
    (checks.check_overexposure, checks.MAX_GREY_LIGHT),
    (checks.check_glare, checks.MAX_GLARE_SHARE),
    (checks.check_sticker_distance, checks.MAX_STICKER_MM),
]
TOO_LOW = [
    (checks.check_light, checks.MIN_PAPER_LIGHT),
    (checks.check_frame, checks.MIN_FRAME_MM),
]


@pytest.mark.parametrize(("check", "limit", "worse"), [(*c, 1.01) for c in TOO_HIGH] + [(*c, 0.99) for c in TOO_LOW])
def test_limit_itself_is_good(check, limit, worse):
    assert check(limit).ok
    assert not check(worse * limit).ok
    assert check(limit).value == check(limit).limit == limit


def test_sticker_is_good_when_enough_of_it_can_be_read():
    assert checks.check_sticker(checks.MIN_SHARE_SEEN, cut_off=False).ok
    assert not checks.check_sticker(checks.MIN_SHARE_SEEN - 0.01, cut_off=False).ok
    assert not checks.check_sticker(1.0, cut_off=True).ok


@pytest.mark.parametrize(
    ("check", "said"),
    [
        (checks.check_tilt(40.0), "hold it straight"),
        (checks.check_tilt(10.0), "tilt is corrected"),
        (checks.check_distance(0.5), "move closer"),
        (checks.check_distance(0.1), "close enough"),
        (checks.check_sticker(0.5, cut_off=False), "uncover it"),
        (checks.check_sticker(0.9, cut_off=True), "outside the photo"),
        (checks.check_sticker(0.9, cut_off=False), "90 % of it readable"),
        (checks.check_sharpness(1.5), "edges are 1.5 mm wide. Tap on the wound"),
        (checks.check_sharpness(0.3), "edges are 0.3 mm wide: sharp enough"),
        (checks.check_sharpness(math.nan), "uncover it"),
        (checks.check_motion(2.0), "smeared over 2.0 mm: hold the camera with both hands"),
        (checks.check_motion(0.1), "held still"),
        (checks.check_motion(math.nan), "uncover it"),
        (checks.check_light(0.08), "white reaches only 8 % of full brightness. Turn on a light"),
        (checks.check_light(0.8), "reaches 80 % of full brightness: light enough"),
        (checks.check_overexposure(1.0), "Dim the light"),
        (checks.check_overexposure(0.5), "reaches 50 % of full brightness: not too bright"),
        (checks.check_overexposure(math.nan), "uncover it"),
        (checks.check_glare(0.12), "hides 12 % of the wound: dab it dry"),
        (checks.check_glare(0.01), "hides 1 % of the wound: little enough"),
        (checks.check_frame(0.0), "reaches the edge of the photo: step back"),
        (checks.check_frame(30.0), "ends 30 mm inside the photo"),
        (checks.check_sticker_distance(45.0), "45 mm from the wound: move it closer"),
        (checks.check_sticker_distance(6.0), "6 mm from the wound: close enough"),
    ],
)
def test_sentences_say_what_was_found_and_what_to_do(check, said):
    assert said in check.sentence
    assert check.sentence.endswith(".")
    assert check.ok or "take it again" in check.sentence or "try again" in check.sentence or "closer" in check.sentence


# On rendered photos

CAREFUL = Scene(camera=Camera(width=2016, height=1512, distance_mm=200, tilt_deg=10, roll_deg=25), seed=4)
SHARP = CAREFUL.sensor.blur_px

NAMES = ["sticker", "tilt", "sharpness", "motion", "light", "overexposure", "print-scale", "sticker-flat"]
WOUND_NAMES = ["distance", "glare", "frame", "sticker-distance"]


def _measured(scene, outline=None):
    rendering = render(scene)
    prepared = prepare(read_photo(jpeg(rendering), "photo"), propose=False)
    return complete(prepared, [Outline(rendering.outline_px if outline is None else outline)])


def _failed(scene, outline=None):
    return {check.name for check in _measured(scene, outline).checks if not check.ok}


@pytest.fixture(scope="module")
def careful():
    return _measured(CAREFUL)


def test_a_careful_photo_passes_every_check(careful):
    assert [check.name for check in careful.checks] == NAMES + WOUND_NAMES
    assert all(check.ok for check in careful.checks)


def test_the_verdict_needs_no_outline(careful):
    assert [check.name for check in careful.prepared.checks] == NAMES


def test_sample_photographs_pass_every_check(sample):
    photo = read_photo(sample.photo)
    measurement = complete(prepare(photo, propose=False), read_outlines(sample.outline, photo.width, photo.height))
    assert [check.name for check in measurement.checks if not check.ok] == []


@pytest.mark.parametrize(
    ("change", "failed"),
    [
        ({"sensor": Sensor(blur_px=4.0)}, {"sharpness"}),
        ({"sensor": Sensor(motion_px=10.0, motion_deg=0)}, {"motion"}),
        ({"sensor": Sensor(motion_px=10.0, motion_deg=70)}, {"motion"}),
        ({"light": Light(exposure_ev=-3.0)}, {"light"}),
        ({"light": Light(exposure_ev=2.0)}, {"overexposure", "glare"}),
        ({"wound": Wound(moisture=20.0)}, {"glare"}),
        ({"stickers": (Sticker(gap_mm=40.0),)}, {"sticker-distance"}),
    ],
)
def test_a_photo_with_one_fault_fails_for_it(change, failed):
    assert _failed(replace(CAREFUL, **change)) == failed


def test_a_wound_cut_by_the_frame_fails(careful):
    cut = careful.wounds[0].outline.exterior.copy()
    cut[:, 0] -= cut[:, 0].min()
    assert {check.name for check in complete(careful.prepared, [Outline(cut)]).checks if not check.ok} >= {"frame"}


def _values(measurement):
    return {check.name: check.value for check in measurement.checks}


@pytest.mark.parametrize("layout", ["corner", "strip", "tile"])
@pytest.mark.parametrize("blur_px", [1.0, 2.0])
def test_edge_width_is_that_of_the_blur(layout, blur_px):
    """Truth by construction: a Gaussian's 10-90 % width is 2.563 standard deviations; a pixel adds 1 / 12 px2."""
    scene = replace(CAREFUL, stickers=(Sticker(layout=layout),), sensor=Sensor(blur_px=blur_px))
    measurement = _measured(scene)
    expected = 2.563 * math.hypot(blur_px, math.sqrt(1 / 12)) * measurement.mm_per_px
    assert _values(measurement)["sharpness"] == pytest.approx(expected, rel=0.15)


@pytest.mark.parametrize("motion_deg", [0, 20, 45, 65, 90, 135])
def test_smear_is_found_in_every_direction(motion_deg):
    """The diagonals of the sticker (at 20 and 110 degrees here) widen both kinds of its edges alike."""
    measurement = _measured(replace(CAREFUL, sensor=Sensor(blur_px=SHARP, motion_px=6.0, motion_deg=motion_deg)))
    assert _values(measurement)["motion"] == pytest.approx(6.0 * measurement.mm_per_px, rel=0.2)


def test_paper_and_grey_tell_the_exposure(careful):
    """One stop darker halves linear light."""
    darker = _values(_measured(replace(CAREFUL, light=Light(exposure_ev=-1.0))))
    usual = _values(careful)
    assert darker["light"] == pytest.approx(usual["light"] / 2, rel=0.03)
    assert darker["overexposure"] == pytest.approx(usual["overexposure"] / 2, rel=0.05)


def test_distance_from_the_sticker_is_true():
    scene = replace(CAREFUL, stickers=(Sticker(gap_mm=17.0),))
    assert _values(_measured(scene))["sticker-distance"] == pytest.approx(17.0, abs=0.3)


def test_distance_from_the_frame_is_in_millimetres():
    bare = Photo("bare", np.full((600, 800, 3), 150, dtype=np.uint8), "0" * 64, None, None)
    prepared = prepare(bare, scale=(100, 100, 600, 100, 50.0), propose=False)
    square = Outline(np.array([(49.5, 200), (400, 200), (400, 400), (49.5, 400)], dtype=float))
    measurement = complete(prepared, [square])
    assert _values(measurement) == pytest.approx({"distance": 0.1, "glare": 0.0, "frame": 5.0})


def test_glare_is_the_share_of_nearly_white_pixels():
    pixels = np.full((600, 800, 3), 150, dtype=np.uint8)
    pixels[200:301, 200:251] = 240
    pixels[200:301, 251:301, 0] = 255  # red alone is no glare
    prepared = prepare(Photo("bare", pixels, "0" * 64, None, None), scale=(100, 100, 600, 100, 50.0), propose=False)
    square = Outline(np.array([(200, 200), (300, 200), (300, 300), (200, 300)], dtype=float))
    assert _values(complete(prepared, [square]))["glare"] == pytest.approx(51 / 101)


def test_without_outlines_nothing_is_said_of_the_wound(careful):
    assert [check.name for check in complete(careful.prepared, []).checks] == [*NAMES, "distance"]


def test_what_could_not_be_told_is_null(careful):
    untold = replace(careful, checks=(checks.check_motion(math.nan),))
    (check,) = document(untold)["checks"]
    assert check["value"] is None
    assert not check["ok"]
    assert set(check) == {"check", "ok", "value", "limit", "sentence"}


# What another photo would not change is a flag


def test_a_missing_capture_time_is_flagged_and_fails_nothing():
    pixels = render(CAREFUL).pixels
    prepared = prepare(read_photo(jpeg(pixels, facts=None), "photo"), propose=False)
    assert [flag.code for flag in prepared.flags] == ["no-capture-time"]
    assert "does not say when" in prepared.flags[0].sentence
    assert all(check.ok for check in prepared.checks)


def test_a_resized_photo_is_flagged(careful):
    resized = replace(careful.prepared.photo, camera_size=(4032, 3024))
    (flag,) = prepare(resized, propose=False).flags
    assert flag.code == "photo-resized"
    assert "2016 x 1512 pixels, the camera noted 4032 x 3024" in flag.sentence
