"""How far the edge advanced: exactly the difference of radii for circles, and as uncertain as outlines drawn anew."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from weekly import on

from measure.trend.linear_advance import Outlined, linear_advance
from measure.uncertainty import Quantity


def outlined(day, area, perimeter, of_area=None, of_perimeter=None):
    """Return an outline; the relative uncertainties are mappings of causes."""
    return Outlined(on(day), Quantity(area, "cm2", of_area or {}), Quantity(perimeter, "cm", of_perimeter or {}))


def circle(day, radius, edge=0.0, scale=0.0):
    """Return a circle whose edge is uncertain by so many cm and whose lengths by such a share."""
    causes = {"outline placement": 2 * edge / radius, "print scale": 2 * scale}
    halved = {cause: share / 2 for cause, share in causes.items()}
    return outlined(day, math.pi * radius**2, 2 * math.pi * radius, causes, halved)


def test_for_a_circle_it_is_the_difference_of_the_radii():
    """Gilman, Wounds 1990;2:95-101: a circle of radius 20 mm that shrinks to 15 mm advanced by 5 mm."""
    assert linear_advance(circle(0, 2.0), circle(28, 1.5)).total.value == pytest.approx(0.5, abs=1e-12)


def test_a_worked_example():
    """Hand calculation by Gilman's formula: (12.0 - 7.5) / ((13.2 + 10.4) / 2), over four weeks."""
    found = linear_advance(outlined(0, 12.0, 13.2), outlined(28, 7.5, 10.4))
    assert found.total.value == pytest.approx(0.38136, abs=5e-6)
    assert found.per_week.value == pytest.approx(0.09534, abs=5e-6)
    assert found.weeks == pytest.approx(4)


def test_for_circles_drawn_too_far_out_the_uncertainty_is_that_of_both_radii():
    found = linear_advance(circle(0, 2.0, edge=0.02), circle(28, 1.5, edge=0.02))
    assert found.total.standard_uncertainty == pytest.approx(0.02 * math.sqrt(2), rel=1e-9)
    assert found.per_week.standard_uncertainty == pytest.approx(0.02 * math.sqrt(2) / 4, rel=1e-9)


def test_the_uncertainty_is_that_of_ellipses_measured_many_times():
    """Monte Carlo: the edge of each ellipse shifts as a whole (Steiner), and each scale is off."""
    random, edge, scale = np.random.default_rng(3), 0.02, 0.01
    shapes = ((12.0, 13.2), (7.5, 10.4))
    drawn = []
    for area, perimeter in shapes:
        shift, off = edge * random.normal(size=200_000), 1 + scale * random.normal(size=200_000)
        around = perimeter + 2 * np.pi * shift
        drawn.append(((area + perimeter * shift + np.pi * shift**2) * off**2, around * off))
    (a1, p1), (a2, p2) = drawn
    first, last = (
        outlined(
            day,
            area,
            perimeter,
            {"outline placement": perimeter * edge / area, "print scale": 2 * scale},
            {"outline placement": 2 * math.pi * edge / perimeter, "print scale": scale},
        )
        for day, (area, perimeter) in zip((0, 28), shapes, strict=True)
    )
    spread = np.std(2 * (a1 - a2) / (p1 + p2))
    assert linear_advance(first, last).total.standard_uncertainty == pytest.approx(spread, rel=0.02)


def test_a_circle_that_healed_advanced_by_its_radius():
    found = linear_advance(circle(0, 2.0, edge=0.02), outlined(28, 0.0, 0.0)).total
    assert found.value == pytest.approx(2.0)
    assert found.standard_uncertainty == pytest.approx(0.02)


def test_without_an_outline_or_time_nothing_is_told():
    assert math.isnan(linear_advance(outlined(0, 0.0, 0.0), outlined(28, 0.0, 0.0)).total.value)
    assert math.isnan(linear_advance(circle(0, 2.0), circle(0, 1.5)).per_week.value)


def test_what_is_not_known_stays_so():
    unknown = outlined(28, 7.5, 10.4, {"outline placement": math.nan})
    assert math.isnan(linear_advance(outlined(0, 12.0, 13.2), unknown).total.standard_uncertainty)


@given(st.floats(0.1, 10), st.floats(0.1, 10))
def test_backwards_it_is_the_same_with_the_other_sign(first, last):
    there, back = linear_advance(circle(0, first), circle(7, last)), linear_advance(circle(0, last), circle(7, first))
    assert there.total.value == pytest.approx(-back.total.value, abs=1e-9)
    assert there.total.value == pytest.approx(first - last, abs=1e-9)
