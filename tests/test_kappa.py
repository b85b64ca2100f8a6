"""Kappa against published examples, general-purpose libraries and simulated raters."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rated import joined, said
from scipy.stats import binomtest

from measure.agreement.errors import AgreementError
from measure.agreement.kappa import cohen, cohen_of, fleiss, fleiss_of

FOURTEEN = [
    [0, 0, 0, 0, 14],
    [0, 2, 6, 4, 2],
    [0, 0, 3, 5, 6],
    [0, 3, 9, 2, 0],
    [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0],
    [3, 2, 6, 3, 0],
    [2, 5, 3, 2, 2],
    [6, 5, 2, 1, 0],
    [0, 2, 2, 3, 7],
]
"""Ten things, fourteen raters: the worked example that encyclopedias and libraries give for Fleiss' formulas."""

DIAGNOSES = [
    *("00060", "03003", "01401", "00006", "03030", "20400", "00402", "20310", "20040", "00006"),
    *("10050", "11040", "03300", "10050", "02031", "00501", "30012", "51000", "02040", "10203"),
    *("00006", "01050", "02013", "20040", "10041", "05010", "40002", "02040", "10500", "00006"),
]
"""Thirty patients, six psychiatrists, five diagnoses: Fleiss, Psychol Bull 1971;76:378-82, table 1 (from memory; its
column shares .144 .144 .167 .306 .239 agree)."""

TISSUE = [[12, 4, 1, 0], [3, 9, 5, 1], [0, 4, 11, 3], [1, 0, 2, 14]]
"""Made up: two raters, four ordered categories."""


def test_fleiss_of_fourteen_raters():
    """Published .210, .378 and .213; statsmodels 0.15.0 `fleiss_kappa`: 0.209931, by Randolph's method 0.222527."""
    found = fleiss_of(FOURTEEN)
    assert f"{found.kappa.value:.6f}" == "0.209931"
    assert f"{found.observed.value:.3f}" == "0.378"
    assert f"{found.by_chance:.3f}" == "0.213"
    assert f"{found.equal_chances:.6f}" == "0.222527"


def test_fleiss_of_the_diagnoses_of_1971():
    """Published kappa .430, agreement .556, by chance .220; z 17.7 as the R package irr prints it (from memory)."""
    found = fleiss_of([[int(count) for count in row] for row in DIAGNOSES])
    assert f"{found.kappa.value:.3f}" == "0.430"
    assert f"{found.observed.value:.3f}" == "0.556"
    assert f"{found.by_chance:.3f}" == "0.220"
    assert f"{found.kappa.value / found.chance_error:.1f}" == "17.7"
    assert found.p_value < 1e-12


def test_cohen_with_its_error():
    """A textbook example; statsmodels 0.15.0 `cohens_kappa`: error 0.126996, 0.1511 to 0.6489, error at 0 0.138564."""
    found = cohen_of([[20, 5], [10, 15]])
    assert found.kappa.value == pytest.approx(0.40, abs=1e-12)
    assert (found.kappa.high - found.kappa.low) / (2 * 1.96) == pytest.approx(0.126996, abs=5e-7)
    assert f"{found.kappa.low:.4f} {found.kappa.high:.4f}" == "0.1511 0.6489"
    assert found.chance_error == pytest.approx(0.138564, abs=5e-7)
    assert (found.observed.value, found.by_chance, found.units) == (0.7, pytest.approx(0.5), 50)
    wilson = binomtest(35, 50).proportion_ci(method="wilson")  # of SciPy, with 1.95996 for 1.96
    assert (found.observed.low, found.observed.high) == pytest.approx((wilson.low, wilson.high), abs=1e-5)


@pytest.mark.parametrize(("table", "printed"), [([[45, 15], [25, 15]], "0.1304"), ([[25, 35], [5, 35]], "0.2593")])
def test_the_same_agreement_is_worth_less_where_a_category_prevails(table, printed):
    """Two textbook tables with 60 % agreement; statsmodels 0.15.0 and scikit-learn 1.9.1 agree."""
    found = cohen_of(table)
    assert f"{found.kappa.value:.4f}" == printed
    assert found.observed.value == pytest.approx(0.6)
    assert found.equal_chances == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("weights", "kappa", "error", "chance_error"),
    [
        ("none", 0.542732716385411, 0.07578115177575608, 0.06898777097242438),
        ("linear", 0.6762471093491906, 0.06331971191890041, 0.0855601570951427),
        ("quadratic", 0.7777777777777778, 0.06499473846895731, 0.1193629907920869),
    ],
)
def test_weighted_kappa_and_its_errors_are_those_of_a_library(weights, kappa, error, chance_error):
    """Statsmodels 0.15.0 `cohens_kappa`, and for kappa itself scikit-learn 1.9.1 `cohen_kappa_score`."""
    found = cohen_of(TISSUE, weights)
    assert found.kappa.value == pytest.approx(kappa, abs=1e-12)
    assert (found.kappa.value - found.kappa.low) / 1.96 == pytest.approx(error, abs=1e-12)
    assert found.chance_error == pytest.approx(chance_error, abs=1e-12)


def test_quadratic_weights_make_an_intraclass_correlation():
    """Fleiss and Cohen, Educ Psychol Meas 1973;33:613-9: but for 1 / n, of a two-way agreement from mean squares."""
    random = np.random.default_rng(3)
    true = random.integers(0, 4, 400)
    values = np.clip(np.stack([true, true + random.integers(-1, 2, 400)]), 0, 3).astype(float)
    found = cohen(said(A=values[0], B=values[1]), "A", "B", weights="quadratic")
    covariance = np.cov(values, ddof=0)
    apart = float(np.diff(values.mean(axis=1))[0])
    correlation = 2 * covariance[0, 1] / (covariance[0, 0] + covariance[1, 1] + apart**2)
    assert found.kappa.value == pytest.approx(correlation, abs=1e-9)


def test_an_interval_holds_the_true_kappa_in_95_of_100_studies():
    shares = np.array([[0.35, 0.08, 0.02], [0.05, 0.20, 0.05], [0.02, 0.03, 0.20]])
    agreed, chance = np.trace(shares), shares.sum(axis=0) @ shares.sum(axis=1)
    true = (agreed - chance) / (1 - chance)
    random = np.random.default_rng(11)
    studies = [cohen_of(random.multinomial(120, shares.ravel()).reshape(3, 3)).kappa for _ in range(600)]
    assert np.mean([each.low <= true <= each.high for each in studies]) == pytest.approx(0.95, abs=0.03)


def test_the_interval_of_many_raters_holds_the_true_kappa_too():
    """Each wound has its own leaning; kappa is the variance of the leaning over p q: Fleiss, Nee and Landis 1979."""
    lean = np.array([0.1, 0.5, 0.9])
    weight = np.array([0.4, 0.3, 0.3])
    share = weight @ lean
    true = (weight @ (lean - share) ** 2) / (share * (1 - share))
    random = np.random.default_rng(12)
    inside = []
    for _ in range(500):
        yes = random.binomial(4, random.choice(lean, 50, p=weight))
        found = fleiss_of(np.column_stack([yes, 4 - yes])).kappa
        inside.append(found.low <= true <= found.high)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.03)


def test_unrelated_answers_have_the_error_by_chance():
    random = np.random.default_rng(13)
    kappas, errors = [], []
    for _ in range(500):
        found = fleiss_of(random.multinomial(5, [0.5, 0.3, 0.2], 40))
        kappas.append(found.kappa.value)
        errors.append(found.chance_error)
    assert np.std(kappas) == pytest.approx(np.mean(errors), rel=0.1)
    assert np.mean(kappas) == pytest.approx(-1 / (40 * 5 - 1), abs=0.006)


def test_a_table_of_words_gives_what_its_counts_give():
    a = ["red"] * 25 + ["yellow"] * 25
    b = ["red"] * 20 + ["yellow"] * 5 + ["red"] * 10 + ["yellow"] * 15
    found = cohen(said(A=a, B=b), "A", "B")
    assert found.kappa == cohen_of([[20, 5], [10, 15]]).kappa
    assert found.categories == ("red", "yellow")


def test_what_only_one_rated_is_left_out_and_counted():
    a = ["x", "y", "y", None, "x", "x"]
    b = ["x", "y", "x", "y", None, "x"]
    found = cohen(said(A=a, B=b), "A", "B")
    assert (found.units, found.left_out) == (4, 2)
    assert found.kappa.value == cohen_of([[2, 0], [1, 1]]).kappa.value
    three = fleiss(said(A=a, B=b, C=["x", "y", "y", "y", "x", None]))
    assert (three.units, three.left_out) == (3, 3)
    assert three.kappa.value == fleiss_of([[3, 0], [0, 3], [1, 2]]).kappa.value


def test_a_category_that_nobody_used_widens_the_steps():
    a, b = [1.0, 2.0, 4.0, 4.0, 1.0], [2.0, 2.0, 4.0, 1.0, 1.0]
    met = cohen(said(A=a, B=b), "A", "B", weights="linear")
    whole = cohen(said(A=a, B=b), "A", "B", weights="linear", order=[1, 2, 3, 4])
    assert met.categories == ("1", "2", "4")
    assert whole.categories == ("1", "2", "3", "4")
    # disagreements seen of steps 1 and 3 of 3; by chance from the margins, by hand
    seen = (1 + 3) / 5
    chance = np.mean([abs(one - other) for one in a for other in b])
    assert whole.kappa.value == pytest.approx(1 - seen / chance)
    assert met.kappa.value != pytest.approx(whole.kappa.value)


def test_words_are_weighed_in_the_order_given():
    a, b = ["none", "some", "much", "none"], ["none", "much", "much", "some"]
    found = cohen(said(A=a, B=b), "A", "B", weights="quadratic", order=["none", "some", "much"])
    numbers = {"none": 1.0, "some": 2.0, "much": 3.0}
    same = cohen(said(A=[numbers[x] for x in a], B=[numbers[x] for x in b]), "A", "B", weights="quadratic")
    assert found.kappa.value == same.kappa.value
    with pytest.raises(AgreementError, match="needs the order"):
        cohen(said(A=a, B=b), "A", "B", weights="quadratic")


def test_methods_and_trials_of_the_same_rater_are_compared():
    first = said(A=["x", "y", "y", "x"], B=["x", "y", "x", "y"])
    again = said(A=["x", "y", "x", "x"], B=["x", "x", "x", "y"], trial="2")
    found = cohen(joined(first, again), "1", "2", by="trial")
    assert found.units == 8
    assert found.kappa.value == cohen_of([[4, 0], [2, 2]]).kappa.value
    ruler = said(A=["x", "y", "x", "x"], B=["x", "x", "x", "y"], method="ruler")
    photo = said(A=["x", "y", "y", "x"], B=["x", "y", "x", "y"], method="photo")
    assert cohen(joined(photo, ruler), "photo", "ruler", by="method").kappa.value == found.kappa.value
    with pytest.raises(AgreementError, match="mixes the methods photo, ruler"):
        cohen(joined(photo, ruler), "A", "B")


def test_raters_who_never_differ_have_no_interval():
    for found in (cohen_of([[5, 0], [0, 7]]), fleiss_of([[3, 0], [0, 3], [3, 0]])):
        assert found.kappa.value == 1
        assert not found.kappa.has_interval
        assert "never differed" in found.kappa.method
    assert cohen_of([[5, 0], [0, 7]]).observed.low < 0.8


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (lambda: cohen(said(A=["x", "y"]), "A", "B"), "holds one rater"),
        (lambda: fleiss(said(A=["x", "y"])), "holds one rater"),
        (lambda: cohen(said(A=["x", "y"], B=["x", "x"]), "A", "C"), "nothing by 'C'; choose one of A, B"),
        (lambda: cohen(said(A=["x", None], B=[None, "y"]), "A", "B"), "rated nothing in common"),
        (lambda: fleiss(said(A=["x", None], B=[None, "y"])), "Nothing was rated by all 2 raters"),
        (lambda: cohen(said(A=["x", "x"], B=["x", "x"]), "A", "B"), "second category"),
        (lambda: fleiss(said(A=["x", "x"], B=["x", "x"])), "second category"),
        (lambda: cohen(said(A=["x"], B=["y"]), "A", "B"), "at least 2 things"),
        (lambda: cohen(said(A=["x", "z"], B=["x", "y"]), "A", "B", order=["x", "y"]), "'z' stands in the table"),
        (lambda: cohen(said(A=["x", "y"], B=["x", "y"]), "A", "B", order=["x", "y", "x"]), "stands twice"),
        (lambda: cohen(said(A=np.arange(30.0), B=np.arange(30.0)), "A", "B"), "30 different numbers"),
        (lambda: cohen_of([[1, 2, 3]]), "square table"),
        (lambda: cohen_of([[1, -2], [3, 4]]), "square table"),
        (lambda: cohen_of([[0, 0], [0, 0]]), "at least 2 things"),
        (lambda: fleiss_of([[1, 2], [3, 1]]), "same number of raters"),
        (lambda: fleiss_of([[1, 0], [0, 1]]), "2 or more"),
    ],
)
def test_what_has_no_kappa_is_a_sentence(asked, says):
    with pytest.raises(AgreementError, match=says):
        asked()


@settings(max_examples=40)
@given(st.lists(st.lists(st.integers(0, 9), min_size=3, max_size=3), min_size=3, max_size=3))
def test_kappa_does_not_depend_on_who_is_first_nor_on_the_order_of_the_categories(table):
    counts = np.array(table)
    try:
        found = cohen_of(counts)
    except AgreementError:
        return
    assert -1 <= found.kappa.value <= 1
    for same in (counts.T, counts[::-1, ::-1], counts[[1, 2, 0]][:, [1, 2, 0]]):
        assert cohen_of(same).kappa.value == pytest.approx(found.kappa.value, abs=1e-12)
    assert not math.isnan(found.chance_error)
