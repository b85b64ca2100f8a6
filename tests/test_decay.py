"""A weekly rate of shrinking: against other people's fits, against wounds drawn by chance, and where none is told."""

import math

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t as student
from weekly import on, visit, wound

from measure.record.entries import What
from measure.trend.decay import Decay, NoDecay, decay_of, line, weighted
from measure.trend.series import series_of
from tests.benchmarks import trend as benchmark

DAYS = (0, 7, 14, 21, 28)
UNEVEN = np.array((12.0, 10.1, 9.6, 8.2, 7.9, 6.1))
WEEKS = np.arange(6.0)


def points(areas, days=DAYS, events=(), **numbers):
    return series_of(wound(events=events), [visit(*each, **numbers) for each in zip(days, areas, strict=True)]).points


def exact(rate, days=DAYS):
    return [12.0 * math.exp(-rate * day / 7) for day in days]


def test_rate_and_half_life_of_a_worked_example():
    """Letter in Wounds, July 2003: from 12 to 7.5 cm2 in four weeks k is 0.11750 a week, the half-life 5.899 weeks."""
    found = decay_of(points([12.0 * (7.5 / 12.0) ** (day / 28) for day in DAYS]))
    assert found.per_week == pytest.approx(0.11750, abs=5e-6)
    assert found.half_life_weeks == pytest.approx(5.899, abs=5e-4)
    assert found.area_cm2(on(28)) == pytest.approx(7.5)


@pytest.mark.parametrize("relative", [np.full(6, 0.04), np.array((0.02, 0.03, 0.05, 0.04, 0.06, 0.08))])
def test_the_line_is_that_of_numpy_and_scipy(relative):
    logs = np.log(UNEVEN)
    fit, scatter = line(WEEKS, logs, relative)
    sigma = np.hypot(relative, scatter)
    (slope, constant), covariance = np.polyfit(WEEKS, logs, 1, w=1 / sigma, cov=True)
    np.testing.assert_allclose(fit.coefficients, (constant, slope), rtol=1e-9)
    np.testing.assert_allclose(fit.covariance[::-1, ::-1] * fit.spread**2, covariance, rtol=1e-9)
    found, given = curve_fit(lambda x, a, b: a + b * x, WEEKS, logs, sigma=sigma, absolute_sigma=True)
    np.testing.assert_allclose(fit.coefficients, found, rtol=1e-6)
    np.testing.assert_allclose(fit.covariance, given, rtol=1e-6)


def test_the_curve_is_that_of_numpy():
    logs = np.log(UNEVEN)
    sigma = np.linspace(0.02, 0.08, 6)
    np.testing.assert_allclose(
        weighted(WEEKS, logs, sigma**2, 2).coefficients[::-1], np.polyfit(WEEKS, logs, 2, w=1 / sigma), rtol=1e-8
    )


def test_the_scatter_makes_the_residuals_as_they_should_be():
    fit, scatter = line(WEEKS, np.log(UNEVEN), np.full(6, 0.01))
    assert scatter > 0.02
    assert fit.chi2 == pytest.approx(fit.dof, rel=1e-5)
    _, none = line(WEEKS, np.log(UNEVEN), np.full(6, 0.2))
    assert none == 0


def test_scatter_that_is_put_in_is_found_again():
    random = np.random.default_rng(5)
    weeks = np.arange(12.0)
    squares = [
        line(weeks, -0.1 * weeks + random.normal(size=12) * np.hypot(0.05, 0.1), np.full(12, 0.05))[1] ** 2
        for _ in range(300)
    ]
    assert np.sqrt(np.mean(squares)) == pytest.approx(0.1, rel=0.07)


def test_the_interval_is_that_of_the_textbook_where_all_points_are_alike():
    """Prediction interval of a straight line: t s sqrt(1 + 1/n + (x - mean)**2 / Sxx)."""
    logs = np.log(UNEVEN)
    found = decay_of(points(UNEVEN, range(0, 42, 7), share=0.001))
    slope, constant = np.polyfit(WEEKS, logs, 1)
    s = math.sqrt(np.sum((logs - constant - slope * WEEKS) ** 2) / 4)
    half = student.ppf(0.975, 4) * s * math.sqrt(1 + 1 / 6 + (7 - 2.5) ** 2 / 17.5)
    middle = constant + slope * 7
    assert found.interval_cm2(on(49)) == pytest.approx(np.exp((middle - half, middle + half)), rel=1e-4)


def test_no_interval_is_narrower_than_measuring_makes_it():
    found = decay_of(points(exact(0.2)))
    low, high = found.interval_cm2(on(35))
    assert math.log(high / low) > 2 * 1.96 * 0.05
    slow, fast = found.half_life_interval
    assert slow < found.half_life_weeks < fast


@pytest.mark.parametrize(("visits", "scatter"), [(6, 0.1), (8, 0.2)])
def test_19_of_20_later_areas_lie_in_the_interval(visits, scatter):
    random = np.random.default_rng(6)
    trials = [benchmark.trial(visits, scatter, random) for _ in range(600)]
    assert 0.93 <= np.mean([each.within for each in trials]) <= 0.97


def test_the_table_tells_all_and_those_told():
    lines = list(benchmark.rows(3))
    assert len(lines) == 3 + len(benchmark.VISITS) * len(benchmark.SCATTERS) + 1
    assert lines[-1].startswith("| all | all | ")
    assert benchmark._cells([benchmark.Trial(within=True, told=False)] * 2) == "100.0 % | 0 % | "


@pytest.mark.parametrize(
    ("areas", "days", "says"),
    [
        ((12.0, 10.0, 8.0), (0, 7, 14), "Measured on 3 days; a weekly rate is told from 4 on."),
        ((12.0, 11.0, 10.0, 8.0, 7.0), (0, 0.1, 7, 7.1, 14), "Measured on 3 days"),
        ((12.0,), (0,), "Measured on 1 day;"),
        ((12.0, 11.0, 10.0, 9.0), (0, 3, 6, 9), "Measured over 9 days"),
        (exact(-0.2), DAYS, "The area grows"),
        ((12.0, 11.8, 12.1, 11.9, 12.0), DAYS, "scatter too much, or change too little"),
        ((12.0, 8.0, 6.5, 6.2, 6.15), DAYS, "shrinks slower than it did at first"),
        ((12.0, 11.9, 11.0, 8.6, 4.9), DAYS, "shrinks faster than it did at first"),
        ((12.0, 9.0, 0.0, 5.0, 4.0), DAYS, "An area is nothing"),
    ],
)
def test_where_no_rate_is_told_a_sentence_says_why(areas, days, says):
    found = decay_of(points(areas, days))
    assert isinstance(found, NoDecay)
    assert says in found.reason


def test_of_a_healed_wound_and_of_unknown_areas_no_rate_is_told():
    healed = points(exact(0.3), events=[(What.HEALED, 35)])
    assert "healed" in decay_of(healed).reason
    assert "not known" in decay_of(points(exact(0.3), share=math.nan)).reason
    assert "Measured on 0 days" in decay_of(()).reason


def test_numbers_that_claim_to_be_exact_are_fitted_too():
    assert isinstance(decay_of(points(exact(0.3), share=0.0)), Decay)
