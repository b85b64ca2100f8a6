"""How long after a visit it came into the record."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from measure.practice.share import FEWEST
from measure.record.practice import PracticeVisit


@dataclass(frozen=True)
class Delay:
    """From the visit to its entry, in hours, over so many visits: the middle one, and what nine of ten keep within."""

    visits: int
    median_h: float
    nine_tenths_h: float

    @property
    def words(self) -> str:
        """Say it."""
        if self.visits < FEWEST:
            return f"{self.visits} visits: too few to judge"
        return f"half within {in_words(self.median_h)}, nine of ten within {in_words(self.nine_tenths_h)}"


def delay(visits: Collection[PracticeVisit]) -> Delay | None:
    """Return the delay; None without visits. An entry dated ahead of its saving counts as saved at once."""
    if not visits:
        return None
    hours = [max((visit.saved_at - visit.at) / timedelta(hours=1), 0.0) for visit in visits]
    median, most = np.percentile(hours, (50, 90))
    return Delay(len(hours), float(median), float(most))


def in_words(hours: float) -> str:
    """Say a time: 40 minutes, 6 hours, 3 days."""
    for size, unit in ((1 / 60, "minute"), (1.0, "hour"), (24.0, "day")):
        number = max(round(hours / size), 1)
        if unit == "day" or number < {"minute": 90, "hour": 48}[unit]:
            return f"{number} {unit}{'' if number == 1 else 's'}"
    raise AssertionError
