"""Variance components against published tables, dense algebra, and what can't be found."""

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW, SHROUT_FLEISS, observations_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from measure.agreement.components import components
from measure.agreement.errors import AgreementError
from measure.agreement.observations import Observations

RANDOM = np.random.default_rng(6)


def studied(shape, *spreads, random=RANDOM):
    """Draw a table (subjects, raters, trials) with standard deviations of subject, rater, interaction and error."""
    subjects, raters, trials = shape
    shapes = ((subjects, 1, 1), (1, raters, 1), (subjects, raters, 1), (subjects, raters, trials))
    return sum(spread * random.normal(size=each) for spread, each in zip(spreads, shapes, strict=True))


def gaps(shape, *missing):
    """Return a drawn table with some cells missing."""
    table = studied(shape, 3.0, 1.0, 0.7, 0.5)
    for place in missing:
        table[place] = np.nan
    return table


def test_judges():
    """Shrout and Fleiss 1979: mean squares 11.24, 32.49 and 1.02; pingouin 0.7.0 finds the correlations of these."""
    found = components(observations_of(SHROUT_FLEISS))
    assert [row.name for row in found.mean_squares] == ["subject", "rater", "error"]
    assert [row.degrees_of_freedom for row in found.mean_squares] == [5, 3, 15]
    assert [round(row.value, 6) for row in found.mean_squares] == [11.241667, 32.486111, 1.019444]
    assert [round(value, 6) for value in (found.subject, found.rater, found.error)] == [2.555556, 5.244444, 1.019444]
    assert found.interaction is None
    assert not found.repeated
    assert (found.subjects, found.raters, found.values, found.sentences) == (6, 4, 24, ())


def test_children():
    """Bland and Altman 1996, one meter: the sums of squares, recomputed with statsmodels 0.15.0 (anova_lm)."""
    found = components(observations_of(PEAK_FLOW[:, None, :]))
    children, within = found.mean_squares
    assert (round(children.sum_of_squares, 4), children.degrees_of_freedom) == (285318.4375, 19)
    assert (round(within.sum_of_squares, 4), within.degrees_of_freedom) == (27631.25, 60)
    assert (round(children.value, 2), round(within.value, 4)) == (15016.76, 460.5208)
    assert round(children.value / within.value, 2) == 32.61
    assert round(found.subject, 2) == 3639.06
    assert found.rater is None
    assert found.repeated


def balanced(table):
    """Return the components of a complete table by the formulae of the textbooks (as Searle and others, chapter 4)."""
    s, r, t = table.shape
    cells = table.mean(axis=2)
    subjects, raters = cells.mean(axis=1, keepdims=True), cells.mean(axis=0, keepdims=True)
    of_subjects = r * t * subjects.var(ddof=1)
    of_raters = s * t * raters.var(ddof=1)
    crossed = t * ((cells - subjects - raters + cells.mean()) ** 2).sum() / ((s - 1) * (r - 1))
    error = table.var(axis=2, ddof=1).mean()
    return (of_subjects - crossed) / (r * t), (of_raters - crossed) / (s * t), (crossed - error) / t, error


@pytest.mark.parametrize("shape", [(12, 3, 2), (4, 7, 3), (2, 2, 2)], ids=str)
def test_a_complete_table_is_the_analysis_of_variance(shape):
    table = studied(shape, 5.0, 2.0, 1.5, 0.5) + 40
    found = components(observations_of(table))
    expected = np.maximum(balanced(table), 0)
    np.testing.assert_allclose([found.subject, found.rater, found.interaction, found.error], expected, rtol=1e-9)


def dense(table):
    """Return sums of squares and the traces that are their expectations, from matrices as large as the data."""
    told = ~np.isnan(table)
    subject, rater, _ = (numbers[told] for numbers in np.indices(table.shape))
    value = table[told]
    of_subject, of_rater, of_cell = (
        (names[:, None] == np.unique(names)).astype(float) for names in (subject, rater, subject * 1000 + rater)
    )
    on_subject, on_rater, on_cell, on_both = (
        part @ np.linalg.pinv(part) for part in (of_subject, of_rater, of_cell, np.hstack([of_subject, of_rater]))
    )
    forms = (on_both - on_rater, on_both - on_subject, on_cell - on_both, np.eye(len(value)) - on_cell)
    effects = (of_subject, of_rater, of_cell, np.eye(len(value)))
    traces = np.array([[np.trace(part.T @ form @ part) for part in effects] for form in forms])
    return np.array([value @ form @ value for form in forms]), traces


@pytest.mark.parametrize(
    "table",
    [
        gaps((5, 3, 2), (0, 0), (1, 1, 0), (4, 2, 1)),
        gaps((3, 6, 2), (0, 0), (1, slice(3), 1), (2, 4)),
        gaps((6, 4, 3), (slice(3), slice(2)), (slice(3, 6), slice(2, 4)), (0, 2, 0)),  # two halves without a tie
        gaps((8, 3, 1), (0, 0), (5, 1)),
    ],
    ids=["cells", "wide", "halves", "once"],
)
def test_gaps_are_what_dense_algebra_says(table):
    rows = components(observations_of(table)).mean_squares
    squares, traces = dense(table)
    kept = [0, 1, 2, 3] if len(rows) == 4 else [0, 1, 2]  # where nothing is repeated the interaction is the error
    np.testing.assert_allclose([row.sum_of_squares for row in rows], squares[kept], rtol=1e-8)
    degrees = np.array([row.degrees_of_freedom for row in rows])
    np.testing.assert_allclose(degrees, traces[kept, 3], rtol=1e-9)
    columns = [0, 1, 2, 3] if len(rows) == 4 else [0, 1, 3]
    expected = traces[np.ix_(kept, columns)] / degrees[:, None]
    np.testing.assert_allclose([row.expected for row in rows], expected, rtol=1e-8, atol=1e-9)


def test_leaving_the_interaction_out_puts_it_into_the_error():
    observations = observations_of(studied((8, 3, 2), 3.0, 1.0, 0.7, 0.5))
    apart, together = components(observations), components(observations, interaction=False)
    assert together.interaction is None
    *_, crossed, error = apart.mean_squares
    assert together.error == pytest.approx((crossed.sum_of_squares + error.sum_of_squares) / (14 + 24))


def test_a_negative_component_is_0_and_said():
    table = np.array([[[1.0, 3.0], [3.0, 1.0]], [[7.0, 5.0], [5.0, 7.0]], [[11.0, 9.0], [9.0, 11.0]]])
    found = components(observations_of(table))
    assert (found.rater, found.interaction) == (0.0, 0.0)
    (sentence,) = found.sentences
    assert sentence == (
        "The variance of the interaction came out as -1, which no variance can be, and was set to 0: it is too small "
        "for this study to see."
    )
    spread = found.spread("rater")
    assert spread.value == spread.low == 0.0
    assert spread.high >= 0


def test_a_spread_has_an_interval_and_says_how():
    found = components(observations_of(studied((30, 4, 3), 3.0, 1.0, 0.7, 0.5), "cm2"))
    error = found.spread("error")
    # of one mean square it is the textbook's: degrees of freedom times the square over chi-squared
    ends = np.sqrt(240 / chi2.ppf([0.975, 0.025], 240))
    assert (error.low / error.value, error.high / error.value) == pytest.approx(ends)
    assert error.unit == "cm2"
    assert "Henderson" in error.method
    assert "large-sample" in error.method
    assert "Graybill" in error.source


def test_raters_that_no_subject_ties_together_have_no_component():
    """Each rater has photos of their own: apart or not, nobody can say."""
    table = studied((6, 2, 2), 3.0, 1.0, 0.7, 0.5)
    table[:3, 0], table[3:, 1] = np.nan, np.nan
    found = components(observations_of(table))
    assert found.rater is None
    assert found.interaction is None
    with pytest.raises(AgreementError, match="how much of the spread comes from the rater"):
        found.spread("rater")


@settings(max_examples=20)
@given(scale=st.floats(1e-3, 1e3), shift=st.floats(-1e3, 1e3))
def test_units_and_origins_do_not_matter(scale, shift):
    base = components(observations_of(SHROUT_FLEISS))
    moved = components(observations_of(SHROUT_FLEISS * scale + shift))
    expected = np.array([base.subject, base.rater, base.error]) * scale**2
    np.testing.assert_allclose([moved.subject, moved.rater, moved.error], expected, rtol=1e-5)


@settings(max_examples=20)
@given(rows=st.permutations(range(6)), columns=st.permutations(range(4)))
def test_names_and_orders_do_not_matter(rows, columns):
    base = components(observations_of(SHROUT_FLEISS))
    moved = components(observations_of(SHROUT_FLEISS[np.ix_(rows, columns)]))
    assert (moved.subject, moved.rater, moved.error) == pytest.approx((base.subject, base.rater, base.error))


CELL = st.lists(st.integers(0, 3) | st.none(), min_size=2, max_size=2)


@settings(max_examples=40)
@given(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=3, max_size=3))
def test_every_table_gives_figures_or_a_sentence(rows):
    table = np.array(rows, dtype=np.float64)
    try:
        found = components(observations_of(table))
        spreads = [found.spread("subject"), found.spread("error"), found.spread("rater")]
    except AgreementError:
        return
    assert all(0 <= each.low <= each.value <= each.high < np.inf for each in spreads)


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        (np.full((4, 3), 2.5), "All values are the same"),
        ([[1.0], [2.0], [3.0]], "Nothing in the table was measured again"),
        ([[1.0, 2.0, 4.0]], "Nothing in the table was measured again"),
        ([[[1.0, 2.0], [2.0, 5.0]]], "Nobody measured more than one subject"),
        ([[1.0, np.nan], [np.nan, 2.0]], "Nothing in the table was measured again"),
    ],
    ids=["alike", "one rater once", "one subject once", "one subject", "each another"],
)
def test_what_can_not_be_found_is_said(table, sentence):
    with pytest.raises(AgreementError, match=sentence):
        components(observations_of(table))


def test_categories_and_several_methods_are_refused():
    names, method = np.array(["a", "a", "b"]), np.array(["x", "y", "x"])
    trial = np.array(["1", "2", "3"])
    with pytest.raises(AgreementError, match="categories"):
        components(Observations(names, names, trial, method, np.array(["slough", "none", "none"])))
    with pytest.raises(AgreementError, match="several methods"):
        components(Observations(names, names, trial, method, np.array([1.0, 2.0, 3.0])))
