"""Visits by unit, by month, and, for the quality role alone, by person."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import date, tzinfo

from measure.record.practice import PracticeVisit

NO_UNIT = "no unit said"

Groups = Mapping[str, list[PracticeVisit]]


def unit_of(visit: PracticeVisit) -> str:
    """Return ward or team."""
    return visit.unit or NO_UNIT


def month_of(visit: PracticeVisit, zone: tzinfo) -> str:
    """Return the month in which the wound was seen, as 2026-03."""
    return f"{visit.at.astimezone(zone):%Y-%m}"


def by_unit(visits: Iterable[PracticeVisit]) -> Groups:
    """Return the visits of each unit, in the order of the alphabet; where nobody said it last."""
    grouped = _grouped(visits, unit_of)
    return {unit: grouped[unit] for unit in sorted(grouped, key=lambda unit: (unit == NO_UNIT, unit.casefold()))}


def by_month(visits: Iterable[PracticeVisit], zone: tzinfo) -> Groups:
    """Return the visits of each month, oldest first; a month without any is not left out."""
    grouped = _grouped(visits, lambda visit: month_of(visit, zone))
    return {month: grouped.get(month, []) for month in _months(sorted(grouped))}


def by_person(visits: Iterable[PracticeVisit]) -> Groups:
    """Return the visits of each person, in the order of the alphabet: no ranking."""
    grouped = _grouped(visits, lambda visit: visit.by.casefold())
    return {several[-1].by: several for _, several in sorted(grouped.items())}


def _grouped(visits: Iterable[PracticeVisit], key: Callable[[PracticeVisit], str]) -> dict[str, list[PracticeVisit]]:
    grouped: defaultdict[str, list[PracticeVisit]] = defaultdict(list)
    for visit in visits:
        grouped[key(visit)].append(visit)
    return dict(grouped)


def _months(found: list[str]) -> Iterable[str]:
    if not found:
        return
    (first, last) = (date.fromisoformat(f"{month}-01") for month in (found[0], found[-1]))
    for number in range(12 * first.year + first.month - 1, 12 * last.year + last.month):
        yield f"{number // 12:04d}-{number % 12 + 1:02d}"
