"""Tracing the photo of a past visit anew: the earlier outline and its numbers stay in the record."""

from collections.abc import Callable

import streamlit as st

from measure.pages.dates import moment
from measure.pages.edited import Edited
from measure.pages.held import forget_visits, record
from measure.pages.measuring import measure_photo, put_away
from measure.pages.opened import opened
from measure.pages.plain import plain
from measure.pages.saving import kept
from measure.pages.visit_saving import which_wound
from measure.pages.who import editor, named
from measure.pipeline import Measurement
from measure.record.draft import drawn
from measure.record.entries import VisitEntry

_RETRACED = "retraced-visit"


def offer_retracing(visit: VisitEntry) -> None:
    """Offer to trace a visit's photo anew, where it has one."""
    if visit.photos and st.button("Trace this photo again", width="stretch", key=f"retrace-{visit.id}"):
        photo = visit.photos[-1].sha256
        put_away()
        opened(f"stored-{photo}", record().photo_bytes(photo), f"The photo of {moment(visit.at)}")
        st.session_state[_RETRACED] = visit.id
        st.rerun()


def retraced() -> int | None:
    """Return the number of the visit whose photo is traced anew; None where none is."""
    visit: int | None = st.session_state.get(_RETRACED)
    return visit


def retrace(visit: VisitEntry) -> None:
    """Draw the editor with a past photo, and save what is drawn beside what was measured then."""
    st.subheader(f"Trace the photo of {moment(visit.at)} again", anchor=False)
    st.caption("Begin with the proposal, not with the earlier line; that one stays in the record with its numbers.")
    will_do: list[Measurement] = []

    def keep(measurement: Measurement, _drawn: Edited, _again: Callable[[], Measurement | None]) -> None:
        if measurement.wounds and (accepted := kept(measurement)):
            will_do.append(accepted)

    measurement = measure_photo(keep, brief=True, chooser=False)
    number = which_wound(measurement)
    if named("Traced by", "Who are you?"):
        ready = bool(will_do) and number is not None
        if st.button("Save the new outline", type="primary", width="stretch", disabled=not ready):
            _save(visit, will_do[0], number or 0)
    if st.button("Leave it as it was", width="stretch"):
        _leave()


def _save(visit: VisitEntry, measurement: Measurement, number: int) -> None:
    outlines, numbers = drawn(measurement, number, editor())
    outline = outlines[numbers.outline]
    how = {"convention": numbers.convention, "method": outline.method}
    record().add_measurement(visit.id, outline.outline, numbers.document, editor(), **how)
    forget_visits()
    st.toast(f"Saved beside what was measured on {plain(moment(visit.at))}.")
    _leave()


def _leave() -> None:
    st.session_state.pop(_RETRACED, None)
    put_away()
    st.rerun()
