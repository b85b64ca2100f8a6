"""Limits of agreement with the mean, from published mean squares and by construction."""

from dataclasses import replace

import numpy as np
import pytest
from judges import JUDGES, study, table
from peak_flow import LARGE, MINI

from measure.agreement.errors import AgreementError
from measure.agreement.from_mean import _limit, from_mean


def test_the_limit_follows_from_the_mean_squares_of_judges_and_error():
    """Of Shrout and Fleiss 1979, with 3 and 15 degrees of freedom, added as Christensen and others 2020 add them."""
    expected = 1.96 * ((3 * 32.486111 + 15 * 1.019444) / 24) ** 0.5
    assert from_mean(table(JUDGES)).limit.value == pytest.approx(expected, abs=1e-5)


def test_two_raters_lie_half_their_difference_from_the_mean():
    found = from_mean(table(np.stack([LARGE[0], MINI[0]], axis=1)))
    difference = (LARGE[0] - MINI[0]) / 2
    assert found.difference.reshape(-1, 2)[:, 0] == pytest.approx(difference)
    assert found.limit.value == pytest.approx(1.96 * np.sqrt((difference**2).mean()))


def test_with_trials_too_it_is_the_mean_square_of_all_distances():
    cells = np.random.default_rng(3).normal(10, 2, (7, 3, 2))
    found = from_mean(table(cells))
    distance = cells - cells.mean(axis=(1, 2), keepdims=True)
    assert found.difference == pytest.approx(distance.ravel())
    assert found.limit.value == pytest.approx(1.96 * np.sqrt((distance**2).mean()))
    assert -found.low_limit == found.limit.value


def test_relative_distances_are_percent_of_the_geometric_mean():
    cells = np.array([[1.0, 1.21], [10.0, 12.1]])
    found = from_mean(table(cells), relative=True)
    assert found.mean[::2] == pytest.approx([1.1, 11.0])
    assert found.difference == pytest.approx([-100 / 11, 10.0] * 2)
    upward, downward = 1 + found.limit.value / 100, 1 + found.low_limit / 100
    assert (upward * downward, found.limit.unit, found.unit) == (pytest.approx(1.0), "%", "cm2")


@pytest.mark.parametrize(("between", "trials"), [(0.0, 2), (0.3, 2), (0.3, 1)])
def test_95_of_100_intervals_hold_the_limit(between, trials):
    """Known components; 400 studies, so that 95 % come out within 92.5 to 97.5 in all but 2 of 100 seeds."""
    rng = np.random.default_rng(5)
    truth = 1.96 * np.sqrt(2 / 3 * between**2 + 0.4**2 * (1 - 1 / (3 * trials)))
    held = 0
    for _ in range(400):
        cells = rng.normal(10, 3, (12, 1, 1)) + rng.normal(0, between, (1, 3, 1)) + rng.normal(0, 0.4, (12, 3, trials))
        _, low, high = _limit(cells)
        held += low <= truth <= high
    assert 0.925 <= held / 400 <= 0.98


def test_photos_that_somebody_has_not_measured_are_left_out_and_counted():
    cells = np.random.default_rng(3).normal(10, 2, (7, 3, 2))
    cells[2, 1, 0] = cells[4, 2, :] = np.nan
    found = from_mean(table(cells))
    assert (found.left_out, len(found.difference)) == (2, 30)
    assert found.limit.value == from_mean(table(np.delete(cells, [2, 4], axis=0))).limit.value


def test_the_order_of_the_rows_does_not_matter():
    told = study()
    order = np.random.default_rng(1).permutation(len(told.value))
    parts = {name: getattr(told, name)[order] for name in ("subject", "rater", "trial", "method", "value")}
    mixed = from_mean(replace(told, **parts))
    assert mixed.limit.value == pytest.approx(from_mean(told).limit.value)
    assert mixed.difference == pytest.approx(from_mean(told).difference[order])


def test_raters_who_agree_exactly_have_no_distance():
    limit = from_mean(table(np.full((4, 3, 2), 2.5))).limit
    assert (limit.value, limit.low, limit.high) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("observations", "words"),
    [
        (table([[1.0], [2.0]]), "at least two"),
        (table([[1.0, 2.0]]), "Fewer than two"),
        (table([[[1.0, 2.0]] * 2, [[1.0, np.nan]] * 2]), "No two subjects"),
        (replace(table([[1.0, 2.0]]), value=np.array(["slough", "granulation"])), "Categories"),
        (replace(table([[1.0, 2.0]]), method=np.array(["photo", "ruler"])), "several methods"),
    ],
)
def test_what_has_no_limits_is_refused(observations, words):
    with pytest.raises(AgreementError, match=words):
        from_mean(observations)
