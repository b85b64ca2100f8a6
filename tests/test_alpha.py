"""Krippendorff's alpha against its worked example, a library, the table of coincidences, and simulated raters."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rated import joined, said

from measure.agreement import alpha as module
from measure.agreement.alpha import alpha, alpha_of
from measure.agreement.errors import AgreementError

LEVELS = ("nominal", "ordinal", "interval", "ratio")
NAN = float("nan")

FOUR_OBSERVERS = [
    [1, 2, 3, 3, 2, 1, 4, 1, 2, NAN, NAN, NAN],
    [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, NAN, 3],
    [NAN, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, NAN],
    [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, NAN],
]
"""Krippendorff's example of four observers, twelve things and missing values (his data C)."""

GAPS = [
    [5.0, 4.0, NAN, 5.2, NAN, NAN, 5.4, 4.9, 1.4, 0.7, 1.5, 5.6, 4.8, 1.1, 5.6],
    [2.5, 2.5, 9.3, NAN, 5.3, NAN, 1.1, 5.5, NAN, 1.6, 7.6, NAN, 8.1, 2.8, 3.4],
    [1.7, NAN, NAN, 2.5, NAN, 4.6, 8.2, 3.7, 13.5, 3.9, 4.5, 1.8, 3.5, 8.0, 8.1],
]
"""Made up: unrelated numbers, a third of them missing."""


def by_coincidences(table, level):
    """Alpha from the table of coincidences itself, as the book lays it out."""
    table = np.asarray(table, dtype=float)
    values = np.unique(table[np.isfinite(table)])
    both = np.zeros((len(values),) * 2)
    for unit in table.T:
        met = np.searchsorted(values, unit[np.isfinite(unit)])
        for i in range(len(met)):
            for j in range(len(met)):
                both[met[i], met[j]] += (i != j) / (len(met) - 1)
    count = both.sum(axis=1)
    ranks = np.cumsum(count) - count / 2
    differences = {
        "nominal": (values[:, None] != values).astype(float),
        "ordinal": (ranks[:, None] - ranks) ** 2,
        "interval": (values[:, None] - values) ** 2,
        "ratio": ((values[:, None] - values) / np.maximum(values[:, None] + values, 1e-300)) ** 2,
    }
    chance = np.outer(count, count) - np.diag(count)
    return 1 - (count.sum() - 1) * (both * differences[level]).sum() / (chance * differences[level]).sum()


@pytest.mark.parametrize(
    ("level", "printed"),
    [("nominal", "0.743421"), ("ordinal", "0.815388"), ("interval", "0.849107"), ("ratio", "0.797403")],
)
def test_four_observers_with_missing_values(level, printed):
    """The book prints .743, .815, .849 and .797; krippendorff 0.9.0 gives the further digits."""
    found = alpha_of(FOUR_OBSERVERS, level)
    assert f"{found.alpha.value:.6f}" == printed
    assert (found.units, found.left_out, found.values) == (11, 1, 40)
    assert found.alpha.low < found.alpha.value < found.alpha.high <= 1


@pytest.mark.parametrize(
    ("level", "value"),
    [
        ("nominal", -0.01224489795918382),
        ("ordinal", -0.28209591209396234),
        ("interval", -0.29792454537690993),
        ("ratio", -0.19750649560103994),
    ],
)
def test_unrelated_numbers_as_a_library_has_them(level, value):
    """Krippendorff 0.9.0."""
    assert alpha_of(GAPS, level).alpha.value == pytest.approx(value, abs=1e-12)


@settings(max_examples=40)
@given(
    st.lists(st.lists(st.sampled_from([NAN, 0.0, 1.0, 2.0, 5.0]), min_size=4, max_size=4), min_size=3, max_size=6),
    st.sampled_from(LEVELS),
)
def test_alpha_is_that_of_the_table_of_coincidences(rows, level):
    table = np.array(rows).T
    try:
        with pytest.MonkeyPatch.context() as quick:
            quick.setattr(module, "RESAMPLES", 5)
            found = alpha_of(table, level).alpha.value
    except AgreementError:
        return
    kept = table[:, np.isfinite(table).sum(axis=0) > 1]
    assert found == pytest.approx(by_coincidences(kept, level), abs=1e-9)


def test_words_need_an_order_only_where_it_counts():
    words = {
        "A": ["none", "some", "much", "much", None, "some"],
        "B": ["none", "much", "much", "some", "none", "some"],
        "C": [None, "some", "much", "much", "some", None],
    }
    number = {"none": 1.0, "some": 2.0, "much": 3.0, None: None}
    numbers = {rater: [number[word] for word in each] for rater, each in words.items()}
    order = ["none", "some", "much"]
    assert alpha(said(**words), "nominal").alpha.value == alpha(said(**numbers), "nominal").alpha.value
    assert alpha(said(**words), "ordinal", order=order).alpha.value == alpha(said(**numbers), "ordinal").alpha.value
    with pytest.raises(AgreementError, match="needs the order"):
        alpha(said(**words), "ordinal")
    with pytest.raises(AgreementError, match="needs numbers, and the table holds words"):
        alpha(said(**words), "interval", order=order)


def test_trials_of_the_same_rater_are_compared():
    first = said(A=[1.0, 2.0, 3.0], B=[1.0, 3.0, 3.0])
    again = said(A=[1.0, 2.0, 2.0], B=[1.0, 3.0, 3.0], trial="2")
    found = alpha(joined(first, again), "interval", by="trial")
    assert found.units == 6
    table = [[1, 2, 3, 1, 3, 3], [1, 2, 2, 1, 3, 3]]
    assert found.alpha.value == pytest.approx(alpha_of(table, "interval").alpha.value)
    assert alpha(joined(first, again), "interval").units == 3  # between raters by their first trials


def test_the_interval_depends_on_the_seed_alone_and_narrows_with_more_wounds():
    random = np.random.default_rng(5)
    true = random.normal(5, 2, 200)
    table = true + random.normal(0, 1, (3, 200))
    few, many = (alpha_of(table[:, :count], "interval").alpha for count in (20, 200))
    assert alpha_of(table[:, :20], "interval").alpha == few
    assert alpha_of(table[:, :20], "interval", seed=1).alpha.low != few.low
    assert many.high - many.low < (few.high - few.low) / 2
    assert many.low < 4 / 5 < many.high  # of an interval alpha: variance of the wounds over that of all values
    assert "seed" in few.method


def test_the_interval_of_few_wounds_holds_the_true_alpha(monkeypatch):
    """Variance of the wounds over that of all values, 4 / 5; plain percentiles hold it in 90 of 100 studies."""
    monkeypatch.setattr(module, "RESAMPLES", 200)
    random = np.random.default_rng(9)
    inside = []
    for _ in range(60):
        found = alpha_of(random.normal(5, 2, 24) + random.normal(0, 1, (3, 24)), "interval").alpha
        inside.append(found.low <= 4 / 5 <= found.high)
    assert 0.86 <= np.mean(inside) < 1  # two standard deviations of 60 studies below 93 %


def test_where_most_resamples_hold_one_value_there_is_no_interval():
    found = alpha_of([[1, 1, 1], [1, 1, 2]], "nominal").alpha
    assert found.value == pytest.approx(1 - 5 * 2 / (2 * 5))
    assert not found.has_interval
    assert "too few" in found.method


def test_thousands_of_different_measurements_pass_and_ratios_of_so_many_are_a_sentence():
    random = np.random.default_rng(6)
    areas = np.exp(random.normal(1, 1, 600) + random.normal(0, 0.1, (2, 600)))
    assert 0.97 < alpha_of(areas, "interval").alpha.value < 1
    with pytest.raises(AgreementError, match="1200 different values"):
        alpha_of(areas, "ratio")


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (lambda: alpha(said(A=["x", "y"]), "nominal"), "holds one rater"),
        (lambda: alpha(said(A=["x", None], B=[None, "y"]), "nominal"), "Nothing was rated twice"),
        (lambda: alpha(said(A=["x", "x"], B=["x", "x"]), "nominal"), "second value"),
        (lambda: alpha(said(A=np.arange(30.0), B=np.arange(30.0)), "nominal"), "30 different numbers"),
        (lambda: alpha_of([[1, 2, NAN]], "interval"), "Nothing was rated twice"),
        (lambda: alpha_of([[NAN], [NAN]], "interval"), "Nothing was rated twice"),
        (lambda: alpha_of([[3, 3], [3, NAN]], "interval"), "at least 2 things"),
        (lambda: alpha_of([[3, 3], [3, 3]], "interval"), "second value"),
        (lambda: alpha_of([[-1, 3], [-1, 2]], "ratio"), "0 or more"),
        (lambda: alpha_of([1, 2, 3], "interval"), "a row an observer"),
    ],
)
def test_what_has_no_alpha_is_a_sentence(asked, says):
    with pytest.raises(AgreementError, match=says):
        asked()
