"""Asks for a new wound: whose it is, where it lies, what sort it is."""

from datetime import datetime

import streamlit as st

from measure.pages.findings_moment import zone
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor
from measure.record.entries import PLACES, POSITIONS, Kind, Side, Site, WoundEntry
from measure.record.errors import RecordError

_PREFIX = "new-wound-"
_SIDES = {Side.LEFT: "Left", Side.RIGHT: "Right", Side.MIDLINE: "Midline"}


def ask_new_wound() -> WoundEntry | None:
    """Ask; return the wound once it is in the record."""
    person = st.text_input("Code of the person, no name", key=f"{_PREFIX}person", max_chars=20).strip()
    usable = _look_up(person)
    side = st.segmented_control(
        "Side (the person's own)", list(_SIDES), format_func=_SIDES.__getitem__, key=f"{_PREFIX}side"
    )
    place = st.pills("Part of the body", PLACES, key=f"{_PREFIX}place")
    position = st.pills("Where on it, if that helps to find it", POSITIONS, key=f"{_PREFIX}position")
    kind = st.pills("Kind of wound, as the provider says", list(Kind), key=f"{_PREFIX}kind")
    onset = st.date_input(
        "Since when, if known",
        value=None,
        max_value=datetime.now(zone()).date(),
        key=f"{_PREFIX}onset",
    )
    missing = _missing({"the person's code": usable, "the side": side, "the part of the body": place, "the kind": kind})
    if missing:
        st.caption(missing)
    if not editor():
        st.caption("Say who you are, above.")
    ready = not missing and bool(editor())
    if not st.button("Open this wound", type="primary", width="stretch", disabled=not ready) or not (
        side and place and kind
    ):
        return None
    try:
        wound = record().open_wound(person, Site(side, place, position or ""), kind, editor(), onset=onset)
    except RecordError as error:
        st.error(plain(str(error)), icon=":material/error:")
        return None
    for key in [key for key in st.session_state if str(key).startswith(_PREFIX)]:
        st.session_state.pop(key)
    return wound


def _look_up(person: str) -> bool:
    """Say which wounds a person has already, or what is wrong with the code; tell whether the code is usable."""
    try:
        there = [str(wound) for wound in record().wounds(person)] if person else []
    except RecordError as error:
        st.error(plain(str(error)), icon=":material/error:")
        return False
    if there:
        st.info(f"{plain(person)} has already: {plain('; '.join(there))}. Open a new one only if it is none of these.")
    return bool(person)


def _missing(answers: dict[str, object]) -> str:
    names = [name for name, answer in answers.items() if not answer]
    return f"Still needed: {', '.join(names)}." if names else ""
