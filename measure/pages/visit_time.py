"""Asks when a visit was: now, when its photo was taken, or at another time."""

from datetime import datetime, timedelta, tzinfo

import streamlit as st

from measure.pages.dates import moment
from measure.pages.findings_moment import zone
from measure.pipeline import Measurement

_PREFIX = "visit-when-"
_NEAR = timedelta(hours=1)
"""A photo taken this long ago belongs to the visit that is being recorded: a dressing change with a call in between."""


def forget_when() -> None:
    """Forget what was said, once a visit is saved: another one is at another time."""
    for key in [key for key in st.session_state if str(key).startswith(_PREFIX)]:
        st.session_state.pop(key)


def ask_when(wound: str, measured: Measurement | None) -> datetime | None:
    """Return when a wound, by its key, was seen, with its time zone; None where the photo is older and nobody said."""
    here = zone()
    now = datetime.now(here)
    taken = _taken(measured, here)
    old = taken is not None and not now - _NEAR <= taken <= now + _NEAR
    choices = {"now": "Now", "other": "At another time"}
    if taken and old and taken < now:  # a camera's clock may be ahead, a visit is not
        choices["photo"] = f"When the photo was taken: {moment(taken)}"
    key = f"{_PREFIX}{wound}-{measured.prepared.photo.sha256 if measured and old else ''}"
    chosen = st.session_state.get(key, None if old else "now")
    with st.expander(f"When: {choices.get(chosen, 'not said')}", expanded=old):
        index = None if old else 0
        chosen = st.radio("When was the visit?", list(choices), index, format_func=choices.__getitem__, key=key)
        if chosen == "other":
            return _other_time(key, now)
    return {"now": now, "photo": taken}.get(chosen or "")


def _taken(measured: Measurement | None, here: tzinfo) -> datetime | None:
    """Return when the photo was taken; a camera that noted no time zone keeps the one of the place."""
    taken = measured.prepared.photo.taken_at if measured else None
    if taken is None:
        return None
    return taken.astimezone(here) if taken.tzinfo else taken.replace(tzinfo=here)


def _other_time(key: str, now: datetime) -> datetime:
    """Ask for day and time, from now on by the clock of the place, which need not be that of this machine."""
    left, right = st.columns(2)
    day, clock = f"{key}-day", f"{key}-clock"
    st.session_state.setdefault(day, now.date())
    st.session_state.setdefault(clock, now.time().replace(second=0, microsecond=0))
    on = left.date_input("Day", max_value=now.date(), key=day)
    at = right.time_input("Time", key=clock)
    return min(datetime.combine(on, at, now.tzinfo), now)
