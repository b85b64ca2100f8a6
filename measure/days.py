"""Days and times as people say them, in the time of the place where this runs, and how far apart they lie."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

_DAY, _WEEK = timedelta(days=1), timedelta(weeks=1)


def day_of(at: datetime) -> date:
    """Return the day on which a person sees an instant."""
    return at.astimezone().date()


def days_between(earlier: datetime, later: datetime) -> float:
    """Return how many days lie between two instants; less than 0 where the later one is earlier."""
    return (later - earlier) / _DAY


def weeks_between(earlier: datetime, later: datetime) -> float:
    """Return how many weeks lie between two instants."""
    return (later - earlier) / _WEEK


def said(at: datetime, beside: datetime | None = None) -> str:
    """Say a day: ``3 August 2026``, without its year where it stands beside another day of that year."""
    day = day_of(at)
    words = f"{day.day} {day:%B}"
    return words if beside and day_of(beside).year == day.year else f"{words} {day.year}"


def moment_said(at: datetime) -> str:
    """Say a day and a time: ``5 March 2026 at 14:30``."""
    return f"{said(at)} at {at.astimezone():%H:%M}"


def moments_said(times: Iterable[datetime]) -> str:
    """Say several times, each once, oldest first."""
    return " and ".join(dict.fromkeys(map(moment_said, sorted(times))))
