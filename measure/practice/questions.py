"""What is asked of each visit: which visits it applies to, and at which of them something is missing, late or accepted.

The order is that of a visit: photo, scale, checks, convention, time, findings.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import timedelta, tzinfo

from measure.practice.expected import EXPECTED
from measure.practice.share import Share, share_of
from measure.record.practice import PracticeVisit

SLOW = timedelta(hours=24)
"""From the visit to its entry: what is written down later is written from memory (common practice)."""

STICKER = "sticker"


@dataclass(frozen=True)
class Question:
    """A question about visits.

    Attributes
    ----------
    key : str
        In files.
    label : str
        Which visits are counted, for people.
    among : str
        Which visits it is asked of.
    asked : callable
        Whether it is asked of a visit.
    yes : callable
        Whether the visit is counted.
    """

    key: str
    label: str
    among: str
    asked: Callable[[PracticeVisit], bool]
    yes: Callable[[PracticeVisit], bool]

    def of(self, visits: Collection[PracticeVisit]) -> Share:
        """Count among visits."""
        return share_of(self.yes(visit) for visit in visits if self.asked(visit))


def questions(zone: tzinfo, expected: Collection[str] = EXPECTED) -> tuple[Question, ...]:
    """Return all questions.

    Parameters
    ----------
    zone : tzinfo
        Of the place: by its days a change of dressing is late.
    expected : collection of str
        Names of the findings that are expected at each visit.
    """
    return (
        Question("no_photo", "visits without a photo", "all visits", _always, lambda visit: not visit.photo),
        Question(
            "no_numbers",
            "photos without numbers",
            "visits with a photo",
            lambda visit: visit.photo,
            lambda visit: not visit.measured,
        ),
        Question(
            "no_sticker", "measurements without a sticker", "measured visits", _measured, lambda v: v.scale != STICKER
        ),
        Question(
            "failed_check",
            "photos kept in spite of a failed check",
            "measured visits",
            _measured,
            lambda v: bool(v.failed),
        ),
        Question(
            "no_reason",
            "failed checks without a reason",
            "photos kept in spite of a failed check",
            lambda visit: bool(visit.failed),
            lambda visit: not visit.reason,
        ),
        Question(
            "other_convention",
            "lengths taken in another way than last time",
            "measured visits after an earlier one",
            lambda visit: bool(visit.convention and visit.convention_before),
            lambda visit: visit.convention != visit.convention_before,
        ),
        Question(
            "late_visit",
            "visits after the day named for the next change",
            "visits for which the one before named a day",
            lambda visit: visit.due is not None,
            lambda visit: visit.due is not None and visit.at.astimezone(zone).date() > visit.due,
        ),
        Question(
            "late_entry",
            "visits entered more than 24 hours later",
            "all visits",
            _always,
            lambda v: v.saved_at - v.at > SLOW,
        ),
        Question(
            "missing_finding",
            "visits at which an expected finding is missing",
            "all visits",
            _always,
            lambda visit: not visit.found.issuperset(expected),
        ),
    )


def _always(_: PracticeVisit) -> bool:
    return True


def _measured(visit: PracticeVisit) -> bool:
    return visit.measured
