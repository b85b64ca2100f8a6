"""Intraclass correlations against the paper that named them, and against those who print them."""

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW, SHROUT_FLEISS
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import f

from measure.agreement.correlation import correlations, reliability
from measure.agreement.errors import AgreementError

NAMES = ("icc_1_1", "icc_a_1", "icc_c_1", "icc_1_k", "icc_a_k", "icc_c_k")


def six(table):
    found = correlations(np.asarray(table, dtype=np.float64))
    return [getattr(found, name) for name in NAMES]


def test_the_six_of_the_paper():
    """Shrout and Fleiss 1979, table 4: .17, .29, .71, .44, .62, .91; to 6 digits as pingouin 0.7.0 prints them."""
    found = six(SHROUT_FLEISS)
    assert [round(each.value, 2) for each in found] == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
    assert [round(each.value, 6) for each in found] == [0.165742, 0.289764, 0.714841, 0.442797, 0.620051, 0.909316]
    assert [round(each.value, 8) for each in found] == [
        0.16574177,
        0.28976378,
        0.71484071,
        0.44279713,
        0.62005055,
        0.90931554,
    ]


def test_their_intervals():
    """Formulae of McGraw and Wong 1996; published .019 to .761 and .342 to .946; pingouin 0.7.0 prints two digits."""
    found = [(each.low, each.high) for each in six(SHROUT_FLEISS)]
    assert [round(end, 3) for end in (*found[1], *found[2])] == [0.019, 0.761, 0.342, 0.946]
    assert [(round(low, 2), round(high, 2)) for low, high in found] == [
        (-0.13, 0.72),
        (0.02, 0.76),
        (0.34, 0.95),
        (-0.88, 0.91),
        (0.07, 0.93),
        (0.68, 0.99),
    ]
    assert [(round(low, 6), round(high, 6)) for low, high in found] == [
        (-0.132932, 0.722560),
        (0.018787, 0.761084),
        (0.342465, 0.945858),
        (-0.884442, 0.912415),
        (0.071137, 0.927232),
        (0.675675, 0.985892),
    ]


def test_the_mean_squares_of_the_paper():
    """11.24, 32.49, 1.02 and 6.26; F 1.79 (5, 18), p .1648, and 11.03 (5, 15), p .000135, as pingouin 0.7.0."""
    squares = correlations(SHROUT_FLEISS).squares
    found = (squares.between, squares.apart, squares.error, squares.within)
    assert [round(each, 6) for each in found] == [11.241667, 32.486111, 1.019444, 6.263889]
    assert (squares.subjects, squares.raters) == (6, 4)
    one_way, two_way = squares.between / squares.within, squares.between / squares.error
    assert (round(one_way, 2), round(two_way, 2)) == (1.79, 11.03)
    assert (round(f.sf(one_way, 5, 18), 4), round(f.sf(two_way, 5, 15), 6)) == (0.1648, 0.000135)


def test_a_table_on_its_side_is_another_table():
    """Judges taken for targets give numbers that look as good; pingouin 0.7.0 finds the same."""
    found = [round(each.value, 6) for each in six(SHROUT_FLEISS.T)]
    assert found == [0.574076, 0.594646, 0.837251, 0.889953, 0.897979, 0.968619]


def test_repeated_measurements_of_children():
    """Bland and Altman 1996's children: 0.88767, from the sums of squares that statsmodels 0.15.0 finds too."""
    assert round(correlations(PEAK_FLOW).icc_1_1.value, 5) == 0.88767


def test_each_says_what_it_is():
    methods = [each.method for each in six(SHROUT_FLEISS)]
    assert methods[0] == "ICC(1,1) of McGraw and Wong: one-way random effects, of one value; 95 % interval from F"
    assert methods[4] == (
        "ICC(A,k) of McGraw and Wong: two-way effects, absolute agreement, of the mean of 4 raters; "
        "95 % interval from F, approximate with few raters"
    )
    assert len(set(methods)) == 6
    assert all("McGraw" in each.source for each in six(SHROUT_FLEISS))


def test_subjects_with_a_gap_are_left_out_and_counted():
    gap = np.vstack([SHROUT_FLEISS, [5, np.nan, 6, 7], [np.nan] * 4])
    found = correlations(gap)
    assert found.left_out == 2
    assert found.squares.subjects == 6
    assert found.icc_a_1.value == correlations(SHROUT_FLEISS).icc_a_1.value


def test_a_constant_offset_of_a_rater_matters_to_agreement_alone():
    moved = SHROUT_FLEISS + np.array([0, 0, 20, 0])
    before, after = correlations(SHROUT_FLEISS), correlations(moved)
    assert after.icc_c_1.value == pytest.approx(before.icc_c_1.value)
    assert after.icc_a_1.value < before.icc_a_1.value / 2


def test_raters_that_never_differ_correlate_fully_without_an_interval():
    found = six(np.repeat([[1.1], [2.3], [4.7]], 3, axis=1))
    assert [each.value for each in found] == pytest.approx([1] * 6)
    assert not any(each.has_interval for each in found)
    assert "no interval, as raters or subjects hardly differ" in found[1].method


def test_raters_apart_by_a_constant_are_consistent():
    found = correlations(np.array([[1.0, 2.0], [3.0, 4.0], [6.0, 7.0]]))
    assert found.icc_c_1.value == pytest.approx(1)
    assert not found.icc_c_1.has_interval
    assert found.icc_a_1.low < found.icc_a_1.value < 1


def test_less_agreement_than_chance_leaves_no_correlation_of_the_mean():
    """The paper's numbers in another order; pingouin 0.7.0 prints 10.24 for ICC(A,k), which no correlation can be."""
    found = correlations(SHROUT_FLEISS.reshape(4, 6))
    assert (round(found.icc_a_1.value, 6), round(found.icc_c_k.value, 1)) == (-0.226553, -24.8)
    assert found.icc_a_k is None


@given(st.lists(st.lists(st.integers(0, 30), min_size=3, max_size=3), min_size=3, max_size=8))
def test_intervals_hold_the_value_whatever_the_table(rows):
    table = np.array(rows, dtype=np.float64)
    if np.ptp(table.sum(axis=1)) == 0:
        with pytest.raises(AgreementError, match="same mean"):
            correlations(table)
        return
    for each in six(table):
        if each is not None and each.has_interval:
            assert each.low <= each.value + 1e-9
            assert each.value <= each.high + 1e-9


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ([[1.0], [2.0]], "needs two raters"),
        ([[1.0, 2.0]], "at least two subjects that all 2 raters measured; the table holds one"),
        ([[1.0, np.nan], [np.nan, 2.0]], "the table holds none"),
        (np.full((4, 3), 0.1), "All subjects have the same mean"),
        ([[1.0, 2.0, 3.0], [3.0, 1.0, 2.0]], "All subjects have the same mean"),
    ],
    ids=["one rater", "one subject", "gaps", "alike", "same means"],
)
def test_what_can_not_be_found_is_said(table, sentence):
    with pytest.raises(AgreementError, match=sentence):
        correlations(np.array(table))


def test_words():
    """Koo and Li 2016: below .5 poor, to .75 moderate, to .9 good, above excellent."""
    found = [reliability(each) for each in (-0.2, 0.49, 0.5, 0.74, 0.75, 0.9, 0.91)]
    assert found == ["poor", "poor", "moderate", "moderate", "good", "good", "excellent"]
