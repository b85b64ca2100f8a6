"""Tracing the photo of a past visit anew: the earlier outline and its numbers stay in the record."""

import streamlit as st

from measure.pages.dates import moment
from measure.pages.held import record
from measure.pages.kept_measurement import measure_to_keep
from measure.pages.measuring import put_away
from measure.pages.opened import is_anothers, opened
from measure.pages.opened import kept as kept_photo
from measure.pages.plain import plain
from measure.pages.visit_saving import which_wound
from measure.pages.who import editor, named
from measure.pipeline import Measurement
from measure.record.draft import drawn
from measure.record.entries import VisitEntry

_RETRACED = "retraced-visit"


def offer_retracing(visit: VisitEntry) -> None:
    """Offer to trace a visit's photo anew, where it has one."""
    if visit.photos and st.button("Trace this photo again", width="stretch", key=f"retrace-{visit.id}"):
        is_anothers(_owner(visit))
        _open(visit)
        st.session_state[_RETRACED] = visit.id
        st.rerun()


def _open(visit: VisitEntry) -> None:
    photo = visit.photos[-1].sha256
    put_away()
    opened(f"stored-{photo}", record().photo_bytes(photo), f"The photo of {moment(visit.at)}")


def _owner(visit: VisitEntry) -> str:
    return f"visit {visit.id}"


def retraced() -> int | None:
    """Return the number of the visit whose photo is traced anew; None where none is."""
    visit: int | None = st.session_state.get(_RETRACED)
    return visit


def retrace(visit: VisitEntry) -> None:
    """Draw the editor with a past photo, and save what is drawn beside what was measured then."""
    st.subheader(f"Trace the photo of {moment(visit.at)} again", anchor=False)
    st.caption("Begin with the proposal, not with the earlier line; that one stays in the record with its numbers.")
    if is_anothers(_owner(visit)) or kept_photo() is None:  # another photo was opened on another page since
        _open(visit)
    measured, will_do = measure_to_keep(chooser=False)
    number = which_wound(measured)
    if named("Traced by", "Who are you?"):
        ready = will_do is not None and number is not None
        pressed = st.button("Save the new outline", type="primary", width="stretch", disabled=not ready)
        if pressed and will_do is not None and number is not None:
            _save(visit, will_do, number)
    if st.button("Leave it as it was", width="stretch"):
        _leave()


def _save(visit: VisitEntry, measurement: Measurement, number: int) -> None:
    outlines, numbers = drawn(measurement, number, editor())
    outline = outlines[numbers.outline]
    how = {"convention": numbers.convention, "method": outline.method}
    record().add_measurement(visit.id, outline.outline, numbers.document, editor(), **how)
    st.toast(f"Saved beside what was measured on {plain(moment(visit.at))}.")
    _leave()


def _leave() -> None:
    st.session_state.pop(_RETRACED, None)
    put_away()
    st.rerun()
