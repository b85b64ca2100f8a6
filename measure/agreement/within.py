"""How values of the same thing scatter: the within-subject standard deviation of Bland and Altman."""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from measure.agreement.errors import AgreementError
from measure.agreement.limits import REACH
from measure.agreement.observations import Numbers, Observations, codes
from measure.agreement.statistic import Statistic

BLAND_ALTMAN_1996 = "Bland JM, Altman DG. BMJ 1996;313:744"

_TAIL = 0.975  # of the 95 % intervals
_DIGITS = 9  # of ranked values, as shares of the greatest: beyond them ties are broken by rounding
_FEWEST_RANKED, _STRONGEST = 10, 0.8  # Fieller's interval is for so many subjects, and for weaker rank correlations


@dataclass(frozen=True, eq=False)
class WithinSubject:
    """How values of the same subject scatter.

    Attributes
    ----------
    standard_deviation : Statistic
        Of single values of a subject.
    repeatability : Statistic
        Two values of the same subject differ by less in 95 % of cases: 1.96 sqrt(2) standard deviations.
    size_dependence : Statistic, optional
        Kendall's tau between the scatter and the mean of each subject: above 0 where errors grow with the size.
    size_dependence_p : float, optional
        Two-sided p of no such dependence.
    no_size_dependence : str
        Why there is none; empty where there is one.
    mean, scatter : ndarray of shape (n,)
        Mean and standard deviation of each subject that was measured more than once.
    subjects : tuple of str
        Their names.
    degrees : int
        Degrees of freedom: values less groups of values.
    left_out : int
        Groups with a single value, which tells nothing about scatter.
    """

    standard_deviation: Statistic
    repeatability: Statistic
    size_dependence: Statistic | None
    size_dependence_p: float | None
    no_size_dependence: str
    mean: Numbers
    scatter: Numbers
    subjects: tuple[str, ...]
    degrees: int
    left_out: int


def within_subject(observations: Observations, *, same_rater: bool) -> WithinSubject:
    """Return how values of a subject scatter: by one and the same rater, or from rater to rater.

    Parameters
    ----------
    observations : Observations
    same_rater : bool
        Whether the trials of each rater are compared; if not, the first trials of all raters are, so that a rater's
        own repeats don't pass for agreement between raters.

    Raises
    ------
    AgreementError
        If the values are no numbers, or nothing was measured twice.
    """
    if not observations.numeric:
        raise AgreementError("A within-subject standard deviation needs numbers, and the table holds categories.")
    groups = _Groups.of(observations if same_rater else observations.first_trials(), same_rater=same_rater)
    if not groups.degrees:
        raise AgreementError(
            "No rater measured a subject twice, so the scatter of one rater can't be told; have some measured again."
            if same_rater
            else "No subject was measured by two raters, so the scatter between raters can't be told; have some "
            "measured by another rater too."
        )
    return groups.summary(observations.unit, _definition(same_rater=same_rater))


def _definition(*, same_rater: bool) -> str:
    of_what = "all trials of a subject by the same rater" if same_rater else "first trials of a subject by all raters"
    return f"root of the mean variance within subjects, of {of_what} (one-way analysis of variance)"


@dataclass(frozen=True, eq=False)
class _Groups:
    """Values that would be the same without error: each subject's, or each subject's by each rater.

    Attributes
    ----------
    subject : ndarray of int, shape (G,)
        Number of the subject in ``known``.
    mean, squares : ndarray of shape (G,)
        Mean and sum of squares about it.
    count : ndarray of int, shape (G,)
    known : tuple of str
    """

    subject: NDArray[np.intp]
    mean: Numbers
    squares: Numbers
    count: NDArray[np.intp]
    known: tuple[str, ...]

    @classmethod
    def of(cls, observations: Observations, *, same_rater: bool) -> Self:
        """Group the rows; methods never mix."""
        columns = [codes(observations.subject, observations.subjects), codes(observations.method, observations.methods)]
        if same_rater:
            columns.append(codes(observations.rater, observations.raters))
        keys, first, number = np.unique(np.stack(columns, axis=1), axis=0, return_index=True, return_inverse=True)
        number, count = number.reshape(-1), np.bincount(number.reshape(-1))
        start = observations.value[first]
        above = observations.value - start[number]  # from the group's first value: what is all the same scatters by 0
        shift = np.bincount(number, above) / count
        squares = np.asarray(np.bincount(number, (above - shift[number]) ** 2), dtype=np.float64)
        return cls(keys[:, 0], start + shift, squares, count, observations.subjects)

    @property
    def degrees(self) -> int:
        """Values less groups."""
        return int((self.count - 1).sum())

    def summary(self, unit: str, definition: str) -> WithinSubject:
        """Sum up over all groups, and by subject."""
        deviation = self._deviation(unit, definition)
        numbers, mean, scatter = self._by_subject()
        tau, tau_p, no_tau = _rank_correlation(mean, scatter)
        return WithinSubject(
            deviation,
            _repeatability(deviation),
            tau,
            tau_p,
            no_tau,
            mean,
            scatter,
            tuple(self.known[number] for number in numbers),
            self.degrees,
            int((self.count == 1).sum()),
        )

    def _deviation(self, unit: str, definition: str) -> Statistic:
        squares, degrees = float(self.squares.sum()), self.degrees
        low, high = (math.sqrt(squares / float(stats.chi2.ppf(share, degrees))) for share in (_TAIL, 1 - _TAIL))
        method = f"{definition}; 95 % interval by the chi-squared distribution ({degrees} df)"
        return Statistic(math.sqrt(squares / degrees), low, high, unit, method, BLAND_ALTMAN_1996)

    def _by_subject(self) -> tuple[NDArray[np.intp], Numbers, Numbers]:
        """Return number, mean and standard deviation of each subject with several values in a group."""
        several = self.count > 1
        subject, count = self.subject[several], self.count[several]
        numbers, number = np.unique(subject, return_inverse=True)
        number = number.reshape(-1)
        mean = np.bincount(number, self.mean[several] * count) / np.bincount(number, count)
        scatter = np.sqrt(np.bincount(number, self.squares[several]) / np.bincount(number, count - 1))
        return numbers, mean, scatter


def _repeatability(deviation: Statistic) -> Statistic:
    factor = REACH * math.sqrt(2)
    method = f"1.96 sqrt(2) within-subject standard deviations: {deviation.method}"
    value, low, high = (factor * end for end in (deviation.value, deviation.low, deviation.high))
    return Statistic(value, low, high, deviation.unit, method, BLAND_ALTMAN_1996)


def _rank_correlation(mean: Numbers, scatter: Numbers) -> tuple[Statistic | None, float | None, str]:
    """Return Kendall's tau of scatter and size, its p, and why there is none."""
    if mean.size < 3:
        return None, None, "Whether errors grow with the size needs at least three subjects measured more than once."
    ranked = [_without_rounding(values) for values in (mean, scatter)]
    if not np.ptp(ranked[1]):
        return None, None, "Whether errors grow with the size can't be told: all subjects scatter by the same amount."
    if not np.ptp(ranked[0]):
        return None, None, "Whether errors grow with the size can't be told: all subjects have the same size."
    found = stats.kendalltau(*ranked)
    tau, p = float(found.statistic), float(found.pvalue)
    definition = "Kendall's tau-b of the standard deviation and the mean of each subject"
    if mean.size < _FEWEST_RANKED or abs(tau) >= _STRONGEST:
        return Statistic(tau, method=f"{definition}; no interval", source=BLAND_ALTMAN_1996), p, ""
    reach = REACH * math.sqrt(0.437 / (mean.size - 4))
    low, high = (math.tanh(math.atanh(tau) + side * reach) for side in (-1, 1))
    method = f"{definition}; 95 % interval by Fisher's z with variance 0.437 / (n - 4) (Fieller and others 1957)"
    return Statistic(tau, low, high, "", method, BLAND_ALTMAN_1996), p, ""


def _without_rounding(values: Numbers) -> Numbers:
    """Return values whose order and ties are not those of rounding errors."""
    return np.round(values / max(float(np.abs(values).max()), np.finfo(np.float64).tiny), _DIGITS)
