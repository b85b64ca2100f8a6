"""One figure of an agreement study, with its interval, how it was found, and who describes that."""

import math
from dataclasses import dataclass

NORMAL_95 = 1.96
"""Within so many standard deviations lie 95 % of a normal distribution (JCGM 100:2008, table G.1): not 1.959964."""

DIFFERENCE_95 = NORMAL_95 * math.sqrt(2)
"""Two measurements, each with its error, differ by less than this times that error's standard deviation in 95 %."""

_MOST = 700.0  # the logarithm of about the largest ratio that a float holds


@dataclass(frozen=True)
class Statistic:
    """A figure; what can't be found is an `AgreementError` with a sentence, never one without a value.

    Attributes
    ----------
    value : float
        Finite, in ``unit``.
    low, high : float
        Ends of the 95 % confidence interval; NaN where none is given.
    unit : str
        As ``cm2``; empty for a number without one.
    method : str
        How figure and interval were found, in words that a statistician can check.
    source : str
        Where that is described: a paper, a standard.

    Raises
    ------
    ValueError
        If the value is not finite.
    """

    value: float
    low: float = math.nan
    high: float = math.nan
    unit: str = ""
    method: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no figure."""
        if not math.isfinite(self.value):
            raise ValueError(f"A statistic of {self.value} was made; say in a sentence why there is none.")

    @property
    def has_interval(self) -> bool:
        """Whether both ends are known."""
        return math.isfinite(self.low) and math.isfinite(self.high)


def ratio(logarithm: float) -> float:
    """Return the ratio of which a natural logarithm is; where no float holds it, about the largest that one does."""
    return math.exp(min(logarithm, _MOST))
