"""Completeness and practice: what is missing, late or accepted at visits, by unit and month."""

from collections.abc import Sequence
from datetime import datetime

import streamlit as st

from measure.pages.expected_findings import ask_expected, expected_here
from measure.pages.findings_controls import capitalised
from measure.pages.findings_moment import zone
from measure.pages.held import record
from measure.pages.period import ask_period
from measure.pages.plain import plain
from measure.pages.share_table import show_shares
from measure.practice.accepted import accepted
from measure.practice.delay import delay
from measure.practice.expected import FINDINGS, missing
from measure.practice.first_look import RULE, first_look
from measure.practice.groups import by_month, by_person, by_unit
from measure.practice.overdue import overdue, unnamed
from measure.practice.questions import Question, questions
from measure.practice.share import FEWEST, SOURCE
from measure.practice.table import people_csv, practice_csv
from measure.record.practice import Practice, PracticeVisit

_READ = "practice-read"
_EVERY = "All units"

_CONTEXT = (
    "For comparison, in print: of 54 charts 59 % lacked parts of the wound assessment; with a fixed weekly measuring "
    "day 38 % did, with a form 15 % (Stewart S et al. Ostomy Wound Manage, December 2009). Other wards, other counts."
)


def show_practice(quality: bool) -> None:  # noqa: FBT001 - as all sections of the page are called
    """Draw the section; numbers about people only for the quality team."""
    words, since = ask_period("practice-period")
    told = _read(words, since)
    visits = told.visits
    asked = questions(zone(), expected_here())
    st.markdown(f"**{plain(first_look(visits, asked))}**")
    with st.expander("How this line is found"):
        st.markdown(f"{RULE} Below {FEWEST} a share is not judged. Intervals: {SOURCE}. {_CONTEXT}")
    _overdue(told)
    if not visits:
        return
    _left_out(told)
    chosen = _chosen_unit(visits)
    show_shares("What is missing, late or accepted", "Counted", {each.label: each.of(chosen) for each in asked})
    _one_question(visits, chosen, asked)
    _more(chosen, quality=quality)
    if quality:
        _people(chosen, asked)
    _files(visits, asked, quality=quality)


def _read(words: str, since: datetime | None) -> Practice:
    """Return what the record tells, read anew only where something was added: a page is drawn at every tap."""
    known = (words, since, record().survey.stand())
    held: tuple[object, Practice] | None = st.session_state.get(_READ)
    if held is None or held[0] != known:
        with st.spinner("Counting ..."):
            held = st.session_state[_READ] = (known, record().survey.practice(since))
    return held[1]


def _overdue(told: Practice) -> None:
    shares = overdue(told.standings, datetime.now(zone()).date())
    if shares:
        show_shares("Overdue now, of open wounds with a day for the next change", "Unit", shares)
    if without := unnamed(told.standings):
        wounds = "1 open wound" if without == 1 else f"{without} open wounds"
        st.caption(f"For {wounds} the record names no day for the next change.")


def _left_out(told: Practice) -> None:
    if told.left_out:
        visits = "1 visit that was" if told.left_out == 1 else f"{told.left_out} visits that were"
        st.caption(f"Without {visits} left out of the series.")


def _chosen_unit(visits: Sequence[PracticeVisit]) -> Sequence[PracticeVisit]:
    units = by_unit(visits)
    if len(units) < 2:
        return visits
    chosen = st.selectbox("Unit", [_EVERY, *units], key="practice-unit")
    return units.get(chosen, visits)


def _one_question(visits: Sequence[PracticeVisit], chosen: Sequence[PracticeVisit], asked: Sequence[Question]) -> None:
    """Show one question by unit, over all of them, and by month, of the unit chosen."""
    labels = {question.label: question for question in asked}
    question = labels[st.selectbox("Look closer at", list(labels), format_func=capitalised, key="practice-question")]
    units = by_unit(visits)
    if len(units) > 1:
        shares = {unit: question.of(several) for unit, several in units.items()}
        show_shares(f"By unit: {question.label}, of {question.among}", "Unit", shares)
    months = {_month(month): question.of(several) for month, several in by_month(chosen, zone()).items()}
    where = "" if len(chosen) == len(visits) else " (the unit chosen above)"
    show_shares(f"By month{where}: {question.label}, of {question.among}", "Month", months)


def _month(month: str) -> str:
    return f"{datetime.fromisoformat(f'{month}-01'):%b %Y}"


def _more(visits: Sequence[PracticeVisit], *, quality: bool) -> None:
    told = delay(visits)
    st.markdown(f"**From visit to entry:** {told.words if told else 'no visit'}.")
    st.caption("Photos that were imported later count by the day of their import.")
    with st.expander("Findings that were not said"):
        ask_expected(quality=quality)
        shares = {FINDINGS[name]: share for name, share in missing(visits, expected_here()).items()}
        show_shares("Visits without this finding", "Finding", shares)
        st.caption("Not every wound needs every finding: a closed incision has no depth.")
    with st.expander("Failed checks, and why photos were kept"):
        found = accepted(visits)
        if not found:
            st.markdown("No photo was kept in spite of a failed check.")
        for each in found:
            reasons = "; ".join(f"{plain(reason)}: {count}" for reason, count in each.reasons)
            st.markdown(f"- **{plain(each.check)}**, {each.count} times. {reasons}.")


def _people(visits: Sequence[PracticeVisit], asked: Sequence[Question]) -> None:
    """Show one question by person, in the order of the alphabet."""
    with st.expander("By person: for the quality team only", icon=":material/lock:"):
        st.caption("To help, not to rank: people see different wounds. Talk with a person before you judge a number.")
        labels = {question.label: question for question in asked}
        question = labels[st.selectbox("Counted", list(labels), format_func=capitalised, key="practice-person")]
        shares = {person: question.of(several) for person, several in by_person(visits).items()}
        show_shares(f"{capitalised(question.label)}, of {question.among}", "Person", shares)


def _files(visits: Sequence[PracticeVisit], asked: Sequence[Question], *, quality: bool) -> None:
    place = zone()
    st.download_button(
        "Save the counts (CSV)",
        lambda: practice_csv(visits, asked, place),
        "ebbline-practice.csv",
        "text/csv",
        on_click="ignore",
        width="stretch",
    )
    if quality:
        st.download_button(
            "Save the counts by person (CSV)",
            lambda: people_csv(visits, asked),
            "ebbline-practice-people.csv",
            "text/csv",
            on_click="ignore",
            width="stretch",
        )
