"""How many of how many, and how sure that is: small numbers are shown, and called small."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

FEWEST = 10
"""Below this a share is not judged: of nine, one more or less moves it by 11 points (common practice)."""

_Z = 1.959964
"""Of the standard normal distribution, for an interval of 95 %."""

SOURCE = "Wilson EB. J Am Stat Assoc 1927;22:209-212; without continuity correction, as in Newcombe RG. Stat Med 1998"


@dataclass(frozen=True)
class Share:
    """A count out of a number.

    Attributes
    ----------
    count, total : int
        So many of so many; ``total`` may be 0.
    """

    count: int
    total: int

    @property
    def few(self) -> bool:
        """Whether there are too few to judge."""
        return self.total < FEWEST

    @property
    def percent(self) -> float:
        """The share; NaN of none."""
        return 100 * self.count / self.total if self.total else math.nan

    @property
    def interval(self) -> tuple[float, float]:
        """Ends of the 95 % score interval (Wilson 1927), in percent: 0 to 100 of none."""
        if not self.total:
            return 0.0, 100.0
        share, widening = self.count / self.total, _Z**2 / self.total
        middle = share + widening / 2
        reach = math.sqrt(share * (1 - share) * widening + widening**2 / 4)
        low, high = (100 * (middle + side * reach) / (1 + widening) for side in (-1, 1))
        return (low if self.count else 0.0), (high if self.count < self.total else 100.0)

    def __str__(self) -> str:
        """Say the count: 12 of 15."""
        return f"{self.count} of {self.total}"

    @property
    def words(self) -> str:
        """Say the share with its interval: 80 % (55 to 93); or that there are too few."""
        if not self.total:
            return "none to count"
        if self.few:
            return "too few to judge"
        low, high = self.interval
        return f"{self.percent:.0f} % ({low:.0f} to {high:.0f})"


def share_of(answers: Iterable[bool]) -> Share:
    """Count the answers that are yes."""
    told = list(answers)
    return Share(sum(told), len(told))
