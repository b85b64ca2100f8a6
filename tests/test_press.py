"""Prints that are not quite what was drawn."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from calibration.sticker import LAYOUTS
from measure.rendering import Camera, Scene, Sticker, reflectance_in_photo
from measure.rendering.press import PAPER, PRESS, Press
from measure.rendering.sensor import decoded
from measure.rendering.sticker import printed

PATCHES = {patch.name: patch.srgb for patch in LAYOUTS["corner"].patches}


def lab(linear):
    value = np.asarray(linear, float)
    return rgb2lab(np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055))


@pytest.mark.parametrize("error", [2.0, 5.0])
@pytest.mark.parametrize("seed", [1, 7])
def test_each_patch_is_off_by_about_as_much_as_asked(error, seed):
    press = Press(error=error, seed=seed)
    off = [
        deltaE_ciede2000(lab(PRESS.printed(name, srgb)), lab(press.printed(name, srgb)))
        for name, srgb in PATCHES.items()
    ]
    assert 0.49 * error <= min(off)
    assert max(off) <= 1.51 * error
    assert np.mean(off) == pytest.approx(error, rel=0.3)


def test_a_press_errs_alike_on_every_sheet_and_another_one_does_not():
    first, again, other = (Press(error=4.0, seed=seed).printed("green", (59, 147, 72)) for seed in (3, 3, 4))
    np.testing.assert_array_equal(first, again)
    assert np.abs(first - other).max() > 0.005


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_only_the_patches_are_off(layout):
    press = Press(error=5.0, seed=2)
    good, bad = (
        printed(layout, grey=False, writing=(), px_per_mm=10, press=each).astype(int) for each in (PRESS, press)
    )
    changed = (good != bad).any(axis=2)
    area = sum(patch.place.width * patch.place.height for patch in LAYOUTS[layout].patches)
    assert changed.sum() == pytest.approx(100 * area, rel=0.02)
    np.testing.assert_array_equal(good[..., 3], bad[..., 3])


def test_ink_and_paper_change_black_and_white():
    press = Press(ink=0.08, paper=(0.8, 0.7, 0.6))
    sheet = printed("strip", grey=False, writing=(), px_per_mm=10, press=press) / 65535
    solid = sheet[sheet[..., 3] == 1][:, :3]
    np.testing.assert_allclose(solid.max(axis=0), press.paper, atol=1e-4)
    np.testing.assert_allclose(solid.min(axis=0), 0.08 * np.array(press.paper), atol=1e-4)


def test_the_photo_shows_what_the_press_of_its_sticker_printed():
    camera = Camera(width=640, height=480, focal_px=1200.0, tilt_deg=0.0)
    sticker = Sticker("strip", print_error=6.0, paper=(0.8, 0.8, 0.75))
    scene = Scene(stickers=(sticker,), camera=camera, seed=5)
    patch = next(patch for patch in LAYOUTS["strip"].patches if patch.name == "orange yellow")
    pose = scene.poses()[0]
    middle = patch.place.corners.mean(axis=0, keepdims=True) @ pose[:2, :2].T + pose[:2, 2]
    x, y = np.rint(scene.view().project(middle)[0]).astype(int)
    seen = reflectance_in_photo(scene)[y, x]
    np.testing.assert_allclose(seen, sticker.press(5).printed(patch.name, patch.srgb) * sticker.paper, atol=2e-3)
    plain = reflectance_in_photo(replace(scene, stickers=(replace(sticker, print_error=0.0, paper=PAPER),)))[y, x]
    np.testing.assert_allclose(plain, (0.035 + 0.965 * decoded(patch.srgb)) * PAPER, atol=2e-3)
    assert np.abs(seen - plain).max() > 0.02
