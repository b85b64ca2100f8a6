"""How far single measurements of several raters lie from the mean of their subject: limits of agreement with the mean.

With more than two raters there is no one difference to draw against the mean; each value less the mean of its subject
takes its place (Jones and others 2011), with limits that hold the spread between raters too (Christensen and others
2020): 1.96 times the root of the mean square of these distances. That mean square is a sum of the mean squares of
raters, of raters with subjects, and of trials, whose interval is found as Graybill and Wang (1980) have it.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Names, Numbers, Observations, codes
from measure.agreement.statistic import Statistic

NORMAL_95 = 1.96
"""Within so many standard deviations lie 95 % of a normal distribution (JCGM 100:2008, table G.1)."""

_METHOD = (
    "1.96 times the root of the mean square of all values less the mean of their subject, so that about 95 of 100 "
    "single values lie nearer to the mean of {raters} raters; {n} subjects that each rater measured {times}; 95 % "
    "interval by the modified large-sample method on the mean squares of raters, of raters with subjects, and of trials"
)
_SOURCE = (
    "Jones, Dobson and O'Brian, Int J Epidemiol 2011;40:1308-1313; Christensen and others, BMC Med Res Methodol "
    "2020;20:304; interval: Graybill and Wang, J Am Stat Assoc 1980;75:869-873"
)
_TIMES = {1: "once", 2: "twice"}


@dataclass(frozen=True, eq=False)
class FromMean:
    """Distances of single values from the mean of their subject.

    Attributes
    ----------
    rater : ndarray of str, shape (N,)
    mean, difference : ndarray of float64, shape (N,)
        The mean of the subject, and the value less that mean, both in ``unit``; where ``relative``, the geometric
        mean, and the difference from it in percent.
    limit : Statistic
        About 95 of 100 single values lie within it on either side; where ``relative``, the larger distance, upward.
    low_limit : float
        The limit downward, less than 0.
    left_out : int
        Subjects that some rater measured less often than the others.
    unit : str
        Of the mean.
    relative : bool
    """

    rater: Names
    mean: Numbers
    difference: Numbers
    limit: Statistic
    low_limit: float
    left_out: int
    unit: str
    relative: bool


def from_mean(observations: Observations, *, relative: bool = False) -> FromMean:
    """Return the distances, from subjects that all raters measured equally often.

    Parameters
    ----------
    observations : Observations
        Numbers, by one method.
    relative : bool
        Whether distances are told in percent of the mean, for errors that grow with the size.

    Raises
    ------
    AgreementError
        If the values are categories or by several methods, there is one rater, or fewer than two subjects were
        measured equally often by all; where ``relative``, if a value is not more than 0.
    """
    if not observations.numeric:
        raise AgreementError("Categories have no mean; draw how often each was named.")
    if len(observations.methods) > 1:
        raise AgreementError("The table holds several methods; draw the raters of one method at a time.")
    if len(observations.raters) < 2:
        raise AgreementError("One rater alone measured; how far raters lie apart needs at least two.")
    kept, times = _equally_often(observations)
    even = (observations.logged() if relative else observations).where(kept)
    cells = _cells(even, times)
    centre = cells.mean(axis=(1, 2))
    rows = codes(even.subject, even.subjects)
    half = _limit(cells)
    method = _METHOD.format(raters=cells.shape[1], n=cells.shape[0], times=_TIMES.get(times, f"{times} times"))
    left_out = len(observations.subjects) - len(even.subjects)
    mean, difference = centre[rows], even.value - centre[rows]
    if not relative:
        limit = Statistic(half[0], half[1], half[2], observations.unit, method, _SOURCE)
        return FromMean(even.rater, mean, difference, limit, -half[0], left_out, observations.unit, relative)
    upward = [100 * math.expm1(each) for each in half]
    limit = Statistic(upward[0], upward[1], upward[2], "%", f"on natural logarithms: {method}", _SOURCE)
    low = 100 * math.expm1(-half[0])
    return FromMean(
        even.rater, np.exp(mean), 100 * np.expm1(difference), limit, low, left_out, observations.unit, relative
    )


def _equally_often(observations: Observations) -> tuple[NDArray[np.bool_], int]:
    """Return the rows of subjects that all raters measured equally often, and how often that is in most of them."""
    rows, columns = (
        codes(names, known)
        for names, known in ((observations.subject, observations.subjects), (observations.rater, observations.raters))
    )
    count = np.zeros((len(observations.subjects), len(observations.raters)), dtype=np.intp)
    np.add.at(count, (rows, columns), 1)
    even = (count == count[:, :1]).all(axis=1) & (count[:, 0] > 0)
    if even.sum() < 2:
        raise AgreementError(
            "Fewer than two subjects were measured equally often by every rater; limits of agreement need two."
        )
    usual = np.bincount(count[even, 0])
    times = int(usual.argmax())
    if usual[times] < 2:
        raise AgreementError("No two subjects were measured equally often; limits of agreement need two.")
    kept: NDArray[np.bool_] = (even & (count[:, 0] == times))[rows]
    return kept, times


def _cells(observations: Observations, times: int) -> Numbers:
    """Return the values, shape (subjects, raters, times); trials in the order of the rows."""
    rows = codes(observations.subject, observations.subjects)
    columns = codes(observations.rater, observations.raters)
    order = np.lexsort((columns, rows))
    shape = len(observations.subjects), len(observations.raters), times
    return np.asarray(observations.value[order].reshape(shape), dtype=np.float64)


def _limit(cells: Numbers) -> tuple[float, float, float]:
    """Return the limit and its interval."""
    parts = list(_mean_squares(cells))
    square = sum(share * each for share, each, _ in parts)
    below = sum(((1 - freedom / chi2.ppf(0.975, freedom)) * share * each) ** 2 for share, each, freedom in parts)
    above = sum(((freedom / chi2.ppf(0.025, freedom) - 1) * share * each) ** 2 for share, each, freedom in parts)
    low, high = square - math.sqrt(below), square + math.sqrt(above)
    return NORMAL_95 * math.sqrt(square), NORMAL_95 * math.sqrt(max(low, 0.0)), NORMAL_95 * math.sqrt(high)


def _mean_squares(cells: Numbers) -> Iterator[tuple[float, float, int]]:
    """Yield the mean squares that add up to that of the distances: their shares, values and degrees of freedom."""
    subjects, raters, times = cells.shape
    means = cells.mean(axis=2)
    total = cells.size
    rater = means.mean(axis=0) - means.mean()
    both = means - means.mean(axis=1, keepdims=True) - rater
    trial = cells - means[..., np.newaxis]
    squares = (
        (float((rater**2).sum()) * subjects * times, raters - 1),
        (float((both**2).sum()) * times, (subjects - 1) * (raters - 1)),
        (float((trial**2).sum()), subjects * raters * (times - 1)),
    )
    for square, freedom in squares:
        if freedom:
            yield freedom / total, square / freedom, freedom
