"""A mean square of an analysis of variance, and the interval of a sum of several."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

CONFIDENCE = 0.95
"""Of every interval here."""

ROUNDING = 32 * float(np.finfo(np.float64).eps)
"""Deviations of less than this part of the largest value are rounding, not disagreement."""

LARGE_SAMPLE = "modified large-sample interval (95 %), which takes the errors as normally distributed"
LARGE_SAMPLE_SOURCE = (
    "Graybill FA, Wang CM. J Am Stat Assoc 1980;75:869-873; with differences: Ting N, Burdick RK, Graybill FA, "
    "Jeyaratnam S, Lu TFC. J Stat Comput Simul 1990;35:135-143"
)


@dataclass(frozen=True)
class MeanSquare:
    """A row of the table of an analysis of variance.

    Attributes
    ----------
    name : str
        Of what it is the mean square.
    sum_of_squares : float
    degrees_of_freedom : int
    expected : tuple of float
        How many times each variance component is in the mean that it would have over many such studies; the components
        are named and ordered as the rows of the table.
    """

    name: str
    sum_of_squares: float
    degrees_of_freedom: int
    expected: tuple[float, ...]

    @property
    def value(self) -> float:
        """The sum of squares over its degrees of freedom."""
        return self.sum_of_squares / self.degrees_of_freedom


def large_sample_interval(
    shares: NDArray[np.float64], squares: Sequence[MeanSquare] | Sequence[tuple[float, int]]
) -> tuple[float, float]:
    """Return the 95 % interval of a weighted sum of independent mean squares; the lower end may be negative.

    Parameters
    ----------
    shares : ndarray, shape (M,)
        How many times each mean square is in the sum; the terms between two of them that Ting and others add where some
        are negative are left out, which makes the interval a little wide.
    squares : sequence of MeanSquare, or of (value, degrees of freedom), length M
    """
    pairs = [(each.value, each.degrees_of_freedom) if isinstance(each, MeanSquare) else each for each in squares]
    values, degrees = np.array(pairs, dtype=np.float64).T
    terms = shares * values
    tail = (1 - CONFIDENCE) / 2
    below = 1 - degrees / chdtri(degrees, tail)
    above = degrees / chdtri(degrees, 1 - tail) - 1
    down = np.where(terms >= 0, below, above) * terms
    up = np.where(terms >= 0, above, below) * terms
    return float(terms.sum() - np.sqrt((down**2).sum())), float(terms.sum() + np.sqrt((up**2).sum()))
