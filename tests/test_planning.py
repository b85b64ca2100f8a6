"""Sizes of studies: each against simulated studies of that size, and against published sizes where there are some."""

import math

import numpy as np
import pytest
from scipy.stats import chi2, f, t

from measure.agreement.errors import AgreementError
from measure.agreement.planning import (
    Causes,
    Design,
    change_closeness,
    change_freedom,
    correlation_closeness,
    limits_closeness,
    photos_for_change,
    photos_for_correlation,
    photos_for_limits,
    photos_to_show,
)

RUNS = 1500
SOME = Causes(0.15, 0.30)


def variances(design, causes, random):
    """Return the variance between tracings of different raters that simulated studies find; it is 1."""
    n, r, trials = design.photos, design.raters, design.trials
    drawn = random.normal(0, math.sqrt(causes.rater), (RUNS, 1, r, 1))
    drawn = drawn + random.normal(0, math.sqrt(causes.photo), (RUNS, n, r, 1)) + random.normal(0, 3, (RUNS, n, 1, 1))
    drawn = drawn + random.normal(0, math.sqrt(causes.again), (RUNS, n, r, trials))
    cell = drawn.mean(axis=3)
    apart = cell - cell.mean(axis=2, keepdims=True)
    rater = apart.mean(axis=1, keepdims=True)
    within = ((drawn - cell[..., None]) ** 2).sum(axis=(1, 2, 3)) / max(n * r * (trials - 1), 1)
    interaction = ((apart - rater) ** 2).sum(axis=(1, 2)) / ((n - 1) * (r - 1))  # of means of so many trials
    # components: of the means' interaction without the repetition in it, of raters without both, of the repetition
    alone = interaction - within / trials if trials > 1 else interaction
    return (rater**2).sum(axis=(1, 2)) / (r - 1) - interaction / n + alone + within


@pytest.mark.parametrize("causes", [Causes(0.05, 0.25), SOME, Causes(0.4, 0.3)])
@pytest.mark.parametrize("design", [Design(24, 3, 2), Design(24, 3, 1), Design(12, 2, 2), Design(15, 6, 2)])
def test_simulated_studies_know_the_change_between_raters_as_closely_as_planned(design, causes):
    found = variances(design, causes, np.random.default_rng(21))
    freedom = change_freedom(design, causes)
    assert found.mean() == pytest.approx(1, abs=4 * found.std() / math.sqrt(RUNS))
    assert 2 / found.var() == pytest.approx(freedom, rel=0.25)
    low, high = (found * freedom / chi2.ppf(tail, freedom) for tail in (0.975, 0.025))
    assert np.mean((low < 1) & (high > 1)) == pytest.approx(0.955, abs=0.02)
    assert np.mean(np.abs(np.sqrt(found) - 1) <= change_closeness(design, causes)) >= 0.96


def test_simulated_studies_know_the_change_of_the_same_rater_as_closely_as_planned():
    design = Design(20, 2, 3)
    assert change_freedom(design, None) == 80
    random = np.random.default_rng(22)
    found = random.normal(size=(RUNS, 40, 3)).var(axis=2, ddof=1).mean(axis=1)
    upper = np.sqrt(found) * (1 + change_closeness(design, None))
    assert np.mean(upper > 1) == pytest.approx(0.975, abs=0.015)


def test_the_fewest_photos_are_found():
    for causes in (SOME, None):
        photos = photos_for_change(0.25, 4, 2, causes)
        assert change_closeness(Design(photos, 4, 2), causes) <= 0.25
        assert change_closeness(Design(photos - 1, 4, 2), causes) > 0.25
    photos = photos_for_limits(0.25)
    assert limits_closeness(photos) <= 0.25 < limits_closeness(photos - 1)
    for expected, raters in ((0.6, 2), (0.9, 2), (0.9, 5)):
        photos = photos_for_correlation(expected, 0.08, raters)
        assert correlation_closeness(expected, photos, raters) <= 0.08
        assert correlation_closeness(expected, photos - 1, raters) > 0.08


@pytest.mark.parametrize(("photos", "printed"), [(100, 0.34), (200, 0.24)])
def test_limits_are_known_to_so_many_standard_deviations(photos, printed):
    """Bland's page on sizes of studies of agreement (from memory): 0.34 s with 100, 0.24 s with 200 subjects."""
    assert 1.96 * limits_closeness(photos) == pytest.approx(printed, abs=0.005)


def test_simulated_studies_know_the_limits_as_closely_as_planned():
    photos = photos_for_limits(1 / 3)
    differences = np.random.default_rng(23).normal(size=(RUNS, photos))
    spread = differences.std(axis=1, ddof=1)
    limit = differences.mean(axis=1) + 1.96 * spread
    half = t.ppf(0.975, photos - 1) * math.sqrt(3 / photos) * spread
    assert np.mean(np.abs(limit - 1.96) < half) == pytest.approx(0.95, abs=0.025)
    assert np.mean(half) / 1.96 == pytest.approx(1 / 3, rel=0.03)


def mean_squares(correlation, photos, raters, random):
    """Return the ratio of the mean squares between and within photos of simulated studies."""
    drawn = random.normal(0, math.sqrt(correlation), (RUNS, photos, 1))
    drawn = drawn + random.normal(0, math.sqrt(1 - correlation), (RUNS, photos, raters))
    return raters * drawn.mean(axis=2).var(axis=1, ddof=1) / drawn.var(axis=2, ddof=1).mean(axis=1)


@pytest.mark.parametrize(("expected", "wished", "raters"), [(0.9, 0.05, 3), (0.8, 0.1, 2), (0.6, 0.1, 4)])
def test_simulated_studies_know_the_correlation_as_closely_as_planned(expected, wished, raters):
    """Their intervals are those of Shrout and Fleiss 1979 for a one-way correlation."""
    photos = photos_for_correlation(expected, wished, raters)
    ratio = mean_squares(expected, photos, raters, np.random.default_rng(24))
    freedom = photos - 1, photos * (raters - 1)
    low, high = (each / f.ppf(tail, *freedom) for each, tail in ((ratio, 0.975), (ratio, 0.025)))
    ends = [(each - 1) / (each + raters - 1) for each in (low, high)]
    assert np.mean((ends[0] < expected) & (ends[1] > expected)) == pytest.approx(0.95, abs=0.02)
    assert np.mean(ends[1] - ends[0]) / 2 == pytest.approx(wished, rel=0.08)


@pytest.mark.parametrize(("least", "expected", "raters"), [(0.6, 0.8, 2), (0.75, 0.9, 3), (0.5, 0.7, 4)])
def test_simulated_studies_show_a_correlation_as_often_as_planned(least, expected, raters):
    photos = photos_to_show(expected, least, raters)
    critical = (1 + raters * least / (1 - least)) * f.ppf(0.95, photos - 1, photos * (raters - 1))
    shown = [
        np.mean(mean_squares(each, photos, raters, np.random.default_rng(25)) > critical) for each in (expected, least)
    ]
    assert shown == pytest.approx([0.8, 0.05], abs=0.04)


def test_more_of_anything_tells_more_closely():
    plain = change_closeness(Design(20, 3, 2), SOME)
    for more in (Design(30, 3, 2), Design(20, 4, 2), Design(20, 3, 3)):
        assert change_closeness(more, SOME) < plain
    assert change_closeness(Design(20, 3, 2), Causes(0.4, 0.3)) > plain
    assert Design(20, 3, 2).tracings == 120


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (lambda: photos_for_change(0.1, 3, 2, Causes(0.3, 0.3)), "With 3 raters not even 500 photos will do"),
        (lambda: photos_for_change(0.25, 2, 2, Causes(0.4, 0.3)), "plan [0-9]+ raters, or be content"),
        (lambda: photos_for_change(0.001, 1, 2, None), "With 1 rater not even 500 photos will do; be content with"),
        (lambda: photos_for_change(0.25, 3, 1, None), "plan 2 tracings"),
        (lambda: photos_for_change(0.25, 1, 2, SOME), "plan 2 raters"),
        (lambda: photos_for_limits(0.01), "Not even 500 photos"),
        (lambda: limits_closeness(1), "at least 2 photos"),
        (lambda: photos_for_correlation(0.5, 0.01, 2), "Not even 500 photos"),
        (lambda: photos_for_correlation(1.0, 0.1, 2), "between 0 and 1"),
        (lambda: photos_for_correlation(0.8, 0.1, 1), "at least 2 raters"),
        (lambda: correlation_closeness(0.8, 4, 2), "needs more photos"),
        (lambda: photos_to_show(0.7, 0.8, 2), "expect a greater one"),
        (lambda: photos_to_show(0.801, 0.8, 2), "Not even 500 photos"),
        (lambda: Design(1, 3, 2), "at least 2 photos"),
        (lambda: Causes(0.6, 0.4), "together less than 1"),
        (lambda: Causes(-0.1, 0.4), "0 or more"),
    ],
)
def test_what_can_not_be_planned_is_a_sentence(asked, says):
    with pytest.raises(AgreementError, match=says):
        asked()


def test_the_raters_that_are_advised_do_with_a_hundred_photos():
    with pytest.raises(AgreementError) as refused:
        photos_for_change(0.25, 2, 2, Causes(0.4, 0.3))
    advised = next(int(word) for word in str(refused.value).split("plan ")[1].split() if word.isdigit())
    assert photos_for_change(0.25, advised, 2, Causes(0.4, 0.3)) <= 100
