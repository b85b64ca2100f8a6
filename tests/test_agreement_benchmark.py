"""The benchmark of agreement studies is run by hand; here it is kept honest, on few studies."""

import numpy as np
import pytest
from agreement_tables import SHROUT_FLEISS

from measure.agreement.measurement_error import FACTOR, Kind
from measure.agreement.statistic import Statistic
from tests.benchmarks import agreement
from tests.benchmarks.agreement import ALIKE, APART, LARGE, SMALL, STUDIES, Spreads, Study


def test_tables_are_drawn_with_the_spreads():
    table = Spreads(4.0, 3.0, 2.0, 1.0).table((300, 300, 2), 0.0, np.random.default_rng(3))
    cells = table.mean(axis=2)
    assert table.std(axis=2, ddof=1).mean() == pytest.approx(np.sqrt(2 / np.pi), rel=0.02)
    assert cells.mean(axis=1).std(ddof=1) == pytest.approx(4.0, rel=0.13)  # 3 standard errors of 300
    assert cells.mean(axis=0).std(ddof=1) == pytest.approx(3.0, rel=0.13)
    left = cells - cells.mean(axis=1, keepdims=True) - cells.mean(axis=0) + cells.mean()
    assert left.std() == pytest.approx(np.sqrt(4 + 1 / 2), rel=0.02)
    lost = APART.table((40, 5, 3), 0.3, np.random.default_rng(3))
    assert np.isnan(lost).mean() == pytest.approx(0.3, abs=0.06)


def test_the_truth_follows_from_the_spreads():
    true = agreement.truths(Spreads(3.0, 2.0, 1.0, 2.0))
    assert (true[Kind.AGREEMENT], true[Kind.CONSISTENCY], true[Kind.SAME_RATER]) == (3.0, np.sqrt(5), 2.0)
    assert (true["ICC(A,1)"], true["ICC(C,1)"]) == (0.5, 9 / 14)
    assert true["relative"] == pytest.approx(2 * np.tanh(FACTOR * 3 / 2))


@pytest.mark.parametrize("study", [STUDIES[0], STUDIES[4], STUDIES[7]], ids=lambda study: study.name)
def test_intervals_hold_the_truth_and_variances_are_right_on_the_mean(study):
    random = np.random.default_rng(11)
    trials = [agreement.trial(study, random) for _ in range(60)]
    true = agreement.truths(study.spreads)
    for name in trials[0].found:
        within = [each.found[name].low <= true[name] <= each.found[name].high for each in trials]
        assert np.mean(within) > 0.86, name  # 95 % less 3 standard errors of 60
    errors = [each.parts[3] for each in trials]
    assert np.mean(errors) == pytest.approx(study.spreads.error**2, rel=0.13)


def test_correlations_are_asked_of_complete_studies_alone():
    random = np.random.default_rng(2)
    complete, gaps, alike = (agreement.trial(STUDIES[number], random) for number in (0, 1, 6))
    assert {"ICC(A,1)", "ICC(C,1)"} <= set(complete.found)
    assert "ICC(1,1)" not in complete.found
    assert "ICC(1,1)" in alike.found
    assert not any(name.startswith("ICC") for name in gaps.found)


def test_a_study_that_tells_nothing_counts_as_such():
    found = agreement.trial(Study((1, 3, 2), 0.0, APART), np.random.default_rng(1))
    assert found.parts is None
    once = agreement.trial(Study((6, 3, 1), 0.0, ALIKE), np.random.default_rng(1))
    assert once.found[Kind.SAME_RATER] is None


def test_a_cell_tells_coverage_width_and_what_gave_none():
    some = [Statistic(2.0, 1.0, 4.0), Statistic(4.0, 3.5, 5.0), None, Statistic(2.0)]
    assert agreement._coverage(some, 3.0) == "50.0 % (0.69 to 1.62, none in 2)"
    assert agreement._coverage(some[:1], 3.0) == "100.0 % (0.50 to 2.00)"
    assert agreement._coverage([None], 3.0) == ""


def test_biases_are_in_percent_of_the_true_variances():
    spreads = Spreads(2.0, 0.0, 0.0, 1.0)
    found = [agreement.Trial((4.4, 0.2, None, error), {Kind.AGREEMENT: Statistic(1.5)}) for error in (1.0, 1.2)]
    assert list(agreement._biases(Study((9, 3, 1), 0.0, spreads), found)) == ["+10.0", "+20.0", "", "+10.0", "+50.0"]


def test_the_tables_have_a_row_a_study():
    lines = list(agreement.rows(2))
    assert len([line for line in lines if line.startswith("| 12 x 3 x 2 | 25 % | 10 % |")]) == 2
    assert len([line for line in lines if line.startswith("| 8 x 3 | 0 % |")]) == 1
    assert lines[-1].startswith("| 5000 | ")
    width = {line.count("|") for line in lines if " x 2 | " in line and line.count("|") > 9}
    assert width == {11}


def test_observations_are_those_of_the_table():
    table = np.where(SHROUT_FLEISS == 10, np.nan, SHROUT_FLEISS)
    found = agreement.observed(table[:, :, None])
    assert (len(found.value), found.missing) == (23, 1)
    np.testing.assert_array_equal(found.crossed(), table)


def test_ten_times_the_rows_take_no_hundred_times_as_long():
    """Matrices as large as the data would: 100 times the memory, and 1000 times the work."""
    small, large = (agreement.observed(APART.table(shape, 0.0, np.random.default_rng(1))) for shape in (SMALL, LARGE))
    assert (len(small.value), len(large.value)) == (500, 5000)
    assert agreement.seconds_of(large) < 30 * agreement.seconds_of(small)
