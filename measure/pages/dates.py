"""Instants and days as a person reads them, in the time of the place where they are read."""

from datetime import date, datetime

from measure.pages.findings_moment import zone

_DAY = "%-d %b %Y"


def day(at: datetime | date) -> str:
    """Say a day, as 3 Aug 2026."""
    return _local(at).strftime(_DAY)


def moment(at: datetime) -> str:
    """Say a day and a time, as 3 Aug 2026, 14:05."""
    return _local(at).strftime(f"{_DAY}, %H:%M")


def due_in_words(due: date, today: date) -> str:
    """Say how far off a day is on which something is due."""
    days = (due - today).days
    if days < 0:
        return f"overdue since {day(due)}"
    return "due today" if days == 0 else "due tomorrow" if days == 1 else f"due {day(due)}"


def _local(at: datetime | date) -> datetime | date:
    return at.astimezone(zone()) if isinstance(at, datetime) else at
