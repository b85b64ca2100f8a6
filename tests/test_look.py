"""Looks of cameras: neutral stays neutral, and colours go where the look says."""

from dataclasses import replace

import numpy as np
import pytest

from measure.rendering import LOOKS, Camera, Look, Scene, Sensor, Skin, render
from measure.rendering.look import saturation

RANDOM = np.random.default_rng(1)
PICTURE = RANDOM.uniform(0, 1, (20, 30, 3)).astype(np.float32)


@pytest.mark.parametrize("name", LOOKS)
def test_neutral_stays_neutral_and_keeps_its_order(name):
    grey = np.repeat(np.linspace(0, 1, 50, dtype=np.float32)[None, :, None], 3, axis=2)
    seen = LOOKS[name].applied(grey)
    assert np.ptp(seen, axis=2).max() < 1e-5
    assert (np.diff(seen[0, :, 0]) > 0).all()
    assert (seen[0, 0, 0], seen[0, -1, 0]) == pytest.approx((0, 1), abs=1e-4)


@pytest.mark.parametrize("factor", [0.7, 1.4])
def test_saturation_keeps_luminance_and_moves_colours_from_grey(factor):
    luma = np.array([0.2126, 0.7152, 0.0722])
    seen = PICTURE @ np.array(saturation(factor)).T
    np.testing.assert_allclose(seen @ luma, PICTURE @ luma, atol=1e-6)
    grey = (PICTURE @ luma)[..., None]
    np.testing.assert_allclose(seen - grey, factor * (PICTURE - grey), atol=1e-6)


def test_display_p3_holds_the_matrix_of_its_primaries():
    # chromaticities of red, green, blue: ITU-R BT.709 for sRGB, SMPTE EG 432-1 for P3; white is D65 in both
    def to_xyz(primaries):
        columns = np.array([(x / y, 1, (1 - x - y) / y) for x, y in primaries]).T
        white = np.array([0.3127 / 0.3290, 1, 0.3583 / 0.3290])
        return columns * np.linalg.solve(columns, white)

    srgb = to_xyz(((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)))
    p3 = to_xyz(((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)))
    np.testing.assert_allclose(np.linalg.solve(p3, srgb), LOOKS["display P3"].matrix, atol=2e-4)


def test_an_exponent_is_a_power_of_linear_light():
    np.testing.assert_allclose(Look(exponent=1.3).applied(PICTURE), PICTURE**1.3, atol=2e-4)


def test_contrast_darkens_shadows_and_lightens_lights_and_keeps_the_middle():
    middle = ((0.5 + 0.055) / 1.055) ** 2.4  # encoded as one half
    dark, half, light = Look(contrast=0.3).applied(np.array([[[0.05, middle, 0.6]]], np.float32))[0, 0]
    assert dark < 0.05
    assert half == pytest.approx(middle, abs=1e-3)
    assert light > 0.6


def test_a_photo_gets_the_look_of_its_sensor():
    camera = Camera(width=160, height=120, focal_px=400.0)
    scene = Scene(camera=camera, skin=Skin(body="trunk"), sensor=Sensor(read_noise=0.0, shot_noise=0.0))
    chroma = {}
    for name, look in LOOKS.items():
        pixels = render(replace(scene, sensor=replace(scene.sensor, look=look))).pixels.astype(float)
        chroma[name] = np.ptp(pixels, axis=2).mean()
    assert chroma["vivid phone"] > 1.1 * chroma["plain"]
    assert chroma["flat"] < 0.95 * chroma["plain"]
    assert chroma["display P3"] < 0.95 * chroma["plain"]
