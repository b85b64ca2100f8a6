"""What to look at first, in one sentence, by a rule that can be told.

First where one unit surely differs from all others: its interval lies wholly above theirs, and of several such the
farthest. Else what is surely most frequent overall: the highest lower end. Units are compared with the others, not with
a target, for what is right differs between facilities.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from measure.practice.groups import by_unit
from measure.practice.questions import Question
from measure.practice.share import FEWEST, Share
from measure.record.practice import PracticeVisit

RULE = (
    "Named is the unit whose 95 % interval lies farthest above that of all other units together; where there is none, "
    "what surely happens most often. A difference says where to ask, not why it is so: wounds and tasks differ too."
)

_RARE = 2.0
"""Percent: what is surely no more frequent is not worth a first look."""


@dataclass(frozen=True)
class _Apart:
    question: Question
    unit: str
    here: Share
    elsewhere: Share

    @property
    def gap(self) -> float:
        """Between the intervals, in points."""
        return self.here.interval[0] - self.elsewhere.interval[1]


def first_look(visits: Sequence[PracticeVisit], asked: Collection[Question]) -> str:
    """Say what to look at first."""
    if len(visits) < FEWEST:
        counted = f"{len(visits)} visit{'' if len(visits) == 1 else 's'}" if visits else "No visit"
        return f"{counted} in this time: too few to judge, at least {FEWEST} are needed."
    standing_out = max(
        (each for each in _apart(visits, asked) if each.gap > 0), key=lambda each: each.gap, default=None
    )
    if standing_out:
        return (
            f"Look first at {standing_out.unit}: {standing_out.question.label}, {standing_out.here} "
            f"({standing_out.here.percent:.0f} %), elsewhere {standing_out.elsewhere} "
            f"({standing_out.elsewhere.percent:.0f} %)."
        )
    return _overall(visits, asked)


def _overall(visits: Sequence[PracticeVisit], asked: Collection[Question]) -> str:
    found = [(question, share) for question in asked if not (share := question.of(visits)).few]
    question, share = max(found, key=lambda each: each[1].interval[0])
    units = "No unit differs surely from the others. " if len(by_unit(visits)) > 1 else ""
    if share.interval[0] < _RARE:
        return f"{units}Nothing here is frequent enough to ask for a first look."
    return f"{units}Look first at {question.label}: {share}, {share.words}."


def _apart(visits: Sequence[PracticeVisit], asked: Collection[Question]) -> Iterator[_Apart]:
    """Yield each unit beside all others, for each question that both have enough visits for."""
    units = by_unit(visits)
    for question in asked:
        whole = question.of(visits)
        for unit, several in units.items():
            here = question.of(several)
            elsewhere = Share(whole.count - here.count, whole.total - here.total)
            if not (here.few or elsewhere.few):
                yield _Apart(question, unit, here, elsewhere)
