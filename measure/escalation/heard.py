"""What was entered of a wound lately: the newest word on each finding and each question, and when it was said."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from measure.findings.findings import Findings, parse_findings
from measure.record.entries import VisitEntry

STANDS = timedelta(days=7)
"""How long an answer stands while nobody answers anew: dressings are changed once a week at least (common practice)."""

_NOTHING = frozenset({"", "not checked"})
"""Texts that stand for nobody having looked."""


@dataclass(frozen=True)
class Word:
    """Something that was entered.

    Attributes
    ----------
    value : object
    at : datetime
        When it was entered last.
    before : object
        What had been entered before that, at whatever time; None where nothing had.
    first : datetime
        Since when it has been entered without another word between.
    """

    value: Any
    at: datetime
    before: Any
    first: datetime

    @property
    def known(self) -> bool:
        """Whether it had been entered before already."""
        return self.first < self.at


@dataclass(frozen=True)
class Heard:
    """Findings of the visits to one wound, oldest first, each with its time."""

    visits: tuple[tuple[datetime, Findings], ...]

    def answer(self, sign: str) -> Word | None:
        """Return the newest answer to the question for a sign; None where nobody answered lately."""
        return self._newest([found.signs.get(sign) for _, found in self.visits])

    def finding(self, name: str, part: str = "") -> Word | None:
        """Return the newest word on a finding, or on a part of it, as the pulses of the foot."""
        found = [getattr(found, name) for _, found in self.visits]
        return self._newest([getattr(each, part, None) for each in found] if part else found)

    def drain(self, label: str, part: str) -> Word | None:
        """Return the newest word on a part of one drain."""
        drains = [{drain.label: drain for drain in found.drains or ()}.get(label) for _, found in self.visits]
        return self._newest([getattr(drain, part, None) for drain in drains])

    @property
    def drains(self) -> tuple[str, ...]:
        """Labels of all drains, in the order in which they were entered."""
        return tuple(dict.fromkeys(drain.label for _, found in self.visits for drain in found.drains or ()))

    @property
    def findings(self) -> tuple[Findings, ...]:
        """What was found at each visit."""
        return tuple(found for _, found in self.visits)

    def lately(self, at: datetime) -> bool:
        """Whether a time is near enough to the newest visit to count."""
        return at >= self.visits[-1][0] - STANDS

    def _newest(self, entered: Sequence[Any]) -> Word | None:
        """Return the newest of what was entered at each visit."""
        both = zip(self.visits, entered, strict=True)
        said = [(at, value) for (at, _), value in both if value is not None and not _silent(value)]
        if not said or not self.lately(said[-1][0]):
            return None
        at, value = said[-1]
        changed = max((n for n, (_, other) in enumerate(said) if other != value), default=-1)
        return Word(value, at, said[-2][1] if len(said) > 1 else None, said[changed + 1][0])


def _silent(value: object) -> bool:
    return isinstance(value, str) and value in _NOTHING


def heard(visits: Sequence[VisitEntry]) -> Heard:
    """Read what was entered at visits, in any order.

    Raises
    ------
    FindingError
        If a visit holds a finding in another form.
    """
    ordered = sorted(visits, key=lambda visit: visit.at)
    return Heard(tuple((visit.at, parse_findings(visit.found)) for visit in ordered))
