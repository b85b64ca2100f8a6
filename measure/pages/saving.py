"""Saving numbers and picture: why a photo is kept, who edited its outline, and the files."""

import json
from dataclasses import replace
from typing import Any

import streamlit as st

from measure.acceptance import MAX_REASON, ReasonError, accepted
from measure.editing import MAX_BY, EditingError, usable_by
from measure.overlay import draw_measurement, encoded
from measure.pages.edited import Edited
from measure.pipeline import Measurement
from measure.report import document

_BY = "by"

_REASONS = ("No second photo was possible", "Best of several", "Sticker could not lie better")
OTHER = "Other"
"""Why a photo is kept in spite of a failed check: what a nurse can tap without taking the gloves off."""


def offer_files(measurement: Measurement, drawn: Edited) -> None:
    """Offer what was measured as files, once it is said why and by whom, where that must be said."""
    if not measurement.wounds:
        return
    kept = _kept(measurement)
    if kept is not None and (not drawn.edits or _named()):
        _downloads(kept, drawn)


def editor() -> str:
    """Return initials or staff code of who edits in this session; empty until they are given."""
    by: str = st.session_state.get(_BY, "")
    return by


def chosen_reason(photo: str) -> str | None:
    """Return the reason that was chosen for keeping a photo, by its hash."""
    reason: str | None = st.session_state.get(f"reason-{photo}")
    return reason


def unsaved(photo: str, drawn: Edited) -> bool:
    """Whether leaving would lose edits, or the reason for keeping the photo."""
    return _state(photo, drawn) not in {(0, None), drawn.filed}


def _state(photo: str, drawn: Edited) -> tuple[int, str | None]:
    return drawn.seq if drawn.edits else 0, chosen_reason(photo)


def _named() -> bool:
    """Ask once in a session who edits; edits are saved with it."""
    by = editor()
    if by:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"Outline edited by **{_plain(by)}**.")
            if st.button("Someone else"):
                st.session_state.pop(_BY)
                st.rerun()
        return True
    with st.form("who", border=True):
        said = st.text_input("Your initials or staff code, no name", max_chars=MAX_BY, key="who-edits")
        pressed = st.form_submit_button("Use these initials", type="primary", width="stretch")
    if pressed:
        try:
            st.session_state[_BY] = usable_by(said)
        except EditingError as error:
            st.error(str(error), icon=":material/error:")
        else:
            st.rerun()
    return False


def _plain(text: str) -> str:
    """Return text that means nothing to Markdown."""
    return "".join(f"\\{sign}" if not sign.isalnum() and sign != " " else sign for sign in text)


def _kept(measurement: Measurement) -> Measurement | None:
    """Return what may be saved: a good photo at once, any other once a person says why it is kept."""
    failed = [check for check in measurement.checks if not check.ok]
    if not failed:
        return measurement
    with st.container(border=True):
        st.subheader("Take it again, or keep it all the same?", anchor=False)
        reason = _reason(measurement.prepared.photo.sha256)
        try:
            acceptance = None if reason is None else accepted(reason, failed)
        except ReasonError as error:
            st.error(str(error), icon=":material/error:")
            return None
        if acceptance is None:
            return None
        st.markdown("Kept. The reason is saved with the numbers.")
    return replace(measurement, acceptance=acceptance)


def _reason(photo: str) -> str | None:
    """Ask why a photo is kept; what is answered belongs to this photo and to no other."""
    chosen = st.pills("Why is this photo kept?", [*_REASONS, OTHER], key=f"reason-{photo}", width="stretch")
    if chosen != OTHER:
        return chosen
    with st.form(f"other-{photo}", border=False):
        said = st.text_input("In a few words", max_chars=MAX_REASON, key=f"words-{photo}")
        pressed = st.form_submit_button("Keep it for this reason", type="primary", width="stretch")
    return said if said or pressed else None


def _downloads(measurement: Measurement, drawn: Edited) -> None:
    name = f"ebbline-{measurement.prepared.photo.sha256[:8]}"
    text = json.dumps(document(measurement), indent=2, allow_nan=False)
    state = _state(measurement.prepared.photo.sha256, drawn)

    def filed() -> None:
        drawn.filed = state

    def picture() -> bytes:
        return encoded(draw_measurement(measurement), ".jpg")

    left, right = st.columns(2)
    how: dict[str, Any] = {"width": "stretch"}
    left.download_button(
        "Save numbers (JSON)", text, f"{name}.json", "application/json", type="primary", on_click=filed, **how
    )
    right.download_button("Save picture", picture, f"{name}.jpg", "image/jpeg", on_click="ignore", **how)
