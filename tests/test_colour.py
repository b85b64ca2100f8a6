"""Light and colour: against the standards' numbers, published tables and an independent library."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import rgb2lab, xyz2lab

from calibration.colour import difference, encoded, lab, linear_light, linear_of_lab
from calibration.sticker import LAYOUTS

REFERENCE = Path(__file__).parent / "reference"

PAIRS = np.loadtxt(REFERENCE / "ciede2000.txt")

with (REFERENCE / "chart.csv").open(encoding="utf-8", newline="") as lines:
    next(lines)  # the source
    CHART = {name: (tuple(map(float, rest[:3])), tuple(map(int, rest[3:]))) for name, *rest in csv.reader(lines)}

CAT02 = np.array([(0.7328, 0.4296, -0.1624), (-0.7036, 1.6975, 0.0061), (0.0030, 0.0136, 0.9834)])  # CIE 159:2004
D50, D65 = np.array((0.96422, 1.0, 0.82521)), np.array((0.95047, 1.0, 1.08883))  # white points for 2 degrees, ASTM E308
OUTSIDE_SRGB = "cyan"


# IEC 61966-2-1: 8-bit value and its linear light
@pytest.mark.parametrize(
    ("value", "light"),
    [
        (0, 0.0),
        (10, 0.003035),
        (11, 0.003347),
        (50, 0.031896),
        (118, 0.181164),
        (128, 0.215861),
        (188, 0.502886),
        (255, 1),
    ],
)
def test_values_stand_for_the_light_of_the_standard(value, light):
    assert linear_light()[value] == pytest.approx(light, abs=5e-7)


def test_every_value_comes_back_from_its_light():
    values = np.arange(256, dtype=np.uint8)
    np.testing.assert_array_equal(encoded(linear_light()), values)


def test_light_beyond_white_and_below_black_is_cut():
    np.testing.assert_array_equal(encoded([[-0.2, 0.5, 1.7]]), [[0, 188, 255]])


@pytest.mark.parametrize(
    ("primary", "expected"),
    [  # scikit-image 0.26.0, rgb2lab
        ((1, 0, 0), (53.2406, 80.0923, 67.2028)),
        ((0, 1, 0), (87.7351, -86.1830, 83.1797)),
        ((0, 0, 1), (32.2957, 79.1856, -107.8573)),
    ],
)
def test_primaries_have_their_published_lab(primary, expected):
    np.testing.assert_allclose(lab(primary), expected, atol=0.05)


def test_lab_is_that_of_an_independent_library():
    values = np.random.default_rng(1).integers(0, 256, (40, 50, 3)).astype(np.uint8)
    np.testing.assert_allclose(lab(linear_light()[values]), rgb2lab(values), atol=0.05)


def test_the_perfect_diffuser_is_white_and_greys_are_neutral():
    greys = np.linspace(0, 1.2, 30)[:, None] * np.ones(3)
    found = lab(greys)
    np.testing.assert_allclose(found[:, 1:], 0, atol=1e-3)
    assert lab(np.ones(3))[0] == pytest.approx(100, abs=1e-3)
    assert (np.diff(found[:, 0]) > 0).all()


@given(st.lists(st.floats(-0.02, 1.5), min_size=3, max_size=3))
def test_light_comes_back_from_its_lab(light):
    np.testing.assert_allclose(linear_of_lab(lab(light)), light, atol=1e-5)


def test_colours_keep_their_shape():
    assert lab(np.zeros((4, 5, 3))).shape == (4, 5, 3)
    assert lab(np.zeros((0, 3))).shape == (0, 3)


def test_the_published_differences_come_out_to_the_last_digit():
    """Sharma, Wu, Dalal 2005, Table 1: pairs chosen for the formula's traps."""
    assert len(PAIRS) == 34
    np.testing.assert_allclose(difference(PAIRS[:, :3], PAIRS[:, 3:6]), PAIRS[:, 6], atol=5e-5)


def test_a_difference_is_the_same_both_ways():
    np.testing.assert_allclose(
        difference(PAIRS[:, :3], PAIRS[:, 3:6]), difference(PAIRS[:, 3:6], PAIRS[:, :3]), atol=1e-12
    )


def _adapted(lab_d50):
    """Lab under D65 of a colour given under D50, by the transform CAT02, with which the table was made."""
    lightness, a, b = lab_d50
    root = (lightness + 16) / 116 + np.array((a / 500, 0, -b / 200))
    xyz = D50 * np.where(root > 6 / 29, root**3, 3 * (6 / 29) ** 2 * (root - 4 / 29))
    xyz = np.linalg.solve(CAT02, (CAT02 @ D65) / (CAT02 @ D50) * (CAT02 @ xyz))
    return xyz2lab(xyz[None])[0]


@pytest.mark.parametrize("name", CHART)
def test_chart_colours_give_their_printed_values(name):
    lab_d50, srgb = CHART[name]
    light = linear_of_lab(_adapted(lab_d50))
    assert (light.min() < 0) == (name == OUTSIDE_SRGB)
    np.testing.assert_allclose(encoded(light).astype(int), srgb, atol=1)  # both were rounded


def test_stickers_carry_the_published_values():
    patches = [patch for layout in LAYOUTS.values() for patch in layout.patches]
    assert {patch.name: (patch.lab_d50, patch.srgb) for patch in patches}.items() <= CHART.items()
