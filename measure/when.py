"""Days and times as people say them, in the time of the place where this runs."""

from collections.abc import Sequence
from datetime import datetime


def day_said(at: datetime) -> str:
    """Say a day: 5 March 2026."""
    local = at.astimezone()
    return f"{local.day} {local:%B %Y}"


def said(at: datetime) -> str:
    """Say a day and a time: 5 March 2026 at 14:30."""
    return f"{day_said(at)} at {at.astimezone():%H:%M}"


def all_said(times: Sequence[datetime]) -> str:
    """Say several times, each once, oldest first."""
    return " and ".join(dict.fromkeys(map(said, sorted(times))))
