"""Asks when a visit was: now, when its photo was taken, or at another time."""

from datetime import datetime, timedelta

import streamlit as st

from measure.pages.dates import moment
from measure.pipeline import Measurement

_WHEN = "visit-when"
_NEAR = timedelta(hours=1)
"""A photo taken this long ago belongs to the visit that is being recorded: a dressing change with a call in between."""


def ask_when(measured: Measurement | None) -> datetime:
    """Return when the wound was seen, with its time zone."""
    now = datetime.now().astimezone()
    taken = measured.prepared.photo.taken_at if measured else None
    taken = taken.astimezone() if taken else None  # a camera without a time zone keeps the ward's
    choices = {"now": "Now"}
    if taken and not now - _NEAR <= taken <= now + _NEAR:
        choices["photo"] = f"When the photo was taken: {moment(taken)}"
    choices["other"] = "At another time"
    with st.expander(f"When: {_shown(choices)}", expanded="photo" in choices):
        chosen = st.radio("When was the visit?", list(choices), format_func=choices.__getitem__, key=_WHEN)
        if chosen == "other":
            left, right = st.columns(2)
            on = left.date_input("Day", max_value=now.date(), key="visit-day")
            at = right.time_input("Time", value="now", key="visit-clock")
            return min(datetime.combine(on, at).astimezone(), now)
    return taken if chosen == "photo" and taken else now


def _shown(choices: dict[str, str]) -> str:
    return choices.get(st.session_state.get(_WHEN, "now"), choices["now"]).lower()
