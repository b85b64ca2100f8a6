"""What a visit may begin with: the choices of the last visit that stay alike, taken over by a tap and marked."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import streamlit as st

from measure.findings.findings import Findings
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_dressing import put_dressing
from measure.pages.findings_exudate import put_exudate
from measure.pages.findings_skin import put_edges, put_skin

_PUT: Mapping[str, Callable[[Answers, Any], None]] = {
    "exudate": put_exudate,
    "edges": put_edges,
    "skin": put_skin,
    "dressing": put_dressing,
}
"""What stays alike from visit to visit; numbers, signs and whatever is done anew are never taken over."""

_WORDS = {"exudate": "exudate", "edges": "edges", "skin": "surrounding skin", "dressing": "dressing"}
_TAKEN = "taken"


def offer_last(bedside: Bedside, found: Findings) -> None:
    """Offer to begin with the last visit's choices; where that was done, say of what, and offer to take it back."""
    answers, start = bedside.answers, starts(bedside.earlier)
    still = taken(bedside, found)
    left = [name for name in start if getattr(found, name) is None]
    if still:
        named = ", ".join(_WORDS[name] for name in still)
        st.info(f"Taken over from last time: {named}. Check each.", icon=":material/history:")
        st.button(
            "Take that back", key=answers.at("last-back"), on_click=_clear, args=(answers, still), width="stretch"
        )
    elif left:
        st.button(
            f"Same as last time: {', '.join(_WORDS[name] for name in left)}",
            key=answers.at("last"),
            on_click=_take,
            args=(answers, {name: start[name] for name in left}),
            icon=":material/history:",
            width="stretch",
        )


def starts(earlier: Findings) -> dict[str, Any]:
    """Return what can be taken over: what went on last comes off now, and the day of the next change is another."""
    found = {name: getattr(earlier, name) for name in _PUT if getattr(earlier, name)}
    if earlier.dressing:
        found["dressing"] = replace(earlier.dressing, removed=earlier.dressing.applied, next_due=None)
    return found


def taken(bedside: Bedside, found: Findings) -> tuple[str, ...]:
    """Return the names of what was taken over and not changed since."""
    start, names = starts(bedside.earlier), bedside.answers[_TAKEN] or ()
    return tuple(name for name in names if name in start and getattr(found, name) == start[name])


def _take(answers: Answers, start: Mapping[str, Any]) -> None:
    for name, value in start.items():
        _PUT[name](answers, value)
    answers.put(_TAKEN, tuple(start))


def _clear(answers: Answers, names: tuple[str, ...]) -> None:
    for name in names:
        _PUT[name](answers, None)
    answers.put(_TAKEN, ())
