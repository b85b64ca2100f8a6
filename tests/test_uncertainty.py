"""Quantities and their budgets, against the GUM's own rules."""

import math

import pytest

from measure.uncertainty import Quantity


def test_components_add_in_quadrature():
    """JCGM 100:2008 H.1, end gauge: components 25, 5.8, 3.9, 6.7, 2.9, 16.6 nm combine to 32 nm (printed)."""
    length = 50_000_838.0
    parts = {name: value / length for name, value in zip("abcdef", (25, 5.8, 3.9, 6.7, 2.9, 16.6), strict=True)}
    assert round(Quantity(length, "nm", parts).standard_uncertainty) == 32


def test_area_from_a_scale_doubles_its_share():
    """A = N s**2: 1 % of scale is 2 % of area (JCGM 100:2008, 5.1.6)."""
    area = Quantity(10.0, "cm2", {"print scale": 2 * 0.01})
    assert area.standard_uncertainty == pytest.approx(0.2)
    assert area.expanded_uncertainty == pytest.approx(0.4)


def test_an_unknown_component_makes_the_whole_unknown():
    assert math.isnan(Quantity(1.0, "cm", {"a": 0.01, "b": math.nan}).standard_uncertainty)


def test_another_unit_keeps_the_relative_budget():
    """625 mm2 are 6.25 cm2, not 62.5."""
    area = Quantity(625.0, "mm2", {"a": 0.02}).scaled(0.01, "cm2")
    assert (area.value, area.unit) == (6.25, "cm2")
    assert area.standard_uncertainty == pytest.approx(0.125)


def test_a_budget_cannot_be_changed():
    with pytest.raises(TypeError):
        Quantity(1.0, "cm", {"a": 0.1}).components["a"] = 0.0
