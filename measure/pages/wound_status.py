"""Asks what happened to a wound as a whole: healed, reopened, merged into another one, split."""

from datetime import date, datetime, time

import streamlit as st

from measure.pages.findings_moment import zone
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor
from measure.record.entries import Status, What, WoundEntry
from measure.record.errors import RecordError

_NOON = time(12)
_NEXT = {
    Status.OPEN: {
        "It has healed": What.HEALED,
        "It has grown together with another wound": What.MERGED,
        "It has split into several": What.SPLIT,
    },
    Status.HEALED: {"It has opened again": What.REOPENED},
}
_HEALED = (
    "Healed means closed skin without drainage or dressing. Studies ask for that at two visits two weeks apart (from "
    "memory of a guidance of 2006 for trials); follow your facility's policy."
)


def ask_status(wound: WoundEntry) -> None:
    """Draw the choices that the wound's state allows; what is chosen is kept with who and when."""
    choices = _NEXT.get(wound.status)
    if not choices:
        return
    with st.expander("Has the wound healed, merged or split?" if wound.status is Status.OPEN else "Open again?"):
        chosen = st.radio("What happened", list(choices), index=None, key=f"status-{wound.id}-{len(wound.events)}")
        if chosen is None:
            return
        what = choices[chosen]
        if what is What.HEALED:
            st.caption(_HEALED)
        other = _other(wound, what)
        today = datetime.now(zone()).date()
        on = st.date_input("On which day was that found?", today, max_value=today, key=f"status-day-{wound.id}")
        if not editor():
            st.caption("Say who you are first: below, where a visit is saved, or on the page Wounds.")
        needs_other = what is What.MERGED and other is None
        if st.button(f"Record: {chosen.lower()}", disabled=not editor() or needs_other, width="stretch"):
            try:
                record().mark(wound.id, what, editor(), at=_at(on, today), other=other, seen=len(wound.events))
            except RecordError as error:
                st.error(plain(str(error)), icon=":material/error:")
            else:
                st.rerun()


def _at(on: date, today: date) -> datetime | None:
    """Return the noon of an earlier day; None for now."""
    return None if on >= today else datetime.combine(on, _NOON, zone())


def _other(wound: WoundEntry, what: What) -> int | None:
    """Return the number of the wound that goes on."""
    if what not in {What.MERGED, What.SPLIT}:
        return None
    others = [each for each in record().wounds(wound.person, open_only=True) if each.id != wound.id]
    named = {each.number: str(each) for each in others}
    if what is What.SPLIT:
        st.caption("Open a new wound on the page Wounds for each further part; this number then ends here.")
    if not named:
        st.caption("This person has no other open wound: open it first on the page Wounds.")
        return None
    question = "Which wound does it go on as?" if what is What.MERGED else "Which new wound is its main part, if any?"
    chosen: int | None = st.radio(
        question, list(named), format_func=named.__getitem__, index=None, key=f"status-other-{wound.id}"
    )
    return chosen
