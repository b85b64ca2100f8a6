"""Intervals by resampling subjects: against another implementation, for clusters, and where there are none."""

import numpy as np
import pytest
from agreement_tables import PEAK_FLOW
from scipy import stats

from measure.agreement.bootstrap import SEED, bootstrap
from measure.agreement.errors import AgreementError

# Law school data of Efron & Tibshirani, An Introduction to the Bootstrap, 1993, table 3.1: correlation .776
SCHOOLS = np.array(
    [
        (576, 635, 558, 578, 666, 580, 555, 661, 651, 605, 653, 575, 545, 572, 594),
        (3.39, 3.30, 2.81, 3.03, 3.44, 3.07, 3.00, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96),
    ]
)


def _correlation(one, other, axis=-1):
    one, other = (values - values.mean(axis=axis, keepdims=True) for values in (one, other))
    return (one * other).sum(axis=axis) / np.sqrt((one**2).sum(axis=axis) * (other**2).sum(axis=axis))


@pytest.mark.parametrize(("kind", "method"), [("bca", "BCa"), ("percentile", "percentile")])
def test_intervals_are_those_of_scipy_for_the_same_resamples(kind, method):
    known = stats.bootstrap(
        tuple(SCHOOLS),
        _correlation,
        paired=True,
        n_resamples=500,
        method=method,
        random_state=np.random.default_rng(SEED),
    ).confidence_interval
    found = bootstrap(lambda drawn: _correlation(*SCHOOLS[:, drawn]), 15, kind=kind, draws=500)
    assert found == pytest.approx(tuple(known), rel=1e-9)
    assert found[0] < _correlation(*SCHOOLS) == pytest.approx(0.776, abs=5e-4)


def test_the_interval_of_a_skewed_figure_is_corrected():
    low, high = bootstrap(lambda drawn: float(_correlation(*SCHOOLS[:, drawn])), 15)
    plain = bootstrap(lambda drawn: float(_correlation(*SCHOOLS[:, drawn])), 15, kind="percentile")
    assert low < plain[0] - 0.05
    assert high < plain[1]


def test_whole_subjects_are_drawn():
    random = np.random.default_rng(2)
    held, by_rows = 0, 0
    for seed in range(150):
        values = random.normal(0, 1, (25, 1)) + random.normal(0, 0.3, (25, 4))
        low, high = bootstrap(
            lambda drawn, v=values: float(v[drawn].mean()), 25, kind="percentile", draws=300, seed=seed
        )
        held += low < 0 < high
        by_rows += abs(values.mean()) < 1.96 * values.std() / 10
    assert held / 150 == pytest.approx(0.95, abs=0.06)
    assert by_rows / 150 < 0.8  # as if rows of the same subject knew nothing of each other


def test_the_same_seed_gives_the_same_interval():
    values = PEAK_FLOW.mean(axis=1)
    one, other, third = (bootstrap(lambda drawn: float(values[drawn].mean()), 20, seed=seed) for seed in (4, 4, 5))
    assert one == other != third


def test_what_never_changes_has_an_interval_without_length():
    assert bootstrap(lambda _: 1.0, 5) == (1.0, 1.0)


def test_few_resamples_without_a_figure_are_left_out():
    def figure(drawn):
        if len(set(drawn)) < 4:
            raise AgreementError("Too few.")
        return float(PEAK_FLOW[drawn].mean())

    low, high = bootstrap(figure, 8)
    assert low < PEAK_FLOW[:8].mean() < high


def test_too_many_resamples_without_a_figure_leave_no_interval():
    def figure(drawn):
        if len(set(drawn)) < len(drawn) - 1:
            raise AgreementError("Too few.")
        return float(PEAK_FLOW[drawn].mean())

    with pytest.raises(AgreementError, match=r"The interval can't be found by resampling: \d+ of 2000 resamples"):
        bootstrap(figure, 8)


def test_a_figure_at_the_edge_of_its_resamples_has_no_corrected_interval():
    def distinct(drawn):
        return float(len(set(drawn)))

    with pytest.raises(AgreementError, match="at the edge of all resamples"):
        bootstrap(distinct, 20, draws=200)


def test_one_subject_has_no_interval():
    with pytest.raises(AgreementError, match="at least two subjects"):
        bootstrap(lambda _: 1.0, 1)
