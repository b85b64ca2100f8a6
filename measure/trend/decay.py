"""Whether a wound shrinks by the same share every week, and what area that lets expect: A(t) = A0 exp(-k t).

The logarithms of the areas are fitted with a straight line. Each point's variance is that of its measurement plus that
of a scatter, by which wounds differ from any curve, and which the residuals tell (Mandel and Paule, Anal Chem
1970;42:1194-7: so large that the residuals are as they should be). Intervals are those of Student's t; where the
residuals happen to be smaller than the measurements are uncertain, no interval is narrower than these make it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import stdtrit

from measure.agreement.statistic import NORMAL_95
from measure.days import day_of, days_between, weeks_between
from measure.trend.series import Point

LEAST_POINTS = 4
"""A line through three fits too well by chance for its residuals to tell anything (two degrees of freedom are few)."""

LEAST_DAYS = 14.0
"""Over which they must lie: in less, a share of a week is hardly more than noise (common practice; no figure)."""

AHEAD_DAYS = 14.0
"""How far ahead an area is told: the longest time in which a wound should go unseen."""

PROBABILITY = 0.95
_UPPER = (1 + PROBABILITY) / 2
_LEAST_VARIANCE = 1e-12  # of a logarithm: keeps weights finite where a number claims to be exact

Values = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Fit:
    """A weighted fit of a polynomial.

    Attributes
    ----------
    coefficients : ndarray of shape (m,)
        Constant first.
    covariance : ndarray of shape (m, m)
        As the variances have it.
    chi2 : float
        Sum of the squared residuals over the variances.
    dof : int
        Degrees of freedom.
    """

    coefficients: Values
    covariance: Values
    chi2: float
    dof: int

    @property
    def spread(self) -> float:
        """How much larger the residuals are than the variances have it; 1 where they agree."""
        return math.sqrt(self.chi2 / self.dof)


@dataclass(frozen=True, eq=False)
class Decay:
    """An area that shrinks by the same share every week.

    Attributes
    ----------
    start, last : datetime
        Of the first and last point.
    fit : Fit
        Of the logarithm of the area in cm2 against weeks since ``start``.
    scatter : float
        Standard deviation of the logarithm beside what measuring adds.
    measuring : float
        Relative standard uncertainty of the last area; one that is yet to be measured is taken to be known as well.
    points : int
        How many were fitted.
    """

    start: datetime
    last: datetime
    fit: Fit
    scatter: float
    measuring: float
    points: int

    @property
    def per_week(self) -> float:
        """The rate k, per week."""
        return -float(self.fit.coefficients[1])

    @property
    def per_week_interval(self) -> tuple[float, float]:
        """Within which k lies, at 95 %."""
        half = self._factor * math.sqrt(self.fit.covariance[1, 1])
        return self.per_week - half, self.per_week + half

    @property
    def half_life_weeks(self) -> float:
        """In how many weeks the area halves: ln 2 / k."""
        return math.log(2) / self.per_week

    @property
    def half_life_interval(self) -> tuple[float, float]:
        """Within which that lies, at 95 %."""
        low, high = self.per_week_interval
        return math.log(2) / high, math.log(2) / low

    def area_cm2(self, at: datetime) -> float:
        """Return the area that the line has at a time."""
        return math.exp(float(self._row(at) @ self.fit.coefficients))

    def interval_cm2(self, at: datetime) -> tuple[float, float]:
        """Return within which limits an area measured at a time is expected, at 95 %."""
        row = self._row(at)
        middle = float(row @ self.fit.coefficients)
        variance = float(row @ self.fit.covariance @ row) + self.measuring**2 + self.scatter**2
        half = self._factor * math.sqrt(variance)
        return math.exp(middle - half), math.exp(middle + half)

    def _row(self, at: datetime) -> Values:
        return np.array((1.0, weeks_between(self.start, at)))

    @property
    def _factor(self) -> float:
        return _factor(self.fit)


@dataclass(frozen=True)
class NoDecay:
    """Why no such rate is told, in a sentence."""

    reason: str


def decay_of(points: Sequence[Point]) -> Decay | NoDecay:
    """Fit the areas of some points, oldest first, where they carry it."""
    refused = _too_little(points)
    if refused:
        return NoDecay(refused)
    found = fitted(points)
    refused = _unlike(found) or _bent(points, found.scatter)
    return NoDecay(refused) if refused else found


def fitted(points: Sequence[Point]) -> Decay:
    """Fit the areas of at least three points, oldest first, whether they carry it or not."""
    weeks, logs, relative = _values(points)
    fit, scatter = line(weeks, logs, relative)
    return Decay(points[0].at, points[-1].at, fit, scatter, float(relative[-1]), len(points))


def _values(points: Sequence[Point]) -> tuple[Values, Values, Values]:
    """Return weeks since the first point, logarithms of the areas, and their relative uncertainties."""
    weeks = np.array([weeks_between(points[0].at, point.at) for point in points])
    logs = np.log([point.area.value for point in points])
    return weeks, logs, np.array([point.area.relative_uncertainty for point in points])


def line(weeks: Values, logs: Values, relative: Values) -> tuple[Fit, float]:
    """Fit a straight line with a scatter beside the uncertainties of the points; return it and the scatter.

    Parameters
    ----------
    weeks, logs, relative : ndarray of shape (N,)
        Times, logarithms of the areas, and relative standard uncertainties; N is at least 3.
    """
    known = relative**2

    def excess(scatter2: float) -> float:
        return _chi2(weeks, logs, known + scatter2) - (len(weeks) - 2)

    scatter2 = brentq(excess, 0.0, _ample(logs), xtol=1e-10) if excess(0.0) > 0 else 0.0
    return weighted(weeks, logs, known + scatter2, 1), math.sqrt(scatter2)


def _chi2(weeks: Values, logs: Values, variances: Values) -> float:
    """Return what `weighted` has for a straight line, without the rest: it is asked for dozens of times a fit."""
    weight = 1 / np.maximum(variances, _LEAST_VARIANCE)
    total = weight.sum()
    x, y = weeks - weight @ weeks / total, logs - weight @ logs / total
    residuals = y - (weight * x) @ y / ((weight * x) @ x) * x
    return float(weight @ residuals**2)


def _ample(logs: Values) -> float:
    """Return a variance beside which the residuals of any line look small."""
    return float(len(logs) * np.ptp(logs) ** 2) + 1.0


def weighted(weeks: Values, logs: Values, variances: Values, degree: int) -> Fit:
    """Fit a polynomial by least squares weighted with the variances."""
    powers = np.vander(weeks, degree + 1, increasing=True)
    scale = 1 / np.sqrt(np.maximum(variances, _LEAST_VARIANCE))
    q, r = np.linalg.qr(powers * scale[:, np.newaxis])
    coefficients = np.linalg.solve(r, q.T @ (logs * scale))
    inverse = np.linalg.inv(r)
    residuals = (logs - powers @ coefficients) * scale
    return Fit(coefficients, inverse @ inverse.T, float(residuals @ residuals), len(weeks) - degree - 1)


def _factor(fit: Fit) -> float:
    """By how much of a standard uncertainty an interval reaches to each side."""
    return max(float(stdtrit(fit.dof, _UPPER)) * fit.spread, NORMAL_95)


def _too_little(points: Sequence[Point]) -> str:
    """Say why some points are too few for a rate; empty where they are not."""
    if points and points[-1].healed:
        return "The wound is recorded as healed: there is nothing to expect of its area."
    if any(not point.area.value > 0 for point in points):
        return "An area is nothing: a share of it can't be told."
    days = len({day_of(point.at) for point in points})
    if days < LEAST_POINTS:
        return f"Measured on {days} {'day' if days == 1 else 'days'}; a weekly rate is told from {LEAST_POINTS} on."
    span = days_between(points[0].at, points[-1].at)
    if span < LEAST_DAYS:
        return f"Measured over {span:.0f} days; a weekly rate is told from {LEAST_DAYS:.0f} days on."
    if not all(math.isfinite(point.area.relative_uncertainty) for point in points):
        return "The uncertainty of an area is not known, so neither is that of a weekly rate."
    return ""


def _unlike(decay: Decay) -> str:
    """Say that no shrinking can be told; empty where it can."""
    low, high = decay.per_week_interval
    if low > 0:
        return ""
    if high < 0:
        return "The area grows: no rate of shrinking is told."
    return "The areas scatter too much, or change too little, for a weekly rate of shrinking."


def _bent(points: Sequence[Point], scatter: float) -> str:
    """Say that the points follow a curve and no line; empty where they may follow a line."""
    weeks, logs, relative = _values(points)
    fit = weighted(weeks, logs, relative**2 + scatter**2, 2)
    bend = float(fit.coefficients[2])
    half = float(stdtrit(fit.dof, _UPPER)) * fit.spread * math.sqrt(fit.covariance[2, 2])
    if abs(bend) <= half:
        return ""
    return f"The rate itself changes: the wound shrinks {'slower' if bend > 0 else 'faster'} than it did at first."
