"""Photos kept in spite of failed checks: which checks, and what people said why."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from measure.record.practice import PracticeVisit

NO_REASON = "nobody said why"


@dataclass(frozen=True)
class Accepted:
    """How often a check failed and the photo was kept, and how often for which reason, the most frequent first."""

    check: str
    count: int
    reasons: tuple[tuple[str, int], ...]


def accepted(visits: Iterable[PracticeVisit]) -> tuple[Accepted, ...]:
    """Return each check that failed, the most frequent first; a photo that failed two counts with both."""
    told: dict[str, Counter[str]] = {}
    for visit in visits:
        for check in visit.failed:
            told.setdefault(check, Counter())[visit.reason or NO_REASON] += 1
    found = [Accepted(check, reasons.total(), tuple(reasons.most_common())) for check, reasons in told.items()]
    return tuple(sorted(found, key=lambda each: (-each.count, each.check)))
