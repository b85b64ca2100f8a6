"""What may happen to a wound as it stands: it is opened once, then healed, opened again, merged or split."""

from collections.abc import Collection
from datetime import datetime

from measure.record.entries import Status, What, WoundEntry
from measure.record.errors import ChangedError, RecordError

AFTER = {
    What.HEALED: Status.OPEN,
    What.MERGED: Status.OPEN,
    What.SPLIT: Status.OPEN,
    What.REOPENED: Status.HEALED,
}
"""How a wound must stand for something to happen to it."""


def check_unchanged(wound: WoundEntry, seen: int | None) -> None:
    """Refuse what rests on a page that doesn't show the wound's last events.

    Raises
    ------
    ChangedError
        If there are more events than were seen.
    """
    if seen is not None and len(wound.events) > seen:
        last = wound.events[-1]
        raise ChangedError(
            f"In the meantime {last.by} has marked {wound.key} as {last.what} ({last.at:%Y-%m-%d %H:%M} UTC); look at "
            "it again before you mark it."
        )


def check_event(wound: WoundEntry, what: What, at: datetime) -> None:
    """Refuse what can't happen to a wound as it stands, or not at that time.

    Raises
    ------
    RecordError
        If it can't.
    """
    last = wound.events[-1]
    if AFTER.get(what) is not wound.status:
        raise RecordError(
            f"{wound.key} was marked as {last.what} by {last.by} on {last.at:%Y-%m-%d}, so it can't be marked as "
            f"{what} now; {_instead(wound.status)}."
        )
    if at < last.at:
        raise RecordError(
            f"{wound.key} was marked as {last.what} for {last.at:%Y-%m-%d %H:%M} UTC, so it can't be marked as {what} "
            f"for an earlier time, {at:%Y-%m-%d %H:%M} UTC; check the day."
        )


def check_other(wound: WoundEntry, what: What, other: int | None, numbers: Collection[int]) -> None:
    """Refuse a wound that another one can't be merged or split into.

    Parameters
    ----------
    wound : WoundEntry
    what : What
    other : int, optional
        Number of the other wound of the same person.
    numbers : collection of int
        Of all wounds of the person.

    Raises
    ------
    RecordError
        If there is none of that number, or one was named where none has a part.
    """
    if other is None:
        return
    if what not in {What.MERGED, What.SPLIT}:
        raise RecordError(f"A wound is marked as {what} by itself; name no other wound with it.")
    if other == wound.number or other not in numbers:
        raise RecordError(
            f"{wound.key} can't be marked as {what} into wound {other}; name the number of another wound of the same "
            "person, and open it first if it is new."
        )


def _instead(status: Status) -> str:
    allowed = [what.value for what, before in AFTER.items() if before is status]
    return f"it can be marked as {', '.join(allowed)}" if allowed else "open a new wound for what is there now"
