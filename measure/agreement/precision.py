"""Repeatability and reproducibility of one subject measured by several raters: one level of a precision experiment."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, stdtrit

from measure.agreement.errors import AgreementError
from measure.agreement.mean_square import LARGE_SAMPLE, LARGE_SAMPLE_SOURCE, ROUNDING, large_sample_interval
from measure.agreement.observations import Observations, codes
from measure.agreement.statistic import Statistic

LIMIT = 2.8
"""Of standard deviations to limits of two single values' difference: 1.96 √2, rounded as both standards print it."""

SIGNIFICANCE = 0.005
"""Of Mandel's h and k, as ASTM E691 tabulates them: so few raters stand out by chance."""

SOURCE = "ISO 5725-2 (basic method, one level); ASTM E691-99 (s_r, s_R, h and k)"

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """How one rater stands among the others.

    Attributes
    ----------
    rater : str
    count : int
        Values.
    mean : float
    standard_deviation : float, optional
        Of the rater's values; None of a single one.
    h : float, optional
        Mandel's: how far the mean is from the mean of all, in standard deviations of the means. None with fewer than
        three raters, and where all means are alike.
    k : float, optional
        Mandel's: the standard deviation over the repeatability standard deviation. None of a single value.
    h_critical, k_critical : float, optional
        What ``|h|`` and ``k`` exceed by chance in one of 200 raters; that of ``k`` goes with the rater's number of
        values. None where there is no h or k.
    """

    rater: str
    count: int
    mean: float
    standard_deviation: float | None
    h: float | None
    k: float | None
    h_critical: float | None
    k_critical: float | None

    @property
    def stands_apart(self) -> bool:
        """Whether the rater's mean is farther from the others than chance makes it."""
        return self.h is not None and self.h_critical is not None and abs(self.h) > self.h_critical

    @property
    def varies_more(self) -> bool:
        """Whether the rater's values differ more among themselves than chance makes them."""
        return self.k is not None and self.k_critical is not None and self.k > self.k_critical


@dataclass(frozen=True)
class Precision:
    """What is known of one level.

    Attributes
    ----------
    subject : str
        The level.
    mean : float
        Of all values.
    of_means : float
        Standard deviation of the raters' means, each counted once.
    repeatability, reproducibility : Statistic
        Standard deviations of a value by the same rater, and by any (s_r and s_R).
    between : float
        Standard deviation between raters (s_L), 0 where its variance came out negative.
    repeatability_limit, reproducibility_limit : Statistic
        What two values seldom differ by: 2.8 times the above (r and R).
    standings : tuple of Standing
        Of the raters, in the order of the rows.
    sentences : tuple of str
        What was set to 0.
    """

    subject: str
    mean: float
    of_means: float
    repeatability: Statistic
    reproducibility: Statistic
    between: float
    repeatability_limit: Statistic
    reproducibility_limit: Statistic
    standings: tuple[Standing, ...]
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Cells:
    """Count, mean and sum of squared deviations of each rater, shape (raters,)."""

    count: Numbers
    mean: Numbers
    squares: Numbers

    @classmethod
    def of(cls, observations: Observations) -> "_Cells":
        rater = codes(observations.rater, observations.raters)
        count = np.bincount(rater).astype(np.float64)
        mean = np.bincount(rater, observations.value) / count
        squares = np.bincount(rater, (observations.value - mean[rater]) ** 2)
        return cls(count, mean, squares.astype(np.float64))

    @property
    def within(self) -> tuple[float, int]:
        """The variance within raters, and its degrees of freedom."""
        freedom = int((self.count - 1).sum())
        return float(self.squares.sum()) / freedom, freedom

    @property
    def apart(self) -> tuple[float, int]:
        """The mean square between raters, and its degrees of freedom."""
        total = self.count.sum()
        deviations = self.mean - (self.count * self.mean).sum() / total
        freedom = len(self.count) - 1
        return float((self.count * deviations**2).sum()) / freedom, freedom

    @property
    def size(self) -> float:
        """Values a rater, as they count for the variance between raters."""
        total = self.count.sum()
        return float(total - (self.count**2).sum() / total) / (len(self.count) - 1)


def precision(observations: Observations) -> Precision:
    """Return repeatability, reproducibility, and how each rater stands.

    Parameters
    ----------
    observations : Observations
        Numbers, of one subject and one method; raters may have measured different numbers of times.

    Raises
    ------
    AgreementError
        If there are several subjects or methods, one rater, nothing was repeated, or no repeated value differs.
    """
    _refuse(observations)
    cells = _Cells.of(observations)
    least = len(observations.value) * (ROUNDING * float(np.abs(observations.value).max())) ** 2
    if cells.squares.sum() <= least:
        raise AgreementError(
            f"No repeated measurement of {observations.subjects[0]} differs from the first, so repeatability is too "
            "good to see at the digits that were noted."
        )
    (within, _), (apart, _) = cells.within, cells.apart
    between = (apart - within) / cells.size
    same, any_rater = _same_rater(cells, observations.unit), _any_rater(cells, observations.unit)
    return Precision(
        observations.subjects[0],
        float(observations.value.mean()),
        float(cells.mean.std(ddof=1)),
        same,
        any_rater,
        math.sqrt(max(between, 0.0)),
        _limit(same),
        _limit(any_rater),
        _standings(cells, observations.raters),
        (_negative(between),) if between < 0 else (),
    )


def _refuse(observations: Observations) -> None:
    if not observations.numeric:
        raise AgreementError("The values are categories; repeatability can be found of numbers only.")
    if len(observations.subjects) > 1 or len(observations.methods) > 1:
        raise AgreementError("Repeatability of one level needs one subject measured by one method; choose one of them.")
    if len(observations.raters) < 2:
        raise AgreementError("Reproducibility needs two raters at least; the table holds one.")
    if len(observations.value) == len(observations.raters):
        raise AgreementError("Nobody measured twice, so repeatability is not known; let raters measure again.")


def _negative(between: float) -> str:
    return (
        f"The variance between raters came out as {between:.3g}, which no variance can be, and was set to 0: raters "
        "differ no more than one rater's own values do, and reproducibility is taken to be repeatability."
    )


def _same_rater(cells: _Cells, unit: str) -> Statistic:
    within, freedom = cells.within
    low, high = large_sample_interval(np.ones(1), [(within, freedom)])
    method = (
        "repeatability standard deviation s_r: the root of the variance within raters, weighted by its degrees of "
        "freedom; 95 % interval from chi-squared"
    )
    return Statistic(math.sqrt(within), math.sqrt(low), math.sqrt(high), unit, method, SOURCE)


def _any_rater(cells: _Cells, unit: str) -> Statistic:
    (within, _), (apart, _) = cells.within, cells.apart
    share = 1 / cells.size
    value = math.sqrt(max(share * apart + (1 - share) * within, within))
    low, high = large_sample_interval(np.array([share, 1 - share]), [cells.apart, cells.within])
    ends = min(math.sqrt(max(low, 0.0)), value), max(math.sqrt(high), value)
    method = (
        "reproducibility standard deviation s_R: the root of s_r² + s_L², where s_L² is set to 0 if it is negative; "
        f"{LARGE_SAMPLE}"
    )
    return Statistic(value, *ends, unit, method, f"{SOURCE}; {LARGE_SAMPLE_SOURCE}")


def _limit(spread: Statistic) -> Statistic:
    value, low, high = (LIMIT * each for each in (spread.value, spread.low, spread.high))
    return Statistic(value, low, high, spread.unit, f"limit: {LIMIT} times the {spread.method}", spread.source)


def _standings(cells: _Cells, raters: tuple[str, ...]) -> tuple[Standing, ...]:
    apart = cells.mean.std(ddof=1)
    told = len(raters) > 2 and apart > ROUNDING * np.abs(cells.mean).max()
    h = (cells.mean - cells.mean.mean()) / apart if told else None
    within, freedom = cells.within
    standings = []
    for number, rater in enumerate(raters):
        count = int(cells.count[number])
        spread = math.sqrt(cells.squares[number] / (count - 1)) if count > 1 else None
        standings.append(
            Standing(
                rater,
                count,
                float(cells.mean[number]),
                spread,
                None if h is None else float(h[number]),
                None if spread is None else spread / math.sqrt(within),
                None if h is None else h_critical(len(raters)),
                None if spread is None else k_critical(count - 1, freedom),
            )
        )
    return tuple(standings)


def h_critical(raters: int) -> float:
    """Return what Mandel's ``|h|`` of one of three or more raters exceeds by chance once in 200 (from Student's t)."""
    t = float(stdtrit(raters - 2, 1 - SIGNIFICANCE / 2))
    return (raters - 1) * t / math.sqrt(raters * (t**2 + raters - 2))


def k_critical(own: int, all_together: int) -> float:
    """Return what Mandel's k of a rater exceeds by chance once in 200.

    Parameters
    ----------
    own, all_together : int
        Degrees of freedom of the rater's standard deviation and of the repeatability standard deviation, whose squares'
        ratio is distributed as beta: with as many values a rater that is the standard's F.
    """
    if own == all_together:
        return 1.0
    share = float(betaincinv(own / 2, (all_together - own) / 2, 1 - SIGNIFICANCE))
    return math.sqrt(share * all_together / own)
