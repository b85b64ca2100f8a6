"""Closures of a wound, asked at the bedside: counted before and after, and how the line stands."""

from functools import partial

from measure.findings.closures import KINDS, LINES, Closures
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import count, explain, lack, one_of, tell_trouble, yes_or_no
from measure.record.entries import Kind, WoundEntry

_KIND, _PRESENT, _REMOVED = "closures-kind", "closures-present", "closures-removed"
_ALTERNATE, _LINE, _ORDER = "closures-alternate", "closures-line", "closures-order"


def has_closures(wound: WoundEntry) -> bool:
    """Whether closures are asked about without being looked for."""
    return wound.kind in {Kind.SURGICAL, Kind.TRAUMATIC}


def ask_closures(bedside: Bedside) -> None:
    """Ask for kind, counts, the line and the order."""
    answers = bedside.answers
    one_of(answers, _KIND, "What holds the line", KINDS)
    count(answers, _PRESENT, "How many when the visit began")
    count(answers, _REMOVED, "How many of them were removed")
    if answers[_REMOVED]:
        yes_or_no(answers, _ORDER, "Is an order to remove them in the chart?")
        yes_or_no(answers, _ALTERNATE, "Was every other one removed?")
    one_of(answers, _LINE, "How the line stands now", LINES)
    tell_trouble(partial(closures_said, answers))
    explain(KINDS, LINES)


def closures_said(answers: Answers) -> Closures | None:
    """Return the closures."""
    kind, present, removed = answers[_KIND], answers[_PRESENT], answers[_REMOVED]
    if kind is None and present is None and not removed and not answers[_LINE]:
        return None
    wanted = {"what holds the line": kind, "how many there were": present}
    lack([name for name, value in wanted.items() if value is None], "What was said of closures")
    alternate, order = (answers[_ALTERNATE], answers[_ORDER]) if removed else (None, None)
    return Closures(kind, present, removed or 0, alternate, answers[_LINE] or "", order)
