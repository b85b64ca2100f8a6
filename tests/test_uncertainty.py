"""Quantities and their budgets, against the GUM's own examples and against Monte Carlo (JCGM 100 and 101:2008)."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from shapely import affinity
from shapely.geometry import Polygon

from calibration.fit import fit_plane
from measure.geometry import Convention, area_mm2, extents, perimeter_mm
from measure.outline import Outline, map_outline, read_outlines
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.uncertainty import Quantity
from measure.wound import EDGE_SIGMA_MM, GIVEN, measure_wound

# JCGM 100:2008 H.1, calibration of an end gauge: what makes the length uncertain, in nm, with degrees of freedom.
# As printed: 25, 5.8, 3.9, 6.7, 2.9, 16.6; here from the inputs, so that rounding does not add up.
GAUGE_NM = 50_000_838.0
GAUGE = {
    "standard": (25.0, 18),
    "repeatability": (5.8, 24),
    "comparator, random": (3.9, 5),
    "comparator, systematic": (6.7, 8),
    "difference of expansion": (50_000_623 * 0.1 * 1e-6 / math.sqrt(3), 50),
    "difference of temperature": (50_000_623 * 11.5e-6 * 0.05 / math.sqrt(3), 2),
}


def _gauge(**more_nm: float) -> Quantity:
    parts = {name: nm / GAUGE_NM for name, (nm, _) in GAUGE.items()}
    return Quantity(
        GAUGE_NM,
        "nm",
        parts | {name: nm / GAUGE_NM for name, nm in more_nm.items()},
        {name: dof for name, (_, dof) in GAUGE.items()},
    )


def test_components_add_in_quadrature():
    """JCGM 100:2008 H.1.4: 32 nm (printed); 31.6639 by another implementation, GTC 1.5.1."""
    assert round(_gauge().standard_uncertainty) == 32
    assert _gauge().standard_uncertainty == pytest.approx(31.6639, abs=1e-3)


def test_terms_of_second_order_are_components_too():
    """JCGM 100:2008 H.1.7: expansion times temperature, 11.7 and 1.7 nm, make 32 nm 34; 33.807 by GTC 1.5.1."""
    spread = math.hypot(0.2, 0.5 / math.sqrt(2))  # of the temperature, in degrees: mean, and a cyclic variation
    first = 50_000_623 * 1e-6 / math.sqrt(3) * spread
    second = 50_000_623 * 2e-6 / math.sqrt(3) * 0.05 / math.sqrt(3)
    assert (round(first, 1), round(second, 1)) == (11.7, 1.7)
    assert _gauge(first=first, second=second).standard_uncertainty == pytest.approx(33.807, abs=5e-3)


def test_the_budget_of_second_order_is_the_scatter_of_the_model():
    """The model of H.1 itself, l = l_s + d - l_s (da theta + a_s dt), drawn with the distributions of H.1.3."""
    count = 200_000
    rng = np.random.default_rng(91)
    rest = rng.normal(0, math.sqrt(25.0**2 + 5.8**2 + 3.9**2 + 6.7**2), count)
    expansion, difference = rng.uniform(9.5e-6, 13.5e-6, count), rng.uniform(-1e-6, 1e-6, count)
    temperature = -0.1 + rng.normal(0, 0.2, count) + 0.5 * np.sin(rng.uniform(0, 2 * np.pi, count))
    draws = rest - 50_000_623 * (difference * temperature + expansion * rng.uniform(-0.05, 0.05, count))
    budget = _gauge(first=11.7, second=1.7).standard_uncertainty
    assert budget == pytest.approx(draws.std(), rel=3 / math.sqrt(2 * count))


def test_degrees_of_freedom_are_those_of_welch_and_satterthwaite():
    """JCGM 100:2008 H.1.6: 16 (from memory; 16.75 before it is cut, by GTC 1.5.1)."""
    assert _gauge().degrees_of_freedom == pytest.approx(16.75, abs=5e-3)


def test_degrees_of_freedom_are_cut_and_not_rounded():
    """JCGM 100:2008 H.1.6, from memory: t99(16) = 2.92, and U99 = 2.92 x 32 nm = 93 nm; uncut it would be 2.90."""
    factor = _gauge().coverage_factor(0.99)
    assert round(factor, 2) == 2.92
    assert round(factor * round(_gauge().standard_uncertainty)) == 93
    assert factor * _gauge().standard_uncertainty == pytest.approx(92.5, abs=0.05)


@pytest.mark.parametrize(
    ("dof", "factor"), [(1, 13.97), (2, 4.53), (3, 3.31), (5, 2.65), (10, 2.28), (20, 2.13), (50, 2.05)]
)
def test_few_degrees_of_freedom_widen_the_interval(dof, factor):
    """JCGM 100:2008 table G.2, column 95.45 % (from memory)."""
    assert round(Quantity(1.0, "cm", {"a": 0.1}, {"a": dof}).coverage_factor(0.9545), 2) == factor


@pytest.mark.parametrize(
    ("probability", "factor"), [(0.6827, 1.0), (0.90, 1.645), (0.9545, 2.0), (0.99, 2.576), (0.9973, 3.0)]
)
def test_a_well_known_budget_is_normal(probability, factor):
    """NIST Technical Note 1297 (1994), 6.2 and appendix B."""
    well_known = Quantity(1.0, "cm", {"a": 0.1})
    assert well_known.degrees_of_freedom == math.inf
    assert well_known.coverage_factor(probability) == pytest.approx(factor, abs=5e-4)


@pytest.mark.parametrize("dof", [1, 4, 16, 1000])
def test_coverage_is_that_of_another_implementation(dof):
    quantity = Quantity(1.0, "cm", {"a": 0.1}, {"a": dof})
    assert quantity.coverage_factor(0.95) == pytest.approx(stats.t.ppf(0.975, dof), rel=1e-9)


def test_a_component_that_hardly_counts_does_not_cost_degrees_of_freedom():
    """G.4: one of 1 % with 1 degree beside one of 10 % that is well known; (0.1**2 + 0.01**2)**2 / 0.01**4 = 10201."""
    quantity = Quantity(1.0, "cm", {"a": 0.1, "b": 0.01}, {"b": 1})
    assert quantity.degrees_of_freedom == pytest.approx(10201.0)


def test_nothing_uncertain_has_no_end_of_degrees_of_freedom():
    assert Quantity(1.0, "cm", {"a": 0.0}, {"a": 3}).degrees_of_freedom == math.inf


def test_correlated_inputs_enter_as_independent_causes():
    """JCGM 100:2008 H.2, resistance, reactance and impedance from five simultaneous readings (data from memory).

    The covariance of the three means is split into independent causes, as a plane's covariance is. Printed: 127.732
    with 0.071, 219.847 with 0.295 and 254.260 with 0.236 ohm; the 0.295 follows from rounded means, here it is 0.2956.
    """
    readings = np.array(
        [
            (5.007, 19.663e-3, 1.0456),
            (4.994, 19.639e-3, 1.0438),
            (5.005, 19.640e-3, 1.0468),
            (4.990, 19.685e-3, 1.0428),
            (4.999, 19.678e-3, 1.0433),
        ]
    )
    means, covariance = readings.mean(axis=0), np.cov(readings.T) / len(readings)

    def ohms(inputs):
        volt, ampere, radian = inputs
        return volt / ampere * np.array([np.cos(radian), np.sin(radian), 1.0])

    printed = [(127.732, 0.071), (219.847, 0.2956), (254.260, 0.236)]
    causes = [(ohms(means + root) - ohms(means - root)) / 2 for root in np.linalg.cholesky(covariance).T]
    for (value, uncertainty), found, shares in zip(
        printed, ohms(means), np.transpose(causes) / ohms(means)[:, None], strict=True
    ):
        quantity = Quantity(float(found), "Ohm", dict(zip("abc", shares.tolist(), strict=True)))
        assert quantity.value == pytest.approx(value, abs=5e-4)
        assert quantity.standard_uncertainty == pytest.approx(uncertainty, abs=5e-4)


def test_k_of_2_is_on_the_safe_side_of_four_rectangular_causes():
    """JCGM 101:2008 9.2.3: u = 2, and 95 % within 2 sqrt(3) (2 - 0.6**(1/4)) = 3.87941 (analytic; printed 3.88)."""
    quantity = Quantity(1.0, "1", dict.fromkeys("abcd", 1.0))
    assert quantity.standard_uncertainty == 2.0
    assert quantity.coverage_factor(0.95) * 2.0 == pytest.approx(3.92, abs=5e-3)
    draws = np.random.default_rng(923).uniform(-math.sqrt(3), math.sqrt(3), (4, 200_000)).sum(axis=0)
    exact = 2 * math.sqrt(3) * (2 - 0.6**0.25)
    assert exact == pytest.approx(3.87941, abs=5e-6)
    assert np.mean(np.abs(draws) < exact) == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / 200_000))
    assert np.mean(np.abs(draws) < quantity.expanded_uncertainty) > 0.95


def test_k_of_2_is_on_the_safe_side_of_one_dominant_rectangular_cause():
    """JCGM 101:2008 9.2.4: one of four is ten times as large; u = 10.1 and 95 % within 17.0 (from memory), U = 20.3.

    So it is where the print's scale rules the budget.
    """
    quantity = Quantity(1.0, "1", {"a": 1.0, "b": 1.0, "c": 1.0, "print scale": 10.0})
    assert quantity.standard_uncertainty == pytest.approx(math.sqrt(103))
    sizes = np.array([1.0, 1.0, 1.0, 10.0])[:, None] * math.sqrt(3)
    draws = (sizes * np.random.default_rng(924).uniform(-1, 1, (4, 200_000))).sum(axis=0)
    assert np.quantile(np.abs(draws), 0.95) == pytest.approx(17.0, abs=0.05)
    assert quantity.standard_uncertainty == pytest.approx(draws.std(), rel=3 / math.sqrt(2 * 200_000))
    assert np.mean(np.abs(draws) < quantity.expanded_uncertainty) > 0.99


def test_area_from_a_scale_doubles_its_share():
    """A = N s**2: 1 % of scale is 2 % of area (JCGM 100:2008, 5.1.6)."""
    area = Quantity(10.0, "cm2", {"print scale": 2 * 0.01})
    assert area.standard_uncertainty == pytest.approx(0.2)
    assert area.expanded_uncertainty == pytest.approx(0.4)


@pytest.mark.parametrize("known", [0.01, 0.0, math.inf])
def test_an_unknown_component_makes_the_whole_unknown(known):
    quantity = Quantity(1.0, "cm", {"a": known, "b": math.nan}, {"a": 3})
    assert math.isnan(quantity.standard_uncertainty)
    assert math.isnan(quantity.expanded_uncertainty)
    assert math.isnan(quantity.degrees_of_freedom)
    assert math.isnan(quantity.coverage_factor(0.95))


def test_another_unit_keeps_the_relative_budget():
    """625 mm2 are 6.25 cm2, not 62.5."""
    area = Quantity(625.0, "mm2", {"a": 0.02}, {"a": 7}).scaled(0.01, "cm2")
    assert (area.value, area.unit) == (6.25, "cm2")
    assert area.standard_uncertainty == pytest.approx(0.125)
    assert area.degrees_of_freedom == pytest.approx(7.0)


def test_a_budget_cannot_be_changed():
    quantity = Quantity(1.0, "cm", {"a": 0.1}, {"a": 5})
    with pytest.raises(TypeError):
        quantity.components["a"] = 0.0
    with pytest.raises(TypeError):
        quantity.component_dof["a"] = 1.0


def test_degrees_of_freedom_of_no_component_are_refused():
    with pytest.raises(ValueError, match="'edge', which is no component; known: 'print', 'drawing'"):
        Quantity(1.0, "cm", {"print": 0.1, "drawing": 0.1}, {"edge": 5})


@pytest.mark.parametrize("dof", [0.0, -3, math.nan])
def test_degrees_of_freedom_below_one_are_refused(dof):
    with pytest.raises(ValueError, match="give at least 1"):
        Quantity(1.0, "cm", {"a": 0.1}, {"a": dof})


@pytest.mark.parametrize("probability", [0.0, 1.0, 95, math.nan])
def test_a_probability_that_is_none_is_refused(probability):
    with pytest.raises(ValueError, match="between 0 and 1"):
        Quantity(1.0, "cm", {"a": 0.1}).coverage_factor(probability)


# The budget of a whole measurement. A standard deviation of n draws scatters by 1 / sqrt(2 n) of itself: the tolerance
# is three times that.

PRINT_SHARE = 0.005  # rectangular: what the printed sheet lets through
NAMES = ("area", "perimeter", "length", "width")


@pytest.fixture(scope="module")
def calibration(first_sample):
    return prepare(read_photo(first_sample.photo), propose=False).calibration


def _polar(radius) -> Polygon:
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    return Polygon(np.column_stack([radius(angle) * np.cos(angle), radius(angle) * np.sin(angle)]))


def _ellipse(length: float, width: float, x: float = 0.0) -> Polygon:
    return affinity.translate(affinity.scale(_polar(np.ones_like), length / 2, width / 2), x, 0)


SMOOTH = {
    "ellipse": _ellipse(40, 24),
    "small": _ellipse(8, 6),
    "kidney": _polar(lambda a: 12 * (1 + 0.35 * np.cos(a) + 0.25 * np.cos(2 * a))),
    "five lobes": _polar(lambda a: 13 * (1 + 0.2 * np.cos(5 * a) + 0.1 * np.sin(2 * a))),
}
ISLANDS = {
    "one island": _ellipse(40, 24) - _ellipse(16, 10),
    "three islands": _ellipse(40, 28) - _ellipse(6, 6, -11) - _ellipse(6, 6) - _ellipse(6, 6, 11),
}
POINTED = {"lens": affinity.translate(_ellipse(85, 85), 0, -75).intersection(_ellipse(85, 85))}


def _measured(calibration, shape):
    """Measure a shape drawn beside the sticker, as a person would have drawn it."""
    shift = np.array(calibration.stickers[0].layout.aim) - np.array(shape.centroid.coords[0])
    rings = [np.array(ring.coords)[:-1] + shift for ring in (shape.exterior, *shape.interiors)]
    exterior, *holes = (calibration.plane.to_px(ring) for ring in rings)
    return measure_wound(Outline(exterior, tuple(holes)), calibration, GIVEN, Convention.LONGEST_PERPENDICULAR, 0.0)


def _numbers(shape):
    found = extents(shape, Convention.LONGEST_PERPENDICULAR)
    return np.array([area_mm2(shape), perimeter_mm(shape), found.length_mm, found.width_mm])


def _scatter(shapes, seed):
    """Relative standard deviations when the print's scale and the place of the edge are drawn, one draw a shape."""
    rng = np.random.default_rng(seed)
    powers = np.array([2, 1, 1, 1])
    draws = np.array(
        [
            _numbers(shape.buffer(rng.normal(0, EDGE_SIGMA_MM)))
            * (1 + rng.uniform(-PRINT_SHARE, PRINT_SHARE)) ** powers
            for shape in shapes
        ]
    )
    return dict(zip(NAMES, draws.std(axis=0) / draws.mean(axis=0), strict=True))


def _combined(quantity, *components):
    return math.hypot(*(quantity.components[name] for name in components))


def _check_edge_and_scale(calibration, shape, names, count=1000):
    wound = _measured(calibration, shape)
    scatter = _scatter([wound.shape_mm] * count, seed=101)
    for name in names:
        budget = _combined(getattr(wound, name), "print scale", "outline placement")
        assert budget == pytest.approx(scatter[name], rel=3 / math.sqrt(2 * count)), name


@pytest.mark.parametrize("shape", SMOOTH.values(), ids=SMOOTH)
def test_edge_and_scale_scatter_as_the_budget_says(calibration, shape):
    _check_edge_and_scale(calibration, shape, NAMES)


@pytest.mark.parametrize("shape", ISLANDS.values(), ids=ISLANDS)
def test_edge_and_scale_of_a_wound_with_islands_scatter_as_the_budget_says(calibration, shape):
    _check_edge_and_scale(calibration, shape, ("area", "length", "width"))


@pytest.mark.parametrize("shape", ISLANDS.values(), ids=ISLANDS)
def test_the_perimeter_of_a_wound_with_islands_counts_each_ring_for_itself(calibration, shape):
    """A shift of one ring changes its perimeter by 2 pi a shift (Steiner); independent rings add in squares."""
    wound = _measured(calibration, shape)
    rings = 1 + len(wound.shape_mm.interiors)
    expected = 2 * np.pi * EDGE_SIGMA_MM * math.sqrt(rings)
    found = wound.perimeter.components["outline placement"] * wound.perimeter.value
    assert found == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("shape", POINTED.values(), ids=POINTED)
def test_edge_and_scale_of_a_pointed_wound_scatter_as_the_budget_says(calibration, shape):
    _check_edge_and_scale(calibration, shape, ("area", "width"))


@pytest.mark.parametrize("shape", POINTED.values(), ids=POINTED)
def test_the_length_of_a_pointed_wound_scatters_as_the_budget_says(calibration, shape):
    _check_edge_and_scale(calibration, shape, ["length"])


def test_a_whole_measurement_scatters_as_its_budget_says(island_sample):
    """Every input is drawn at once: the sticker's points, its print, and the place of the edge."""
    count = 300
    photo = read_photo(island_sample.photo)
    prepared = prepare(photo, propose=False)
    (wound,) = complete(prepared, read_outlines(island_sample.outline, photo.width, photo.height)).wounds
    sticker, sigma = prepared.calibration.stickers[0], prepared.calibration.plane.sigma_px
    rng = np.random.default_rng(5)

    def drawn():
        noise = rng.normal(size=sticker.points_px.shape) * sigma * sticker.weight_sigma[:, None]
        noisy = [replace(sticker, points_px=sticker.points_px + noise)]
        return map_outline(wound.outline, fit_plane(noisy, photo.width, photo.height, photo.focal_px).to_mm)

    scatter = _scatter([drawn() for _ in range(count)], seed=102)
    for name in ("area", "length", "width"):
        budget = _combined(getattr(wound, name), "point localisation", "print scale", "outline placement")
        assert budget == pytest.approx(scatter[name], rel=3 / math.sqrt(2 * count)), name
