"""Drains, asked at the bedside: each with what it gave, since when, and whether it works again."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from functools import partial
from itertools import count

import streamlit as st

from measure.findings.drain_totals import daily_totals, rate, readings_of
from measure.findings.drains import APPEARANCES, KINDS, SITES, SUCKING, Drain
from measure.findings.findings import Findings
from measure.findings.form import FindingError
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import (
    capitalised,
    explain,
    lack,
    one_of,
    tell_trouble,
    volume_ml,
    words_of,
    yes_or_no,
)
from measure.pages.findings_moment import ask_moment, moment_said, zone

_ANY = "drains"
_LABEL, _KIND, _OUTPUT, _SINCE, _EMPTIED = "label", "kind", "output", "since", "emptied"
_SUCTION, _APPEARANCE, _SITE = "suction", "appearance", "site"
_OUTPUT_STEP = 5.0  # mL; the marks of small reservoirs
_DAYS_TOLD = 3
"""Of the totals that are shown: today's, yesterday's and one before."""


def ask_drains(bedside: Bedside) -> None:
    """Ask for any number of drains."""
    answers = bedside.answers
    yes_or_no(answers, _ANY, "Does the wound have a drain?")
    if not answers[_ANY]:
        return
    if not answers.rows(_ANY):
        _add_known(bedside)
    for number in answers.rows(_ANY):
        with st.container(border=True):
            _ask_drain(bedside, number)
    st.button("Add another drain", key=answers.at("drains-add"), on_click=_add, args=(answers,), width="stretch")
    tell_trouble(partial(_refuse_twins, answers))
    explain(KINDS, APPEARANCES, SITES)


def _add_known(bedside: Bedside) -> None:
    """Begin with the drains of the last visit, their names and kinds alone; with one drain where there were none."""
    for known in bedside.earlier.drains or ():
        _add(bedside.answers, known.label, known.kind)
    if not bedside.answers.rows(_ANY):
        _add(bedside.answers)


def _add(answers: Answers, label: str = "", kind: str | None = None) -> None:
    """Add a drain, with a label that no other has where none is given."""
    used = {answers[answers.row(_ANY, number) + _LABEL] for number in answers.rows(_ANY)}
    answers.add_row(_ANY)
    row = answers.row(_ANY, answers.rows(_ANY)[-1])
    answers.put(row + _LABEL, label or next(free for free in map(str, count(1)) if free not in used))
    answers.put(row + _KIND, kind)


def _ask_drain(bedside: Bedside, number: int) -> None:
    answers, row = bedside.answers, bedside.answers.row(_ANY, number)
    words_of(answers, row + _LABEL, "Which drain: a number or a place, the same at each visit")
    one_of(answers, row + _KIND, "Kind", KINDS)
    volume_ml(answers, row + _OUTPUT, "Emptied", _OUTPUT_STEP)
    ask_moment(answers, row + _EMPTIED, "Emptied", bedside.at, {"Emptied just now": bedside.at})
    ask_moment(answers, row + _SINCE, "Last emptied before that", bedside.at, _at_last_visit(bedside, row))
    if answers[row + _KIND] in SUCKING:
        yes_or_no(answers, row + _SUCTION, "Does it suck again?")
    one_of(answers, row + _APPEARANCE, "The fluid", APPEARANCES)
    one_of(answers, row + _SITE, "The skin where it comes out", SITES)
    tell_trouble(partial(_drain, answers, number))
    _tell_totals(bedside, number)
    st.button(
        f"Remove this drain ({answers[row + _LABEL] or 'no label'})",
        key=answers.at(f"{row}drop"),
        on_click=_drop,
        args=(answers, number),
        width="stretch",
    )


def _drop(answers: Answers, number: int) -> None:
    """Take a drain away; without the last one, nothing is said of drains."""
    answers.drop_row(_ANY, number)
    if not answers.rows(_ANY):
        answers.put(_ANY, None)


def _at_last_visit(bedside: Bedside, row: str) -> Mapping[str, datetime]:
    """Return when the drain was emptied last, by the words on a button."""
    readings = readings_of(bedside.before, bedside.answers[row + _LABEL] or "")
    if not readings:
        return {}
    emptied = readings[-1].emptied_at.astimezone(bedside.at.tzinfo)
    return {f"As recorded: {emptied:%a} {emptied.day} {emptied:%b}, {emptied:%H:%M}": emptied}


def _tell_totals(bedside: Bedside, number: int) -> None:
    """Say what the drain gave in a day, where an earlier visit read it too."""
    try:
        told = totals(_drain(bedside.answers, number), bedside.before)
    except FindingError:
        return
    if told:
        st.markdown("**In 24 hours**\n" + "".join(f"\n- {line}" for line in told))


def totals(drain: Drain, before: Sequence[Findings]) -> tuple[str, ...]:
    """Return what a drain gave, over the last 24 h and by days; nothing where this is its only reading."""
    if not readings_of(before, drain.label) or drain.emptied_at is None:
        return ()
    readings = readings_of((*before, Findings(drains=(drain,))), drain.label)
    days = daily_totals(readings, zone())[-_DAYS_TOLD:]
    return (capitalised(str(rate(readings, drain.emptied_at))), *map(str, reversed(days)))


def drains_said(answers: Answers) -> tuple[Drain, ...] | None:
    """Return all drains; none where a person said that there is none."""
    if answers[_ANY] is None:
        return None
    if not answers[_ANY]:
        return ()
    lack([] if answers.rows(_ANY) else ["which"], "The drain")
    return Findings(drains=tuple(_drain(answers, number) for number in answers.rows(_ANY))).drains


def _refuse_twins(answers: Answers) -> None:
    """Refuse two drains of one label, which the sentence of neither tells."""
    complete: list[Drain] = []
    for number in answers.rows(_ANY):
        with suppress(FindingError):
            complete.append(_drain(answers, number))
    Findings(drains=tuple(complete))


def _drain(answers: Answers, number: int) -> Drain:
    row = answers.row(_ANY, number)
    output, place = answers[row + _OUTPUT], zone()
    lack([] if answers[row + _KIND] else ["its kind"], "This drain")
    emptied = moment_said(answers, row + _EMPTIED, "When it was emptied", place)
    if output is not None:
        lack([] if emptied else ["when it was emptied"], "What it gave")
    return Drain(
        answers[row + _LABEL] or "",
        answers[row + _KIND],
        output,
        moment_said(answers, row + _SINCE, "When it was emptied before", place),
        emptied,
        answers[row + _SUCTION] if answers[row + _KIND] in SUCKING else None,
        answers[row + _APPEARANCE] or "",
        answers[row + _SITE] or "",
    )
