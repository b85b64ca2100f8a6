"""Confidence intervals by resampling subjects, for figures whose distribution no formula gives.

Subjects are drawn, not rows: values of the same subject hang together, and a subject that is drawn brings all of them.
"""

import math
from collections.abc import Callable
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Numbers

Drawn: TypeAlias = NDArray[np.intp]
"""Numbers of the subjects in a resample, from 0; some are there several times."""

DRAWS = 2000
"""Resamples of an interval: its ends then move from seed to seed by 1 to 2 % of its length (standard deviation, for
means and medians of 20 subjects), and by up to 4 % where it is very skew."""

SEED = 1979
"""The same table gives the same interval whenever it is analysed (the year in which the bootstrap was published)."""

EFRON_1987 = "Efron B. J Am Stat Assoc 1987;82:171-185"
"""Describes the BCa interval: bias-corrected and accelerated."""

_LOW, _HIGH = 0.025, 0.975
_MOST_LOST = 0.1  # of the resamples may give no figure; what so many leave out would shape the interval


def bootstrap(
    estimate: Callable[[Drawn], float],
    subjects: int,
    *,
    kind: Literal["bca", "percentile"] = "bca",
    draws: int = DRAWS,
    seed: int = SEED,
) -> tuple[float, float]:
    """Return the ends of the 95 % confidence interval of a figure, by resampling subjects.

    Parameters
    ----------
    estimate : callable
        Figure of the subjects whose numbers it gets, shape (subjects,), each as often as it stands there.
    subjects : int
        How many there are.
    kind : {"bca", "percentile"}
        Bias-corrected and accelerated, or the plain quantiles of the resamples.
    draws, seed : int

    Raises
    ------
    AgreementError
        If there are fewer than two subjects, or too many resamples give no figure.
    """
    if subjects < 2:
        raise AgreementError("An interval by resampling needs at least two subjects.")
    every = np.arange(subjects, dtype=np.intp)
    value = estimate(every)
    drawn = np.random.default_rng(seed).integers(0, subjects, (draws, subjects))
    found = _figures(estimate, list(drawn))
    if np.ptp(found) == 0 and found[0] == value:
        return value, value
    if kind == "percentile":
        return _quantiles(found, (_LOW, _HIGH))
    return _quantiles(found, _corrected_shares(value, found, _leaving_out(estimate, every)))


def _figures(estimate: Callable[[Drawn], float], samples: list[Drawn]) -> Numbers:
    """Return the figure of each resample that gives one."""
    found = [_figure(estimate, sample) for sample in samples]
    kept = np.array([figure for figure in found if math.isfinite(figure)])
    if len(kept) < (1 - _MOST_LOST) * len(found):
        raise AgreementError(
            f"The interval can't be found by resampling: {len(found) - len(kept)} of {len(found)} resamples give no "
            "figure; measure more subjects."
        )
    return kept


def _figure(estimate: Callable[[Drawn], float], sample: Drawn) -> float:
    try:
        return float(estimate(sample))
    except AgreementError:
        return math.nan


def _leaving_out(estimate: Callable[[Drawn], float], every: Drawn) -> Numbers:
    """Return the figures of all subjects but one."""
    return _figures(estimate, [np.delete(every, number) for number in every])


def _corrected_shares(value: float, found: Numbers, left: Numbers) -> tuple[float, float]:
    """Return the shares of the resamples below the ends of the BCa interval."""
    below = float((found < value).mean() + (found <= value).mean()) / 2
    if not 0 < below < 1:
        raise AgreementError(
            "The interval can't be found by resampling: the figure lies at the edge of all resamples; measure more "
            "subjects."
        )
    bias = float(stats.norm.ppf(below))
    acceleration = _acceleration(left)
    low, high = (
        float(stats.norm.cdf(bias + moved / (1 - acceleration * moved)))
        for moved in (bias + float(stats.norm.ppf(share)) for share in (_LOW, _HIGH))
    )
    return low, high


def _acceleration(left: Numbers) -> float:
    """Return how fast the standard error changes with the figure, from the figures of all subjects but one."""
    away = left.mean() - left
    squares = float((away**2).sum())
    return float((away**3).sum()) / (6 * squares**1.5) if squares > 0 else 0.0


def _quantiles(found: Numbers, shares: tuple[float, float]) -> tuple[float, float]:
    low, high = (float(end) for end in np.quantile(found, shares))
    return low, high
