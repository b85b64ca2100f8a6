"""How evenly light falls: one description, at places and on grids."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.evenness import SLOPE_SIGMA, Evenness

PLACES = np.stack(np.meshgrid(np.arange(300.0, 901.0, 60.0), np.arange(200.0, 401.0, 50.0)), axis=-1).reshape(-1, 2)


@pytest.fixture(scope="module")
def evenness():
    return Evenness.over(PLACES, 0.1)


@given(st.integers(0, 2**32 - 1))
def test_a_grid_holds_the_light_at_its_places(seed):
    evenness = Evenness.over(PLACES, 0.1)
    random = np.random.default_rng(seed)
    terms = random.normal(0, 0.3, evenness.terms)
    x, y = np.sort(random.uniform(0, 1500, 7)), np.sort(random.uniform(0, 900, 5))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    np.testing.assert_allclose(evenness.log_light(terms, x, y).ravel(), evenness.design(grid) @ terms, atol=2e-4)


def test_slopes_are_a_hundred_mm(evenness):
    terms = np.zeros(evenness.terms)
    terms[:2] = 0.2, -0.1
    apart = evenness.middle + np.array([(0.0, 0.0), (1000.0, 0.0), (0.0, 1000.0)])  # 100 mm
    np.testing.assert_allclose(evenness.design(apart) @ terms, (0, 0.2, -0.1), atol=1e-9)


def test_departures_have_their_standard_deviation_at_the_sticker_and_none_far_off(evenness):
    sigma = evenness.prior_sigma(0.3)
    np.testing.assert_array_equal(sigma[:2], SLOPE_SIGMA)
    spread = np.linalg.norm(evenness.design(PLACES)[:, 2:] * sigma[2:], axis=1)
    np.testing.assert_allclose(spread, 0.3, rtol=0.03)  # knots lie 12 mm apart
    far = evenness.design(evenness.middle[np.newaxis] + 5000.0)
    assert np.abs(far[:, 2:]).max() < 1e-9
