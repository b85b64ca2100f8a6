"""Exudate and odour, asked at the bedside."""

from functools import partial

from measure.findings.exudate import AMOUNTS, KINDS, ODOURS, Exudate
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import explain, lack, one_of, tell_trouble

_AMOUNT, _KIND, _ODOUR = "exudate-amount", "exudate-kind", "odour"


def ask_exudate(bedside: Bedside) -> None:
    """Ask how much, and of which kind unless there is none."""
    answers = bedside.answers
    one_of(answers, _AMOUNT, "How much, on the dressing that comes off", AMOUNTS)
    if answers[_AMOUNT] != "none":
        one_of(answers, _KIND, "What it looks like", KINDS)
    tell_trouble(partial(exudate_said, answers))
    explain(AMOUNTS, KINDS)


def exudate_said(answers: Answers) -> Exudate | None:
    """Return the exudate."""
    amount, kind = answers[_AMOUNT], answers[_KIND] or ""
    if kind:
        lack([] if amount else ["how much"], "The kind of exudate")
    return Exudate(amount, "" if amount == "none" else kind) if amount else None


def put_exudate(answers: Answers, exudate: Exudate | None) -> None:
    """Answer as given."""
    answers.put(_AMOUNT, exudate.amount if exudate else None)
    answers.put(_KIND, (exudate.kind if exudate else None) or None)


def ask_odour(bedside: Bedside) -> None:
    """Ask for the odour."""
    one_of(bedside.answers, _ODOUR, "How it smells, after cleansing", ODOURS)
    explain(ODOURS)


def odour_said(answers: Answers) -> str | None:
    """Return the odour."""
    said: str | None = answers[_ODOUR]
    return said
