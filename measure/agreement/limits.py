"""Limits of agreement: between which values the difference of two measurements of the same thing usually lies.

Bland and Altman's definition: mean difference, and 1.96 sample standard deviations (n - 1) to both sides. Libraries and
papers differ in both: with 2 for 1.96, or with the population's standard deviation (n), other limits come out.
"""

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Self

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Numbers
from measure.agreement.pairs import Pairs, Repeats, means
from measure.agreement.statistic import Statistic

REACH = 1.96
"""Standard deviations from the bias to each limit: the printed number, not 1.959964."""

BLAND_ALTMAN_1986 = "Bland JM, Altman DG. Lancet 1986;i:307-310"
BLAND_ALTMAN_1999 = "Bland JM, Altman DG. Stat Methods Med Res 1999;8:135-160"
CARKEET_2015 = "Carkeet A. Optom Vis Sci 2015;92:e71-e80"

_TAIL = 0.975  # of the 95 % intervals
_ROUNDING = 1e-12  # of the values: differences that vary by less are the same but for rounding
_MOST = 700.0  # a logarithm of more is no ratio that a float holds


@dataclass(frozen=True, eq=False)
class Limits:
    """How far two measurements of the same thing lie apart.

    Attributes
    ----------
    mean : ndarray of shape (n,)
        Of each pair, in ``unit``; where ``log``, the geometric mean.
    difference : ndarray of shape (n,)
        First less second, in ``unit``; where ``log``, the natural logarithm of first over second.
    standard_deviation : Statistic
        Of single differences, as ``difference`` has them; where values are means over repeats, corrected for that.
    bias, lower, upper : Statistic
        Mean difference and the limits, in ``unit``; where ``log``, ratios of first to second.
    slope : Statistic, optional
        By how much ``difference`` changes with ``mean`` (where ``log``, with its natural logarithm).
    slope_p : float, optional
        Two-sided p of no slope.
    no_slope : str
        Why there is none; empty where there is one.
    exact : pair of Statistic, optional
        Lower and upper limit again, with exact intervals; for repeats there are none.
    log : bool
    unit : str
        Of the values.
    """

    mean: Numbers
    difference: Numbers
    standard_deviation: Statistic
    bias: Statistic
    lower: Statistic
    upper: Statistic
    slope: Statistic | None
    slope_p: float | None
    no_slope: str
    exact: tuple[Statistic, Statistic] | None
    log: bool = False
    unit: str = ""


def limits_of_agreement(first: ArrayLike, second: ArrayLike, *, unit: str = "", log: bool = False) -> Limits:
    """Return bias and limits of agreement of pairs of single values.

    Parameters
    ----------
    first, second : array_like of shape (n,)
        In ``unit``.
    unit : str
    log : bool
        Whether differences grow in proportion to the values: bias and limits are ratios then.

    Raises
    ------
    AgreementError
        If there are fewer than two pairs, or, where ``log``, a value is not more than 0.
    """
    ones, others = (_scaled(np.atleast_1d(np.asarray(side, dtype=np.float64)), log) for side in (first, second))
    return _Summary.of(ones, others, unit=unit, log=log).limits()


def repeated_limits(both: Pairs, *, unit: str = "", log: bool = False) -> Limits:
    """Return bias and limits of agreement of single values, from pairs of means over repeats.

    Means vary less than single values do; what was lost is added again from the differences between the repeats.

    Raises
    ------
    AgreementError
        As `limits_of_agreement` does.
    """
    if not both.repeated:
        return limits_of_agreement(both.first, both.second, unit=unit, log=log)
    single = [tuple(_scaled(values, log) for values in side) for side in (both.first_single, both.second_single)]
    summary = _Summary.of(means(single[0]), means(single[1]), unit=unit, log=log)
    return summary.limits([Repeats.of(side) for side in single])


def _scaled(values: Numbers, log: bool) -> Numbers:  # noqa: FBT001
    if not log:
        return values
    if (values <= 0).any():
        raise AgreementError(
            "Limits as ratios need values above 0, and the table holds others; take the differences instead."
        )
    return np.log(values)


@dataclass(frozen=True, eq=False)
class _Summary:
    """Pairs on the scale of their differences: as they are, or as logarithms."""

    mean: Numbers
    difference: Numbers
    deviation: float
    log: bool
    unit: str

    @classmethod
    def of(cls, first: Numbers, second: Numbers, *, unit: str, log: bool) -> Self:
        if first.shape != second.shape or first.ndim != 1:
            raise AgreementError(
                f"Limits of agreement need pairs, and {first.size} and {second.size} values were given."
            )
        if first.size < 2:
            raise AgreementError(f"Limits of agreement need at least two pairs, and there is {first.size or 'none'}.")
        if not (np.isfinite(first).all() and np.isfinite(second).all()):
            raise AgreementError("A pair holds a value that is no finite number; leave the pair out.")
        difference = first - second
        size = max(np.abs(first).max(), np.abs(second).max())
        deviation = float(difference.std(ddof=1)) if np.ptp(difference) > _ROUNDING * size else 0.0
        return cls((first + second) / 2, difference, deviation, log, unit)

    @property
    def count(self) -> int:
        return len(self.difference)

    @property
    def quantile(self) -> float:
        """Student's t of the intervals."""
        return float(stats.t.ppf(_TAIL, self.count - 1))

    def limits(self, repeats: list[Repeats] | None = None) -> Limits:
        """Return the limits, corrected where the values are means over repeats."""
        spread = self._corrected(repeats) if repeats else self._plain()
        lower, upper = (self._limit(side, spread) for side in (-1, 1))
        slope, slope_p, no_slope = self._slope()
        return Limits(
            np.exp(self.mean) if self.log else self.mean,
            self.difference,
            self._statistic(spread.ends, spread.interval, spread.source),
            self._bias(),
            lower,
            upper,
            slope,
            slope_p,
            no_slope,
            None if repeats else (self._exact(-1), self._exact(1)),
            self.log,
            self.unit,
        )

    def _plain(self) -> "_Spread":
        definition = "sample standard deviation (n - 1) of the differences"
        error = math.sqrt(3 / self.count) * self.deviation
        how = "sqrt(3 / n) standard deviations"
        return _Spread(self.deviation, self.count - 1, error, definition, how, BLAND_ALTMAN_1986)

    def _corrected(self, repeats: list[Repeats]) -> "_Spread":
        """Bland and Altman 1999, section 5.1, with the mean of 1 / repeats where their numbers differ."""
        variance = self.deviation**2 + sum(side.missing for side in repeats)
        doubt = 2 * self.deviation**4 / (self.count - 1) + sum(side.doubt for side in repeats)
        degrees = 2 * variance**2 / doubt if doubt > 0 else float(self.count - 1)
        error = math.sqrt(self.deviation**2 / self.count + (REACH**2 * doubt / (4 * variance) if variance > 0 else 0.0))
        definition = (
            "standard deviation of the differences of single values: that of the differences of means over repeats "
            "(n - 1), corrected by the standard deviations within subjects"
        )
        how = "by the delta method from the variances of means and of repeats"
        return _Spread(math.sqrt(variance), degrees, error, definition, how, BLAND_ALTMAN_1999)

    def _bias(self) -> Statistic:
        middle, reach = float(self.difference.mean()), self.quantile * self.deviation / math.sqrt(self.count)
        return self._ratio_or_difference(
            (middle, middle - reach, middle + reach),
            f"mean difference, first less second; 95 % interval by Student's t ({self.count - 1} df)",
            BLAND_ALTMAN_1986,
        )

    def _limit(self, side: int, spread: "_Spread") -> Statistic:
        value = float(self.difference.mean()) + side * REACH * spread.value
        reach = self.quantile * spread.limit_error
        return self._ratio_or_difference(
            (value, value - reach, value + reach),
            f"mean difference {'-+'[side > 0]} 1.96 times the {spread.definition}; 95 % interval by Student's t "
            f"({self.count - 1} df), standard error of a limit {spread.limit_error_how}",
            spread.source,
        )

    def _exact(self, side: int) -> Statistic:
        """Find the interval of a limit from the noncentral t distribution, which it follows exactly."""
        middle = float(self.difference.mean())
        ends = sorted(middle + side * factor * self.deviation for factor in _exact_factors(self.count))
        return self._ratio_or_difference(
            (middle + side * REACH * self.deviation, ends[0], ends[1]),
            f"mean difference {'-+'[side > 0]} 1.96 sample standard deviations (n - 1); exact 95 % interval by the "
            f"noncentral t distribution ({self.count - 1} df)",
            CARKEET_2015,
        )

    def _statistic(self, ends: tuple[float, float, float], method: str, source: str) -> Statistic:
        """Return a figure, with its interval, on the scale of the differences."""
        if self.log:
            return Statistic(*ends, "", f"on natural logarithms of the values, {method}", source)
        return Statistic(*ends, self.unit, method, source)

    def _ratio_or_difference(self, ends: tuple[float, float, float], method: str, source: str) -> Statistic:
        """Return a figure, with its interval, on the scale of bias and limits."""
        found = self._statistic(ends, method, source)
        if not self.log:
            return found
        value, low, high = (math.exp(min(end, _MOST)) for end in ends)
        return Statistic(value, low, high, "", f"ratio of first to second: {found.method}", source)

    def _slope(self) -> tuple[Statistic | None, float | None, str]:
        """Regress the differences on the means, and test whether they change with them."""
        if self.count < 3:
            return None, None, "Whether the difference changes with the size needs at least three pairs."
        if np.ptp(self.mean) <= _ROUNDING * np.abs(self.mean).max():
            return None, None, "Whether the difference changes with the size can't be told: all sizes are the same."
        if not self.deviation:
            return None, None, "All differences are the same, so they don't change with the size."
        fit = stats.linregress(self.mean, self.difference)
        reach = float(stats.t.ppf(_TAIL, self.count - 2)) * float(fit.stderr)
        method = (
            "least-squares slope of the difference on the mean of each pair; 95 % interval by Student's t "
            f"({self.count - 2} df)"
        )
        value = float(fit.slope)
        slope = replace(self._statistic((value, value - reach, value + reach), method, BLAND_ALTMAN_1999), unit="")
        return slope, float(fit.pvalue), ""


@cache
def _exact_factors(count: int) -> tuple[float, float]:
    """Return how many standard deviations from the bias the exact interval of a limit begins and ends."""
    root = math.sqrt(count)
    near, far = (float(stats.nct.ppf(share, count - 1, REACH * root)) / root for share in (1 - _TAIL, _TAIL))
    return near, far


@dataclass(frozen=True)
class _Spread:
    """Standard deviation of single differences, and what its limits' intervals need."""

    value: float
    degrees: float
    limit_error: float
    definition: str
    limit_error_how: str
    source: str

    @property
    def ends(self) -> tuple[float, float, float]:
        """The standard deviation, and the ends of its 95 % interval."""
        low, high = (math.sqrt(self.degrees / stats.chi2.ppf(share, self.degrees)) for share in (_TAIL, 1 - _TAIL))
        return self.value, self.value * low, self.value * high

    @property
    def interval(self) -> str:
        """How both were found."""
        return f"{self.definition}; 95 % interval by the chi-squared distribution ({self.degrees:.3g} df)"
