"""Which photos of the record a study can draw from, read anew only where something was added."""

import streamlit as st

from measure.agreement.figure_words import counted
from measure.pages.held import record
from measure.study.candidates import Candidates, candidates

_READ = "study-candidates"


def candidates_read() -> Candidates:
    """Return the photos that can be drawn."""
    stand = record().studies.facts_stand()
    held: tuple[tuple[int, ...], Candidates] | None = st.session_state.get(_READ)
    if held is None or held[0] != stand:
        with st.spinner("Looking through the photos of the record ..."):
            held = st.session_state[_READ] = (stand, candidates(record().studies.photo_facts()))
    return held[1]


def show_candidates(found: Candidates) -> None:
    """Say how many photos can be drawn, and how many visits are left out and why."""
    count, others = len(found.photos), sum(found.left_out.values())
    wounds = len({photo.wound_key for photo in found.photos})
    st.markdown(f"**{counted(count, 'photo')}** of {counted(wounds, 'wound')} can be used.")
    if others:
        reasons = sorted(found.left_out.items(), key=lambda each: -each[1])
        said = "; ".join(f"{reason}: {number}" for reason, number in reasons)
        st.caption(f"{counted(others, 'visit')} can't be used. {said[0].upper()}{said[1:]}.")
