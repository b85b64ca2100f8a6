"""Open wounds whose next change of dressing is overdue now, by unit."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from measure.practice.groups import NO_UNIT
from measure.practice.share import Share, share_of
from measure.record.practice import Standing


def overdue(standings: Iterable[Standing], today: date) -> Mapping[str, Share]:
    """Return by unit how many of the open wounds with a day for the next change are past it."""
    named: defaultdict[str, list[bool]] = defaultdict(list)
    for each in standings:
        if each.next_due is not None:
            named[each.unit or NO_UNIT].append(each.next_due < today)
    return {unit: share_of(named[unit]) for unit in sorted(named, key=lambda unit: (unit == NO_UNIT, unit.casefold()))}


def unnamed(standings: Iterable[Standing]) -> int:
    """Return for how many open wounds nobody named a day."""
    return sum(each.next_due is None for each in standings)
