"""How far each rater lies from the others: the mean difference from the mean of the other raters on the same subjects.

Repeated measurements of a rater are averaged first. Where every rater measured every subject, these figures add up to
0, and each is k / (k - 1) times the distance from the mean of all k raters.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.stats import t

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Numbers, Observations
from measure.agreement.statistic import Statistic

_SOURCE = (
    "Bland and Altman, Lancet 1986;i:307-310 (mean difference with its t interval), with the mean of the other raters "
    "in the place of the second method"
)
_MEAN = (
    "mean over {subjects} of the rater's value (mean of its trials) less the mean of the other raters' values of the "
    "same subject"
)
_INTERVAL = "; 95 % interval by Student's t with {df} degrees of freedom, over subjects"
_NO_INTERVAL = "; no interval from one subject"


@dataclass(frozen=True)
class RaterBias:
    """How far a rater lies from the others.

    Attributes
    ----------
    rater : str
    statistic : Statistic
        More than 0, or a ratio of more than 1, where the rater's values are larger.
    n : int
        Subjects that this rater and at least one other measured.
    """

    rater: str
    statistic: Statistic
    n: int


def rater_bias(observations: Observations) -> tuple[RaterBias, ...]:
    """Return how far each rater lies from the others, in the unit of the values.

    Parameters
    ----------
    observations : Observations
        Numbers, by one method.

    Returns
    -------
    tuple of RaterBias
        In the order of the rows; without raters who share no subject with another.

    Raises
    ------
    AgreementError
        If the values are categories or by several methods, or no two raters measured the same subject.
    """
    return tuple(
        RaterBias(rater, _mean(differences, observations.unit), len(differences))
        for rater, differences in _differences(observations)
    )


def rater_ratio(observations: Observations) -> tuple[RaterBias, ...]:
    """Return how far each rater lies from the others as a ratio, for errors that grow with the size.

    The ratio is that of the rater's value to the geometric mean of the others', averaged geometrically.

    Raises
    ------
    AgreementError
        As `rater_bias`, and if a value is not more than 0.
    """
    return tuple(
        RaterBias(rater, _as_ratio(_mean(differences, "")), len(differences))
        for rater, differences in _differences(observations.logged())
    )


def _differences(observations: Observations) -> list[tuple[str, Numbers]]:
    """Return for each rater its differences from the mean of the others, subject by subject."""
    if not observations.numeric:
        raise AgreementError("Categories have no mean; compare raters by how often they name each category.")
    if len(observations.methods) > 1:
        raise AgreementError("The table holds several methods; compare the raters of one method at a time.")
    table = observations.crossed()
    known = np.isfinite(table)
    others = known.sum(axis=1, keepdims=True) - known
    total = np.where(known, table, 0.0).sum(axis=1, keepdims=True) - np.where(known, table, 0.0)
    shared = known & (others > 0)
    if not shared.any():
        raise AgreementError("No subject was measured by two raters; let at least two measure the same ones.")
    found = [table[rows, rater] - total[rows, rater] / others[rows, rater] for rater, rows in enumerate(shared.T)]
    return [(rater, values) for rater, values in zip(observations.raters, found, strict=True) if values.size]


def _mean(differences: Numbers, unit: str) -> Statistic:
    n, mean = len(differences), float(differences.mean())
    method = _MEAN.format(subjects="1 subject" if n == 1 else f"{n} subjects")
    if n < 2:
        return Statistic(mean, unit=unit, method=method + _NO_INTERVAL, source=_SOURCE)
    half = float(t.ppf(0.975, n - 1)) * float(differences.std(ddof=1)) / math.sqrt(n)
    return Statistic(mean, mean - half, mean + half, unit, method + _INTERVAL.format(df=n - 1), _SOURCE)


def _as_ratio(logged: Statistic) -> Statistic:
    method = f"as a ratio, on natural logarithms: {logged.method}; raised to powers of e"
    return Statistic(math.exp(logged.value), math.exp(logged.low), math.exp(logged.high), "", method, logged.source)
