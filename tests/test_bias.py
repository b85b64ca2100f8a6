"""How far each rater lies from the others, against published tables and by construction."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judges import JUDGES, study, table
from peak_flow import LARGE, MINI
from scipy.stats import ttest_1samp

from measure.agreement.bias import rater_bias, rater_ratio
from measure.agreement.errors import AgreementError


def values(found):
    return [each.statistic.value for each in found]


def test_two_raters_differ_as_two_meters_do():
    """Bland and Altman, Lancet 1986;i:307-310: mean difference -2.1 l/min; interval -22.0 to 17.8 (also pingouin)."""
    first, second = rater_bias(table(np.stack([LARGE[0], MINI[0]], axis=1), "l/min"))
    told = first.statistic
    assert (told.value, told.low, told.high) == pytest.approx((-2.117647, -22.0488, 17.8135), abs=1e-4)
    assert (told.unit, first.n, second.statistic.value) == ("l/min", 17, pytest.approx(2.117647, abs=1e-6))


def test_judges_lie_from_the_others_as_their_means_do():
    """From the table of Shrout and Fleiss 1979 by hand: 4/3 of each judge's mean less the mean of all."""
    expected = 4 / 3 * (JUDGES.mean(axis=0) - JUDGES.mean())
    assert values(rater_bias(table(JUDGES))) == pytest.approx(expected)


def test_the_interval_is_that_of_one_sample():
    told = rater_bias(table(JUDGES))[1].statistic
    others = JUDGES[:, [0, 2, 3]].mean(axis=1)
    expected = ttest_1samp(JUDGES[:, 1] - others, 0.0).confidence_interval(0.95)
    assert (told.low, told.high) == pytest.approx((expected.low, expected.high))
    assert "5 degrees of freedom" in told.method


def test_a_rater_who_draws_a_tenth_larger_has_that_ratio():
    cells = np.array([[2.0, 2.0, 2.2], [30.0, 30.0, 33.0], [7.0, 7.0, 7.7]])
    found = rater_ratio(table(cells))
    told = found[2].statistic
    assert (told.value, told.low, told.high) == pytest.approx((1.1, 1.1, 1.1))
    assert values(found)[0] == pytest.approx(1.1**-0.5)
    assert told.unit == ""


def test_trials_are_averaged_first():
    cells = np.stack([JUDGES - 0.5, JUDGES + 0.5], axis=2)
    assert values(rater_bias(table(cells))) == pytest.approx(values(rater_bias(table(JUDGES))))


def test_what_a_rater_has_not_measured_is_left_out_for_that_rater():
    cells = JUDGES.copy()
    cells[0, 3] = np.nan
    cells[1, [0, 1, 2]] = np.nan
    found = rater_bias(table(cells))
    assert [each.n for each in found] == [5, 5, 5, 4]
    assert found[3].statistic.value == pytest.approx((cells[2:, 3] - cells[2:, :3].mean(axis=1)).mean())


def test_one_shared_subject_gives_no_interval_and_none_no_figure():
    cells = np.array([[1.0, 2.0, np.nan], [3.0, np.nan, np.nan], [np.nan, np.nan, 5.0]])
    found = rater_bias(table(cells))
    assert [(each.rater, each.n) for each in found] == [("rater A", 1), ("rater B", 1)]
    assert not found[0].statistic.has_interval
    assert "no interval from one subject" in found[0].statistic.method


def test_raters_who_agree_exactly_lie_nowhere_from_each_other():
    told = rater_bias(table(np.full((4, 3), 2.5)))[0].statistic
    assert (told.value, told.low, told.high) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("observations", "words"),
    [
        (table([[1.0], [2.0]]), "two raters"),
        (table([[1.0, np.nan], [np.nan, 2.0]]), "two raters"),
        (replace(table([[1.0, 2.0]]), value=np.array(["slough", "granulation"])), "Categories"),
        (replace(table([[1.0, 2.0]]), method=np.array(["photo", "ruler"])), "several methods"),
    ],
)
def test_what_has_no_bias_is_refused(observations, words):
    with pytest.raises(AgreementError, match=words):
        rater_bias(observations)


def test_ratios_need_sizes_above_zero():
    with pytest.raises(AgreementError, match="above 0"):
        rater_ratio(table([[0.0, 1.0], [2.0, 3.0]]))


@settings(max_examples=30)
@given(st.integers(0, 1000), st.floats(-5, 5))
def test_they_add_up_to_nothing_and_a_shift_moves_only_who_is_shifted(seed, shift):
    cells = np.random.default_rng(seed).normal(10, 3, (5, 4))
    before = np.array(values(rater_bias(table(cells))))
    cells[:, 0] += shift
    after = np.array(values(rater_bias(table(cells))))
    assert before.sum() == pytest.approx(0, abs=1e-9)
    assert after - before == pytest.approx([shift, *[-shift / 3] * 3], abs=1e-9)


def test_the_order_of_the_rows_does_not_matter():
    told = study()
    mixed = told.where(np.ones(len(told.value), dtype=bool))
    order = np.random.default_rng(1).permutation(len(told.value))
    parts = {name: getattr(told, name)[order] for name in ("subject", "rater", "trial", "method", "value")}
    found = {each.rater: each.statistic.value for each in rater_bias(replace(mixed, **parts))}
    assert [found[each.rater] for each in rater_bias(told)] == pytest.approx(values(rater_bias(told)))
