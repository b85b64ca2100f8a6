"""The dressing, asked at the bedside: what came off and went on, how, and when it is changed next."""

from datetime import date, datetime, timedelta
from functools import partial

import streamlit as st

from measure.findings.dressing import MATERIALS, TECHNIQUES, Dressing
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import explain, one_of, some_of, tell_trouble, words_of
from measure.pages.findings_moment import day_in_words

_REMOVED, _APPLIED, _TECHNIQUE, _DUE = "dressing-removed", "dressing-applied", "dressing-technique", "dressing-due"
_OTHER_DAY = "dressing-due-other"
_DAYS_AHEAD = (0, 1, 2, 3, 4, 5, 6, 7, 14)
_BETWEEN = " + "
"""Between several materials."""


def ask_dressing(bedside: Bedside) -> None:
    """Ask what came off and went on, how, and when it is changed next."""
    answers = bedside.answers
    _ask_materials(answers, _REMOVED, "What came off: all layers")
    _ask_materials(answers, _APPLIED, "What went on: all layers")
    one_of(answers, _TECHNIQUE, "Technique", TECHNIQUES)
    _ask_due(answers, bedside.at)
    tell_trouble(partial(dressing_said, answers))
    explain(TECHNIQUES, MATERIALS)


def _ask_materials(answers: Answers, name: str, label: str) -> None:
    some_of(answers, name, label, MATERIALS)
    words_of(answers, f"{name}-other", "Something else, in your words")


def _ask_due(answers: Answers, at: datetime) -> None:
    """Ask for a day near by tapping, for a later one by its date."""
    today = at.date()
    offered = {today + timedelta(days=ahead) for ahead in _DAYS_AHEAD}
    days = sorted(offered | ({answers[_DUE]} if answers[_DUE] else set()))
    st.pills(
        "Next change due",
        days,
        format_func=lambda day: day_in_words(day, today),
        key=answers.at(_DUE),
        persist_state="session",
    )
    key = answers.at(_OTHER_DAY)
    st.checkbox("On another day", key=key, persist_state="session")
    if answers[_OTHER_DAY]:
        st.date_input("That day", None, min_value=today, key=answers.at(f"{_OTHER_DAY}-day"), persist_state="session")


def dressing_said(answers: Answers) -> Dressing | None:
    """Return the dressing."""
    other: date | None = answers[f"{_OTHER_DAY}-day"] if answers[_OTHER_DAY] else None
    said = Dressing(
        _materials(answers, _REMOVED), _materials(answers, _APPLIED), answers[_TECHNIQUE] or "", other or answers[_DUE]
    )
    return None if said == Dressing() else said


def _materials(answers: Answers, name: str) -> str:
    words = [MATERIALS[value].word for value in MATERIALS if value in (answers[name] or ())]
    return _BETWEEN.join(filter(None, [*words, (answers[f"{name}-other"] or "").strip()]))


def put_dressing(answers: Answers, dressing: Dressing | None) -> None:
    """Answer as given, but for the day."""
    given = dressing or Dressing()
    _put_materials(answers, _REMOVED, given.removed)
    _put_materials(answers, _APPLIED, given.applied)
    answers.put(_TECHNIQUE, given.technique or None)


def _put_materials(answers: Answers, name: str, said: str) -> None:
    words = said.split(_BETWEEN) if said else []
    known = {material.word: value for value, material in MATERIALS.items()}
    answers.put(name, [known[word] for word in words if word in known])
    answers.put(f"{name}-other", _BETWEEN.join(word for word in words if word not in known))
