"""The percentage area reduction, its uncertainty, and where it makes no sense."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.trend.reduction import reduction
from measure.uncertainty import Quantity


def area(value, share=0.05):
    return Quantity(value, "cm2", {"outline placement": share})


def test_it_is_the_share_that_went():
    """Hand calculation: 100 (12.0 - 7.5) / 12.0 and 100 (10 - 12) / 10."""
    assert reduction(area(12.0), area(7.5)).value == pytest.approx(37.5, abs=1e-9)
    assert reduction(area(10.0), area(12.0)).value == pytest.approx(-20.0, abs=1e-9)


@pytest.mark.parametrize(
    ("share", "reduced", "printed"),
    [(0.05, 20, 11.1), (0.05, 40, 8.3), (0.05, 53, 6.5), (0.10, 20, 22.2), (0.10, 40, 16.6), (0.10, 53, 13.0)],
)
def test_half_widths_of_the_interval_for_independent_areas(share, reduced, printed):
    """Closed form: the standard deviation is (1 - PAR) c sqrt(2); its 95 % half-width is 1.96 times that."""
    found = reduction(area(10.0, share), area(10.0 * (1 - reduced / 100), share))
    assert 1.96 * found.standard_uncertainty == pytest.approx(printed, abs=0.05)


def test_the_uncertainty_is_that_of_areas_measured_many_times():
    random = np.random.default_rng(1)
    first, last = 12.0 * (1 + 0.04 * random.normal(size=200_000)), 7.5 * (1 + 0.06 * random.normal(size=200_000))
    spread = np.std(100 * (1 - last / first))
    assert reduction(area(12.0, 0.04), area(7.5, 0.06)).standard_uncertainty == pytest.approx(spread, rel=0.02)


def test_an_error_that_both_areas_share_makes_it_less_uncertain_than_is_said():
    """What is shared cancels: to take areas as independent is on the safe side."""
    random = np.random.default_rng(2)
    shared, own = 0.03 * random.normal(size=(1, 100_000)), 0.04 * random.normal(size=(2, 100_000))
    first, last = np.array([[12.0], [7.5]]) * (1 + shared + own)
    assert np.std(100 * (1 - last / first)) < 0.9 * reduction(area(12.0), area(7.5)).standard_uncertainty


def test_a_healed_wound_is_all_gone_and_nothing_is_no_beginning():
    healed = Quantity(0.0, "cm2", {})
    assert (reduction(area(2.0), healed).value, reduction(area(2.0), healed).standard_uncertainty) == (100, 0)
    assert math.isnan(reduction(healed, area(2.0)).value)
    tiny = reduction(area(2.0), area(0.01, 1.0))
    assert tiny.expanded_uncertainty == pytest.approx(2 * 0.5, rel=0.01)  # points: 0.01 of 2 cm2, and as uncertain


@given(st.floats(0.01, 500), st.floats(0, 500), st.floats(0.001, 1000))
def test_units_do_not_matter(first, last, factor):
    plain, scaled = reduction(area(first), area(last)), reduction(area(first * factor), area(last * factor))
    assert scaled.value == pytest.approx(plain.value, rel=1e-9, abs=1e-9)
    assert scaled.standard_uncertainty == pytest.approx(plain.standard_uncertainty, rel=1e-9)
    assert plain.value <= 100
