"""A culture, asked at the bedside."""

from measure.findings.culture import QUESTIONS, Culture
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import yes_or_no


def ask_culture(bedside: Bedside) -> None:
    """Ask whether it was ordered and how the swab was taken."""
    for name, question in QUESTIONS.items():
        yes_or_no(bedside.answers, _name(name), question)


def culture_said(answers: Answers) -> Culture | None:
    """Return what was answered."""
    said = {name: answers[_name(name)] for name in QUESTIONS}
    return None if all(value is None for value in said.values()) else Culture(**said)


def _name(question: str) -> str:
    return f"culture-{question}"
