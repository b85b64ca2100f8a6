"""Dates below a chart: weeks counted from the first visit, then months, as many as stand there without touching."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from measure.trend.apart import wide

_DAYS = (1, 2, 7, 14, 28)  # wounds are seen by the week
_MONTHS = (1, 2, 3, 6, 12, 24, 60)
_BETWEEN_PX = 12.0


@dataclass(frozen=True)
class Tick:
    """An instant and its words; the year stands below the first one and wherever a new one begins."""

    at: datetime
    words: str


def ticks(start: datetime, end: datetime, room: float, size: float) -> list[Tick]:
    """Return the dates to write.

    Parameters
    ----------
    start, end : datetime
        First and last instant that is shown.
    room : float
        From the one to the other, in px.
    size : float
        Of the letters, in px.
    """
    first, last = start.astimezone(), end.astimezone()
    per_second = room / max((last - first).total_seconds(), 1.0)
    for found in _choices(first, last):
        if len(found) > 1 and _fit(found, per_second, size):
            return found
    return _told([first], "%-d %b")


def _choices(first: datetime, last: datetime) -> Iterator[list[Tick]]:
    for days in _DAYS:
        count = (last.date() - first.date()).days // days
        yield _told([_on(first, first + timedelta(days=days * number)) for number in range(count + 1)], "%-d %b")
    for months in _MONTHS:
        yield _told(list(_firsts(first, last, months)), "%b")


def _firsts(first: datetime, last: datetime, months: int) -> Iterator[datetime]:
    """Yield the first day of every so many months, counted from January."""
    month = 12 * first.year + first.month - 1
    for number in range(month - month % months, 12 * last.year + last.month, months):
        at = datetime(number // 12, number % 12 + 1, 1).astimezone()
        if first <= at <= last:
            yield at


def _on(first: datetime, day: datetime) -> datetime:
    """Return the time of the first visit on another day, whatever summer time does in between."""
    return datetime.combine(day.date(), first.time()).astimezone()


def _told(instants: Sequence[datetime], written: str) -> list[Tick]:
    before = [None, *(at.year for at in instants)]
    return [
        Tick(at, f"{at.strftime(written)}\n{at.year}" if at.year != year else at.strftime(written))
        for at, year in zip(instants, before, strict=False)
    ]


def _fit(found: Sequence[Tick], per_second: float, size: float) -> bool:
    return all(
        (later.at - earlier.at).total_seconds() * per_second
        >= (wide(earlier.words, size) + wide(later.words, size)) / 2 + _BETWEEN_PX
        for earlier, later in pairwise(found)
    )
