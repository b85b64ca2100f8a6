"""The typology angle: published examples and classes, and what happens where skin has no yellow."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.skin_tone import angle_sigma, skin_class, typology_angle

lightnesses, yellows = st.floats(5, 95), st.floats(2, 30)


@pytest.mark.parametrize(
    ("lightness", "yellow", "angle"), [(70, 15, 53.13), (60, 18, 29.05), (50, 20, 0), (40, 18, -29.05)]
)
def test_the_angle_is_that_of_the_formula(lightness, yellow, angle):
    """arctan((L* - 50) / b*), Chardon et al. 1991; values computed by hand to two decimals."""
    assert typology_angle((lightness, 10, yellow)) == pytest.approx(angle, abs=0.005)


@pytest.mark.parametrize(
    ("angle", "name"),
    [
        (60, "very light"),
        (55, "light"),
        (48, "light"),
        (41, "intermediate"),
        (35, "intermediate"),
        (28, "tan"),
        (20, "tan"),
        (10, "brown"),
        (0, "brown"),
        (-29.9, "brown"),
        (-30, "dark"),
        (-50, "dark"),
    ],
)
def test_the_classes_are_those_of_chardon(angle, name):
    """Above 55 very light, 41 light, 28 intermediate, 10 tan, -30 brown, else dark."""
    assert skin_class(angle) == name


@given(lightnesses, st.floats(-5, 0))
def test_skin_without_yellow_keeps_its_side(lightness, yellow):
    """The bare formula makes very light skin dark there, and dark skin very light."""
    angle = typology_angle((lightness, 10, yellow))
    assert math.isnan(angle) if lightness == 50 else angle == math.copysign(90, lightness - 50)


@given(lightnesses, yellows, yellows)
def test_the_angle_grows_with_lightness(lightness, yellow, more):
    assert typology_angle((lightness + more, 8, yellow)) > typology_angle((lightness, 8, yellow))


@given(st.floats(20, 85), st.floats(8, 25))
def test_the_uncertainty_is_that_of_small_changes(lightness, yellow):
    """Of 20000 colours with normal errors, to a tenth."""
    random = np.random.default_rng(1)
    colours = np.column_stack(
        [random.normal(lightness, 0.4, 20000), np.zeros(20000), random.normal(yellow, 0.3, 20000)]
    )
    spread = np.std(np.degrees(np.arctan((colours[:, 0] - 50) / colours[:, 2])))
    assert angle_sigma((lightness, 0, yellow), 0.4, 0.3) == pytest.approx(spread, rel=0.1)


def test_near_middle_grey_nothing_is_known():
    assert angle_sigma((50, 0, 0), 1, 1) == angle_sigma((50.1, 0, 0.1), 1, 1) == pytest.approx(51.96, abs=0.01)
