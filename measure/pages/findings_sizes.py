"""Size below the surface: depth, undermining and tunnels, asked on the clock."""

from collections.abc import Callable
from functools import partial
from typing import TypeVar

import streamlit as st

from measure.findings.form import FindingError
from measure.findings.sizes import Tunnel, Undermining, depth_cm, twelve
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import lack, length_cm, tell_trouble, yes_or_no
from measure.pages.findings_dial import dial
from measure.pages.findings_hours import HOUR, ask_hour

T = TypeVar("T")

_DEPTH, _UNDERMINING, _TUNNELS = "depth", "undermining", "tunnel"


def ask_sizes(bedside: Bedside) -> None:
    """Ask for depth, undermining and tunnels."""
    answers = bedside.answers
    length_cm(answers, _DEPTH, "Greatest depth, by probe")
    tell_trouble(partial(depth_said, answers))
    st.caption(f"The clock: {twelve(bedside.wound.site)}. Hours run clockwise, from 11 to 2 over 12.")
    yes_or_no(answers, _UNDERMINING, "Undermining: does a hollow go under the edge?")
    _entries(answers, _UNDERMINING, "undermining", _ask_undermining)
    yes_or_no(answers, _TUNNELS, "Tunnels: does a narrow way go into the tissue?")
    _entries(answers, _TUNNELS, "tunnel", _ask_tunnel)
    _draw(bedside)


def _entries(answers: Answers, name: str, what: str, ask: Callable[[Answers, int], None]) -> None:
    """Ask for each of several entries where there are any."""
    if not answers[name]:
        return
    if not answers.rows(name):
        answers.add_row(name)
    several = len(answers.rows(name)) > 1
    for place, number in enumerate(answers.rows(name), start=1):
        with st.container(border=True):
            if several:
                st.markdown(f"**{what.capitalize()} {place}**")
            ask(answers, number)
            if several:
                press = f"{answers.row(name, number)}drop"
                st.button(
                    f"Remove {what} {place}",
                    key=answers.at(press),
                    on_click=answers.drop_row,
                    args=(name, number),
                    width="stretch",
                )
    st.button(
        f"Add another {what}", key=answers.at(f"{name}-add"), on_click=answers.add_row, args=(name,), width="stretch"
    )


def _ask_undermining(answers: Answers, number: int) -> None:
    row = answers.row(_UNDERMINING, number)
    key = answers.at(f"{row}round")
    all_round = st.checkbox("It goes all the way round", key=key, persist_state="session")
    ask_hour(answers, f"{row}start-{HOUR}", "Deepest at, o'clock" if all_round else "From, o'clock")
    if not all_round:
        ask_hour(answers, f"{row}end-{HOUR}", "To, o'clock (clockwise)")
    length_cm(answers, f"{row}deepest", "Deepest")
    tell_trouble(partial(_undermining, answers, number))


def _ask_tunnel(answers: Answers, number: int) -> None:
    row = answers.row(_TUNNELS, number)
    ask_hour(answers, f"{row}at-{HOUR}", "At, o'clock")
    length_cm(answers, f"{row}long", "Length")
    tell_trouble(partial(_tunnel, answers, number))


def _draw(bedside: Bedside) -> None:
    """Draw on a clock what is complete."""
    try:
        hollows, ways = undermining_said(bedside.answers), tunnels_said(bedside.answers)
    except FindingError:
        return
    if hollows or ways:
        st.html(dial(hollows or (), ways or (), bedside.wound.site))


def depth_said(answers: Answers) -> float | None:
    """Return the depth."""
    given = answers[_DEPTH]
    return None if given is None else depth_cm(given)


def undermining_said(answers: Answers) -> tuple[Undermining, ...] | None:
    """Return all undermining; none where a person said that there is none."""
    return _all_said(answers, _UNDERMINING, _undermining)


def tunnels_said(answers: Answers) -> tuple[Tunnel, ...] | None:
    """Return all tunnels, likewise."""
    return _all_said(answers, _TUNNELS, _tunnel)


def _all_said(answers: Answers, name: str, read: Callable[[Answers, int], T]) -> tuple[T, ...] | None:
    if answers[name] is None:
        return None
    if not answers[name]:
        return ()
    lack([] if answers.rows(name) else ["where"], name.capitalize())
    return tuple(read(answers, number) for number in answers.rows(name))


def _undermining(answers: Answers, number: int) -> Undermining:
    row = answers.row(_UNDERMINING, number)
    start, end, deepest = (answers[row + name] for name in (f"start-{HOUR}", f"end-{HOUR}", "deepest"))
    all_round = bool(answers[f"{row}round"])
    wanted = {"the hour": start} if all_round else {"from": start, "to": end}
    lack([name for name, value in (wanted | {"how deep": deepest}).items() if value is None], "This undermining")
    return Undermining(start, start if all_round else end, deepest, all_round)


def _tunnel(answers: Answers, number: int) -> Tunnel:
    row = answers.row(_TUNNELS, number)
    hour, long = answers[f"{row}at-{HOUR}"], answers[f"{row}long"]
    lack([name for name, value in {"the hour": hour, "the length": long}.items() if value is None], "This tunnel")
    return Tunnel(hour, long)
