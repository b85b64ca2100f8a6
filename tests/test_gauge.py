"""Gauge studies against the published example, by both methods, which judge it differently."""

import numpy as np
import pytest
from agreement_tables import SHROUT_FLEISS, observations_of

from measure.agreement.components import components
from measure.agreement.errors import AgreementError
from measure.agreement.gauge import analysis_of_variance, average_and_range, range_factor
from measure.agreement.measurement_error import standard_error

LINES = """
 0.29 -0.56 1.34 0.47 -0.80  0.02 0.59 -0.31 2.26 -1.36
 0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25
 0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31
 0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68
 0.25 -1.22 0.94 1.03 -1.20  0.22 0.55  0.08 2.12 -1.62
 0.07 -0.68 1.34 0.20 -1.28  0.06 0.83 -0.34 2.19 -1.50
 0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
-0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77
-0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16
"""
"""AIAG Measurement Systems Analysis, 4th edition: 3 appraisers, 3 trials each (lines), 10 parts."""

PARTS = np.array(LINES.split(), dtype=np.float64).reshape(3, 3, 10).transpose(2, 0, 1)


def values(found):
    return [
        each.value
        for each in (found.repeatability, found.reproducibility, found.measuring, found.subjects, found.whole)
    ]


def test_averages_and_ranges():
    """AIAG, 4th edition: .202, .230, .306, 1.105, 1.146; 17.61, 20.04, 26.68 and 96.37 %; 5 categories of 5.09."""
    found = average_and_range(observations_of(PARTS))
    assert [round(each, 3) for each in values(found)] == [0.202, 0.230, 0.306, 1.105, 1.146]
    assert [round(each, 4) for each in values(found)] == [0.2019, 0.2297, 0.3058, 1.1046, 1.1461]
    assert [round(each, 6) for each in values(found)] == [0.201857, 0.229667, 0.305766, 1.104596, 1.146135]
    parts = (found.repeatability, found.reproducibility, found.measuring, found.subjects)
    # 96.37 is printed cut off, or from rounded parts: it is 96.376
    assert [round(found.percent_of(each), 2) for each in parts] == [17.61, 20.04, 26.68, 96.38]
    assert found.percent_of(found.subjects) == pytest.approx(96.37, abs=0.01)
    assert round(found.percent.value, 2) == 26.68
    assert (round(found.categories.value, 2), found.distinct) == (5.09, 5)
    assert found.interaction_p is None
    (sentence,) = found.sentences
    assert sentence == (
        "Measuring makes 26.7 % of the whole spread, which the manual calls usable for some purposes; it tells 5 "
        "groups of sizes apart, enough. Both depend on how much the subjects of this study differ."
    )


def test_its_steps():
    """The sheet of the example: mean range .341667, range of appraisers .444667, of parts 3.511111."""
    assert round(np.ptp(PARTS, axis=2).mean(), 6) == 0.341667
    assert round(np.ptp(PARTS.mean(axis=(0, 2))), 6) == 0.444667
    assert round(np.ptp(PARTS.mean(axis=(1, 2))), 6) == 3.511111
    found = average_and_range(observations_of(PARTS))
    assert "3 trials (0.5908), 3 raters (0.5231) and 10 subjects (0.3146)" in found.repeatability.method


def test_factors():
    """K1, K2 and K3 of AIAG's 4th edition (its 3rd has others, for 5.15 standard deviations)."""
    assert [range_factor(trials) for trials in (2, 3)] == [0.8862, 0.5908]
    assert [range_factor(raters, 1) for raters in (2, 3)] == [0.7071, 0.5231]
    assert [range_factor(parts, 1) for parts in range(2, 11)] == [
        0.7071,
        0.5231,
        0.4467,
        0.4030,
        0.3742,
        0.3534,
        0.3375,
        0.3249,
        0.3146,
    ]
    drawn = np.ptp(np.random.default_rng(4).normal(size=(200_000, 12)), axis=1)
    assert 1 / range_factor(12) == pytest.approx(drawn.mean(), rel=0.002)
    assert 1 / range_factor(12, 1) == pytest.approx(np.sqrt((drawn**2).mean()), rel=0.002)


def test_analysis_of_variance():
    """McNeese 2015, interaction pooled: .0400, .0515, 1.086, .0914; 27.86 %; 4 categories of 4.86.

    statsmodels 0.15.0 finds the same table (anova_lm) and, by mixedlm (REML), .051456, 1.086427 and .039973.
    """
    found = analysis_of_variance(observations_of(PARTS))
    assert found.pooled
    assert round(found.interaction_p, 3) == 0.974
    squares = [each**2 for each in values(found)]
    assert [round(each, 4) for each in squares[:3]] == [0.0400, 0.0515, 0.0914]
    assert round(squares[3], 3) == 1.086
    assert [round(each, 5) for each in squares] == [0.03997, 0.05146, 0.09143, 1.08645, 1.17788]
    assert squares[:2] == pytest.approx([0.039973, 0.051456], abs=2e-6)  # found by iteration there
    assert squares[3] == pytest.approx(1.086427, abs=3e-5)
    assert round(found.percent.value, 2) == 27.86
    assert (round(found.categories.value, 2), found.distinct) == (4.86, 4)
    assert found.sentences[0] == (
        "The interaction of raters with subjects (p = 0.974) was put into the error, as p is above 0.25."
    )
    assert "tells 4 groups of sizes apart, fewer than the 5 that are wished for" in found.sentences[-1]


def test_its_table():
    """SS 88.361934, 3.167262, .358982 and 2.758933; F .434; pooled SS 3.118 (78), MS .0399733; statsmodels 0.15.0."""
    apart, together = (components(observations_of(PARTS), interaction=each).mean_squares for each in (True, False))
    assert [round(row.sum_of_squares, 6) for row in apart] == [88.361934, 3.167262, 0.358982, 2.758933]
    assert [row.degrees_of_freedom for row in apart] == [9, 2, 18, 60]
    assert round(apart[2].value / apart[3].value, 3) == 0.434
    assert (round(together[2].sum_of_squares, 3), together[2].degrees_of_freedom) == (3.118, 78)
    assert round(together[2].value, 7) == 0.0399733


def test_the_interaction_kept_apart_comes_out_negative():
    """.045982, -.008680, .052123 and 1.088672, by hand from the table above; the second is set to 0, and said."""
    found = analysis_of_variance(observations_of(PARTS), pool_above=1.0)
    assert not found.pooled
    squares = [each**2 for each in values(found)]
    assert [round(each, 6) for each in (*squares[:2], squares[3])] == [0.045982, 0.052123, 1.088672]
    assert "The variance of the interaction came out as -0.00868, which" in found.sentences[1]
    assert found.sentences[0].endswith("was kept apart from the error, as p is not above 1.")


def test_measuring_is_the_standard_error_of_any_two_raters():
    observations = observations_of(PARTS, "mm")
    found = analysis_of_variance(observations, pool_above=1.0)
    error = standard_error(components(observations))
    assert (found.measuring.value, found.measuring.low) == (error.value, error.low)
    assert found.measuring.high == error.high
    assert found.measuring.unit == "mm"
    assert found.measuring.method.startswith("analysis of variance, interaction apart")


def test_gaps_are_refused_by_ranges_and_taken_by_variance():
    table = PARTS.copy()
    table[3, 1, 2] = np.nan
    with pytest.raises(AgreementError, match="fill the gaps, or use the analysis of variance"):
        average_and_range(observations_of(table))
    found = analysis_of_variance(observations_of(table))
    assert found.percent.value == pytest.approx(27.86, abs=2)


def test_raters_alike_have_no_reproducibility():
    table = np.array([[[1.0, 2.0], [2.0, 1.0]], [[5.0, 6.0], [6.0, 5.0]], [[9.0, 8.0], [8.0, 9.0]]])
    found = average_and_range(observations_of(table))
    assert found.reproducibility.value == 0.0
    assert found.sentences[0] == "Raters differ no more than repeated values do; reproducibility was set to 0."
    assert "there are 6, so repeatability is a little too large" in found.sentences[1]


@pytest.mark.parametrize("analyse", [average_and_range, analysis_of_variance])
@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        (SHROUT_FLEISS, "at least t"),
        (PARTS[:, :1], "at least t"),
        (PARTS[:1], "at least two"),
        (np.repeat(SHROUT_FLEISS[:, :1, None], 4, axis=1).repeat(2, axis=2), "No two measurements of a subject differ"),
    ],
    ids=["one trial", "one rater", "one subject", "alike"],
)
def test_what_can_not_be_found_is_said(analyse, table, sentence):
    with pytest.raises(AgreementError, match=sentence):
        analyse(observations_of(table))
