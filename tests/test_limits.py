"""Limits of agreement: the published example to its last digit, its traps, and what can't be told."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from peak_flow import LARGE, MINI

from measure.agreement.errors import AgreementError
from measure.agreement.limits import limits_of_agreement, repeated_limits
from measure.agreement.observations import Observations
from measure.agreement.pairs import Pairs, Repeats, pairs


def _meters():
    """Return both meters' readings as pairs with repeats."""
    return Pairs(tuple(str(number) for number in range(1, 18)), tuple(LARGE.T), tuple(MINI.T))


def _table(rows):
    """Return observations of rows (subject, rater, method, value), their trials numbered one by one."""
    subject, rater, method, value = zip(*rows, strict=True)
    trial = [str(number) for number in range(len(rows))]
    return Observations(*(np.array(names) for names in (subject, rater, trial, method)), np.array(value, dtype=float))


def test_bias_and_limits_are_those_of_bland_and_altman():
    # Bland & Altman, Lancet 1986;i:307-310, first readings; bias and limits as pingouin 0.7.0 draws them too
    # (plot_blandaltman), slope and its p as statsmodels 0.15.0 has them (OLS).
    limits = limits_of_agreement(LARGE[0], MINI[0], unit="l/min")
    assert round(limits.bias.value, 6) == -2.117647
    assert round(limits.standard_deviation.value, 6) == 38.765130
    assert (round(limits.lower.value, 4), round(limits.upper.value, 4)) == (-78.0973, 73.8620)
    assert (round(limits.bias.low, 4), round(limits.bias.high, 4)) == (-22.0488, 17.8135)
    assert round((limits.bias.high - limits.bias.value) / 2.119905, 5) == 9.40193  # standard error; t with 16 df
    assert (round(limits.slope.value, 8), round(limits.slope_p, 8)) == (0.02868745, 0.74949853)
    assert (round(limits.slope.low, 8), round(limits.slope.high, 8)) == (-0.15932006, 0.21669495)
    assert limits.bias.unit == limits.lower.unit == limits.standard_deviation.unit == "l/min"
    assert limits.slope.unit == ""


def test_intervals_of_limits_reach_as_far_as_in_the_paper():
    # The paper's limits lie 2 standard deviations off; it prints -114.3 to -45.1 and 40.9 to 110.1 from rounded values.
    limits = limits_of_agreement(LARGE[0], MINI[0])
    reach = np.array((-1, 1)) * (limits.lower.high - limits.lower.value)
    assert round(reach[1] / 2.119905, 4) == 16.2846
    lower, upper = (limits.bias.value + side * 2 * limits.standard_deviation.value for side in (-1, 1))
    assert (round(lower, 3), round(upper, 3)) == (-79.648, 75.413)
    assert list(np.round(lower + reach, 2)) == [-114.17, -45.13]
    assert list(np.round(upper + reach, 2)) == [40.89, 109.93]
    assert limits.upper.high - limits.upper.value == pytest.approx(reach[1])


def test_limits_are_not_those_of_other_definitions():
    limits = limits_of_agreement(LARGE[0], MINI[0])
    population = LARGE[0] - MINI[0]
    drawn = population.mean() + np.array((-1.96, 1.96)) * population.std()  # mean_diff_plot of statsmodels 0.15.0
    assert list(np.round(drawn, 4)) == [-75.8287, 71.5934]
    normal = limits.bias.value + np.array((-1, 1)) * 1.959964 * limits.standard_deviation.value
    assert list(np.round(normal, 4)) == [-78.0959, 73.8606]
    for lower, upper in (drawn, normal):
        assert abs(limits.lower.value - lower) > 1e-3
        assert abs(limits.upper.value - upper) > 1e-3


def test_means_of_repeats_are_corrected_for_what_they_lost():
    # The same paper, both readings: it prints 33.2 for the means, 21.6 and 28.2 for the repeats, 37.7 corrected.
    both = _meters()
    assert round((both.first - both.second).std(ddof=1), 3) == 33.204
    large, mini = (Repeats.of(side) for side in (both.first_single, both.second_single))
    assert [round(math.sqrt(2 * side.variance), 1) for side in (large, mini)] == [21.6, 28.2]
    limits = repeated_limits(both, unit="l/min")
    assert round(limits.standard_deviation.value, 1) == 37.7
    assert limits.standard_deviation.value**2 == pytest.approx(33.204**2 + large.variance / 2 + mini.variance / 2, 1e-4)
    assert limits.upper.value == pytest.approx(limits.bias.value + 1.96 * limits.standard_deviation.value)
    assert limits.bias.value == pytest.approx((LARGE - MINI).mean())
    assert limits.exact is None


def test_repeats_that_drift_are_not_told_from_repeats_that_vary():
    # With standard deviations about the mean drift of the second reading, 21.724 and 28.872, it would be 37.801.
    about = [(side[0] - side[1]).std(ddof=1) for side in (LARGE, MINI)]
    assert list(np.round(about, 3)) == [21.724, 28.872]
    steady = [Repeats(spread**2 / 2, 16, 0.5) for spread in about]
    assert round(math.sqrt(33.204**2 + sum(side.missing for side in steady)), 3) == 37.801
    assert repeated_limits(_meters()).standard_deviation.value == pytest.approx(37.655, abs=5e-4)


def test_without_repeats_there_is_nothing_to_correct():
    single = Pairs(tuple("ab"), tuple(LARGE[:1, :2].T), tuple(MINI[:1, :2].T))
    assert repeated_limits(single).upper == limits_of_agreement(LARGE[0, :2], MINI[0, :2]).upper


def test_corrected_limits_hold_95_of_100_single_differences():
    random = np.random.default_rng(7)
    true = random.normal(20, 5, 4000)
    first = tuple(value + random.normal(0, 2, 1 + number % 3) for number, value in enumerate(true))
    second = tuple(value + 1 + random.normal(0, 3, 2) for value in true)
    limits = repeated_limits(Pairs(tuple(str(number) for number in range(4000)), first, second))
    assert limits.standard_deviation.value == pytest.approx(math.hypot(2, 3), rel=0.03)
    assert limits.bias.value == pytest.approx(-1, abs=0.15)
    single = np.array([one[0] - other[0] for one, other in zip(first, second, strict=True)])
    assert ((single > limits.lower.value) & (single < limits.upper.value)).mean() == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("count", [2, 4, 10, 40])
def test_exact_intervals_hold_the_true_limit_in_95_of_100_studies(count):
    one = limits_of_agreement(np.arange(float(count)), np.zeros(count))
    ends = np.array((one.exact[1].low, one.exact[1].high))
    factors = (ends - one.bias.value) / one.standard_deviation.value  # the same in every study of so many pairs
    studies = np.random.default_rng(count).normal(size=(20000, count))
    low, high = (studies.mean(axis=1) + factor * studies.std(axis=1, ddof=1) for factor in factors)
    assert ((low < 1.96) & (high > 1.96)).mean() == pytest.approx(0.95, abs=0.005)  # three standard errors


def test_ratios_say_by_what_factor_the_first_is_larger():
    true = np.array((1.0, 2.0, 5.0, 9.0, 20.0))
    limits = limits_of_agreement(true * (1.1, 1.2, 1.1, 1.2, 1.1), true, unit="cm2", log=True)
    assert limits.bias.value == pytest.approx((1.1**3 * 1.2**2) ** 0.2)
    assert limits.upper.value * limits.lower.value == pytest.approx(limits.bias.value**2)
    assert limits.mean == pytest.approx(true * np.sqrt((1.1, 1.2, 1.1, 1.2, 1.1)))
    assert limits.bias.unit == limits.standard_deviation.unit == ""
    assert limits.unit == "cm2"
    assert limits.bias.method.startswith("ratio of first to second: on natural logarithms")


@settings(max_examples=40)
@given(st.lists(st.tuples(st.floats(0.1, 100), st.floats(0.1, 100)), min_size=3, max_size=12), st.booleans())
def test_who_comes_first_changes_signs_alone(values, log):
    first, second = np.array(values).T
    one, other = limits_of_agreement(first, second, log=log), limits_of_agreement(second, first, log=log)
    if log:
        assert one.lower.value * other.upper.value == pytest.approx(1)
    else:
        assert one.lower.value == pytest.approx(-other.upper.value, abs=1e-9)
    assert one.lower.value <= one.bias.value <= one.upper.value
    assert one.lower.low <= one.lower.value <= one.lower.high


def test_the_same_differences_leave_no_room_and_no_slope():
    limits = limits_of_agreement([1.1, 2.3, 3.1], [1.0, 2.2, 3.0])
    found = (limits.bias, limits.lower, limits.upper, *limits.exact)
    assert [end for each in found for end in (each.low, each.value, each.high)] == pytest.approx([0.1] * 15)
    assert limits.standard_deviation.value == limits.standard_deviation.high == 0
    assert (limits.slope, limits.slope_p) == (None, None)
    assert limits.no_slope == "All differences are the same, so they don't change with the size."


def test_the_same_size_tells_no_slope():
    limits = limits_of_agreement([1.0, 2.0, 3.0], [3.0, 2.0, 1.0])
    assert limits.slope is None
    assert limits.no_slope == "Whether the difference changes with the size can't be told: all sizes are the same."


def test_two_pairs_give_limits_but_no_slope():
    limits = limits_of_agreement([1.0, 2.0], [1.5, 1.0])
    assert limits.upper.value == pytest.approx(0.25 + 1.96 * 1.5 / math.sqrt(2))
    assert limits.slope is None
    assert limits.no_slope == "Whether the difference changes with the size needs at least three pairs."


@pytest.mark.parametrize(
    ("first", "second", "log", "sentence"),
    [
        ([1.0], [2.0], False, "at least two pairs, and there is 1"),
        ([], [], False, "at least two pairs, and there is none"),
        ([1.0, 2.0], [1.0], False, "2 and 1 values were given"),
        ([1.0, math.nan], [1.0, 2.0], False, "no finite number"),
        ([1.0, 0.0], [1.0, 2.0], True, "values above 0"),
        ([1.0, 2.0], [-1.0, 2.0], True, "values above 0"),
        ([1.0, math.nan], [1.0, 2.0], True, "no finite number"),
    ],
)
def test_what_gives_no_limits_is_said(first, second, log, sentence):
    with pytest.raises(AgreementError, match=sentence):
        limits_of_agreement(first, second, log=log)


def test_pairs_are_means_of_each_subject_that_both_measured():
    table = _table(
        [
            ("p1", "A", "ruler", 4.0),
            ("p2", "A", "photo", 7.0),
            ("p1", "B", "ruler", 6.0),
            ("p1", "A", "photo", 5.5),
            ("p3", "A", "ruler", 1.0),
            ("p2", "B", "ruler", 8.0),
        ]
    )
    found = pairs(table, "ruler", "photo")
    assert found.subjects == ("p1", "p2")
    assert list(found.first) == [5.0, 8.0]
    assert list(found.second) == [5.5, 7.0]
    assert (found.left_out, found.repeated) == (1, True)


def test_raters_are_compared_with_one_method_at_a_time():
    rows = [("p1", "A", "ruler", 4.0), ("p2", "B", "ruler", 8.0), ("p1", "B", "ruler", 6.0), ("p2", "A", "ruler", 7.0)]
    found = pairs(_table(rows), "A", "B", by="rater")
    assert found.subjects == ("p1", "p2")
    assert list(found.first - found.second) == [-2.0, -1.0]
    with pytest.raises(AgreementError, match="with one method at a time"):
        pairs(_table([*rows, ("p1", "A", "photo", 4.0)]), "A", "B", by="rater")


def test_pairs_that_nobody_measured_both_ways_are_refused():
    table = _table([("p1", "A", "ruler", 4.0), ("p2", "A", "photo", 7.0)])
    one = table.by_method("ruler")
    with pytest.raises(AgreementError, match="No subject was measured both by ruler and by photo"):
        pairs(table, "ruler", "photo")
    with pytest.raises(AgreementError, match="No subject was measured both by A and by C"):
        pairs(one, "A", "C", by="rater")


def test_categories_have_no_limits():
    names = np.array(["p1", "p2"])
    table = Observations(names, names, names, names, np.array(["slough", "granulation"]))
    with pytest.raises(AgreementError, match="need numbers"):
        pairs(table, "p1", "p2")
