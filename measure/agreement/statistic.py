"""One figure of an agreement study, with its interval, how it was found, and who describes that."""

import math
from dataclasses import dataclass


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
