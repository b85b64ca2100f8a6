"""Within-subject standard deviation: published examples to the last digit, who is compared, what can't be told."""

import math

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW
from hypothesis import given, settings
from hypothesis import strategies as st
from peak_flow import LARGE, MINI

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Observations
from measure.agreement.within import within_subject


def _trials(values, unit=""):
    """Return the trials of one rater, values of shape (subjects, trials); NaN where there is none."""
    subject, trial = np.indices(values.shape).reshape(2, -1)
    kept = ~np.isnan(values.ravel())
    names = [np.char.mod("%d", column[kept]) for column in (subject, np.zeros_like(subject), trial)]
    return Observations(*names, np.full(kept.sum(), ""), values.ravel()[kept], unit)


def _raters(values):
    """Return one trial each of several raters, values of shape (subjects, raters)."""
    table = _trials(values)
    return Observations(table.subject, table.trial, table.rater, table.method, table.value)


def test_the_scatter_is_that_of_bland_and_altman():
    # Bland & Altman, BMJ 1996;313:744 (prints 21.5 l/min); sums of squares, F and ICC as statsmodels 0.15.0 (anova_lm)
    # and pingouin 0.7.0 (intraclass_corr) have them.
    found = within_subject(_trials(PEAK_FLOW, "l/min"), same_rater=True)
    deviation = found.standard_deviation.value
    assert (round(deviation, 3), found.degrees, found.left_out) == (21.460, 60, 0)
    assert round(deviation**2 * found.degrees, 4) == 27631.25
    assert round(deviation**2, 4) == 460.5208
    assert (round(1.96 * deviation, 2), round(2.77 * deviation, 2)) == (42.06, 59.44)
    assert found.repeatability.value == pytest.approx(1.96 * math.sqrt(2) * deviation)
    assert found.standard_deviation.unit == found.repeatability.unit == "l/min"
    between = 4 * ((found.mean - found.mean.mean()) ** 2).sum()
    assert round(between, 4) == 285318.4375
    assert round(between / 19, 2) == 15016.76
    assert round(between / 19 / deviation**2, 2) == 32.61
    variance = (between / 19 - deviation**2) / 4
    assert round(variance, 2) == 3639.06
    assert round(variance / (variance + deviation**2), 5) == 0.88767


def test_its_scatter_does_not_grow_with_size():
    # The same note prints tau 0.16, P 0.3 (from memory); both to the last digit as scipy 1.17.1 has them (kendalltau).
    found = within_subject(_trials(PEAK_FLOW), same_rater=True)
    assert round(found.size_dependence.value, 8) == 0.16445681
    assert round(found.size_dependence_p, 8) == 0.31376226
    assert found.size_dependence.low < 0 < found.size_dependence.high
    assert found.mean == pytest.approx(PEAK_FLOW.mean(axis=1))
    assert found.scatter == pytest.approx(PEAK_FLOW.std(axis=1, ddof=1))


@pytest.mark.parametrize(
    ("readings", "expected"),
    [(LARGE, (15.3067, 42.40, 43.294)), (MINI, (19.9108, 55.15, 56.316))],
    ids=["large", "mini"],
)
def test_pairs_of_readings_repeat_as_in_the_paper(readings, expected):
    # Bland & Altman, Lancet 1986;i:307-310, whose coefficient of repeatability is 2 root-mean-square differences.
    found = within_subject(_trials(readings.T), same_rater=True)
    deviation = found.standard_deviation.value
    figures = round(deviation, 4), round(2.77 * deviation, 2), round(2 * math.sqrt(2) * deviation, 3)
    assert figures == expected


def test_nine_in_ten_and_five_more_intervals_hold_the_true_scatter():
    random = np.random.default_rng(3)
    sizes = random.uniform(1, 30, 15)[:, np.newaxis]
    held = []
    for _ in range(400):
        found = within_subject(_trials(sizes + random.normal(0, 2, (15, 3))), same_rater=True).standard_deviation
        held.append(found.low < 2 < found.high)
    assert np.mean(held) == pytest.approx(0.95, abs=0.033)  # three standard errors


def test_a_raters_repeats_do_not_pass_for_agreement_between_raters():
    random = np.random.default_rng(5)
    size, bias = random.uniform(5, 30, (200, 1, 1)), random.normal(0, 3, (200, 4, 1))
    subject, rater, trial = np.indices((200, 4, 3)).reshape(3, -1)
    names = [np.char.mod("%d", column) for column in (subject, rater, trial)]
    value = (size + bias + random.normal(0, 1, (200, 4, 3))).ravel()
    table = Observations(*names, np.full(value.size, ""), value)
    same, other = (within_subject(table, same_rater=each) for each in (True, False))
    assert same.standard_deviation.value == pytest.approx(1, rel=0.05)
    assert other.standard_deviation.value == pytest.approx(math.sqrt(10), rel=0.08)
    assert (same.degrees, other.degrees) == (1600, 600)
    assert len(same.mean) == len(other.mean) == 200


def test_methods_do_not_mix():
    names = np.array(["p1", "p1", "p1", "p1", "p2", "p2", "p2", "p2"])
    table = Observations(
        names,
        np.full(8, "A"),
        np.array(["1", "2"] * 4),
        np.array(["ruler", "ruler", "photo", "photo"] * 2),
        np.array([10.0, 10, 20, 20, 5, 5, 9, 9]),
    )
    assert within_subject(table, same_rater=True).standard_deviation.value == 0
    assert within_subject(table.by_method("ruler"), same_rater=True).degrees == 2


def test_errors_that_grow_with_the_size_are_seen_and_gone_in_logarithms():
    random = np.random.default_rng(11)
    values = np.exp(random.uniform(0, 4, (60, 1)) + random.normal(0, 0.1, (60, 3)))
    table = _trials(values, "cm2")
    assert within_subject(table, same_rater=True).size_dependence_p < 1e-6
    logged = within_subject(table.logged(), same_rater=True)
    assert logged.size_dependence_p > 0.05
    assert logged.standard_deviation.value == pytest.approx(0.1, rel=0.15)
    assert logged.standard_deviation.unit == ""


def test_missing_values_cost_their_own_degrees_alone():
    values = PEAK_FLOW.copy()
    values[0, 1:] = np.nan
    values[3, 2] = np.nan
    found = within_subject(_trials(values), same_rater=True)
    assert (found.degrees, found.left_out, len(found.mean)) == (56, 1, 19)
    kept = [row[~np.isnan(row)] for row in values]
    assert found.standard_deviation.value**2 * 56 == pytest.approx(sum(row.var() * row.size for row in kept))
    assert found.subjects == tuple(str(number) for number in range(1, 20))


@settings(max_examples=40)
@given(st.lists(st.tuples(*[st.floats(-50, 50)] * 3), min_size=2, max_size=9), st.floats(-100, 100))
def test_what_is_added_to_a_subject_changes_nothing(rows, shift):
    values = np.array(rows)
    moved = values + shift * np.arange(len(rows))[:, np.newaxis]
    one, other = (within_subject(_trials(each), same_rater=True).standard_deviation for each in (values, moved))
    assert (one.low, one.value, one.high) == pytest.approx((other.low, other.value, other.high), abs=1e-9)
    assert one.low <= one.value <= one.high


def test_identical_values_scatter_by_nothing():
    found = within_subject(_trials(np.repeat([[0.1], [2.3], [4.7]], 3, axis=1)), same_rater=True)
    assert (found.standard_deviation.low, found.standard_deviation.value, found.standard_deviation.high) == (0, 0, 0)
    assert found.repeatability.value == 0
    assert found.size_dependence is None
    assert found.size_dependence_p is None
    assert "all subjects scatter by the same amount" in found.no_size_dependence


def test_equal_steps_are_equal_whatever_their_rounding():
    found = within_subject(_trials(np.array([(0.1, 0.2), (0.2, 0.3), (0.7, 0.8), (1.1, 1.2)])), same_rater=True)
    assert "all subjects scatter by the same amount" in found.no_size_dependence


def test_the_same_size_and_two_subjects_tell_no_dependence():
    found = within_subject(_trials(np.array([(1.0, 3), (0.0, 4), (-1.0, 5)])), same_rater=True)
    assert "all subjects have the same size" in found.no_size_dependence
    found = within_subject(_trials(np.array([(1.0, 3), (0.0, 9)])), same_rater=True)
    assert "at least three subjects" in found.no_size_dependence


def test_few_subjects_or_a_strong_tie_have_no_interval():
    few = within_subject(_trials(PEAK_FLOW[:9]), same_rater=True).size_dependence
    assert not few.has_interval
    sizes = np.arange(1.0, 13)
    strong = within_subject(_trials(np.column_stack([sizes, 2 * sizes])), same_rater=True).size_dependence
    assert (strong.value, strong.has_interval) == (pytest.approx(1), False)


def test_one_subject_is_enough_for_a_scatter():
    found = within_subject(_trials(np.array([(4.0, 6.0)])), same_rater=True)
    assert found.standard_deviation.value == pytest.approx(math.sqrt(2))
    assert found.standard_deviation.high > 10 * found.standard_deviation.value


def test_what_gives_no_scatter_is_said():
    with pytest.raises(AgreementError, match="No rater measured a subject twice"):
        within_subject(_raters(PEAK_FLOW), same_rater=True)
    with pytest.raises(AgreementError, match="No subject was measured by two raters"):
        within_subject(_trials(PEAK_FLOW), same_rater=False)
    with pytest.raises(AgreementError, match="No rater measured a subject twice"):
        within_subject(_trials(np.array([[3.0]])), same_rater=True)


def test_categories_have_no_scatter():
    names = np.array(["p1", "p2"])
    table = Observations(names, names, names, names, np.array(["slough", "granulation"]))
    with pytest.raises(AgreementError, match="needs numbers"):
        within_subject(table, same_rater=True)
