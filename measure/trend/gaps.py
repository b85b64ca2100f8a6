"""Where a series is interrupted: long times without a visit, and lengths that were taken in another way."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from measure.days import days_between, said
from measure.trend.series import Point, Series

LONGEST_DAYS = 14.0
"""Without a visit; wounds under care are looked at weekly, and at least every two weeks (common practice)."""


@dataclass(frozen=True)
class Gap:
    """A time without a visit."""

    start: datetime
    end: datetime

    @property
    def days(self) -> int:
        """How long it is, in whole days."""
        return round(days_between(self.start, self.end))

    @property
    def sentence(self) -> str:
        """Say why it matters."""
        between = f"between {said(self.start, self.end)} and {said(self.end)}"
        return f"No visit for {self.days} days, {between}: how the wound went in that time is not known."


@dataclass(frozen=True)
class Break:
    """A change of how length and width are taken.

    Attributes
    ----------
    at : datetime
        The first visit with the new convention.
    before, after : str
        The conventions.
    """

    at: datetime
    before: str
    after: str

    @property
    def sentence(self) -> str:
        """Say what may not be compared."""
        return (
            f"From {said(self.at)} on, length and width are taken {self.after}, before {self.before}: they can't be "
            "compared across that day. The traced area can."
        )


def gaps(series: Series) -> tuple[Gap, ...]:
    """Return the times of more than `LONGEST_DAYS` without a visit, between the first and the last one.

    A healed wound needs none: between one recorded as healed and the next visit there is no gap.
    """
    seen = sorted([(visit.at, False) for visit in series.visits] + [(p.at, True) for p in series.points if p.healed])
    return tuple(
        Gap(earlier, later)
        for (earlier, healed), (later, _) in pairwise(seen)
        if not healed and days_between(earlier, later) > LONGEST_DAYS
    )


def breaks(points: Sequence[Point]) -> tuple[Break, ...]:
    """Return where the convention of length and width changes."""
    taken = [point for point in points if point.convention]
    return tuple(
        Break(later.at, earlier.convention, later.convention)
        for earlier, later in pairwise(taken)
        if earlier.convention != later.convention
    )


def stretches(points: Sequence[Point]) -> Iterator[list[Point]]:
    """Yield runs of points whose lengths may be compared; what is healed belongs to the run before it."""
    run: list[Point] = []
    convention = ""
    for point in points:
        if run and (run[-1].healed or point.convention not in {convention, ""}):
            yield run
            run = []
        convention = point.convention or convention
        run.append(point)
    if run:
        yield run
