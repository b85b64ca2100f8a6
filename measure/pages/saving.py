"""Saving numbers and picture: why a photo is kept, who edited its outline, and the files."""

import json
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import streamlit as st

from measure.acceptance import MAX_REASON, ReasonError, accepted
from measure.checks import Check
from measure.overlay import draw_measurement, encoded
from measure.pages.by_eye import by_eye_of
from measure.pages.edited import Edited
from measure.pages.who import named
from measure.pipeline import Measurement
from measure.report import document

_REASONS = ("No second photo was possible", "Best of several", "Sticker could not lie better")
OTHER = "Other"
"""Why a photo is kept in spite of a failed check: what a nurse can tap without taking the gloves off."""

_WHO = "Outline edited or checked by"
_WHO_ASKED = "To save: who corrected, checked or estimated?"


def offer_files(measurement: Measurement, drawn: Edited, again: Callable[[], Measurement | None]) -> None:
    """Offer what was measured as files, once it is said why and by whom, where that must be said.

    Parameters
    ----------
    measurement : Measurement
        What the page shows.
    drawn : Edited
    again : callable
        Measures what is drawn by then: a last edit may still be on its way when a person asks for a file.
    """
    if not measurement.wounds:
        return
    will_do = kept(measurement)
    photo = measurement.prepared.photo.sha256
    touched = drawn.touched or is_checked(photo) or any(by_eye_of(photo, len(measurement.wounds)))
    if will_do is not None and (not touched or named(_WHO, _WHO_ASKED)):
        _downloads(will_do, drawn, again)


def chosen_reason(photo: str) -> str | None:
    """Return the reason that was given for keeping a photo, by its hash."""
    reason: str | None = st.session_state.get(f"reason-{photo}")
    return st.session_state.get(f"words-{photo}") or None if reason == OTHER else reason


def forget_outdated_reason(photo: str, checks: Iterable[Check]) -> None:
    """Ask again why a photo is kept when a check fails that had not when the reason was given."""
    failed = {check.name for check in checks if not check.ok}
    excused: set[str] = st.session_state.setdefault(f"excused-{photo}", failed)
    if failed - excused:
        st.session_state.pop(f"reason-{photo}", None)
        st.session_state.pop(f"words-{photo}", None)
    if failed - excused or not chosen_reason(photo):
        st.session_state[f"excused-{photo}"] = failed


def is_checked(photo: str) -> bool:
    """Whether the person says that the whole outline is right."""
    return bool(st.session_state.get(f"checked-{photo}"))


def ask_whether_checked(measurement: Measurement) -> None:
    """Let the person say that the whole outline is right: only then is all of it theirs."""
    if measurement.wounds:
        st.checkbox("I checked the whole line against the photo", key=f"checked-{measurement.prepared.photo.sha256}")


def unsaved(photo: str, drawn: Edited) -> bool:
    """Whether leaving would lose edits, or the reason for keeping the photo."""
    return _state(photo, drawn) not in {(0, None, ()), drawn.filed}


def _state(photo: str, drawn: Edited) -> tuple[object, ...]:
    """Return what a file would hold beside the proposal: number of the step, reason for keeping, estimates by eye."""
    estimates = enumerate(by_eye_of(photo, len(drawn.wounds)))
    seen = tuple((number, *estimate.percent.values()) for number, estimate in estimates if estimate)
    return drawn.seq if drawn.touched else 0, chosen_reason(photo), seen


def kept(measurement: Measurement) -> Measurement | None:
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


def _downloads(measurement: Measurement, drawn: Edited, again: Callable[[], Measurement | None]) -> None:
    """Offer the files; what they hold is made when they are asked for."""
    name = f"ebbline-{measurement.prepared.photo.sha256[:8]}"
    state = _state(measurement.prepared.photo.sha256, drawn)

    def filed() -> None:
        drawn.filed = state

    def latest() -> Measurement:
        return replace(again() or measurement, acceptance=measurement.acceptance)

    def numbers() -> str:
        return json.dumps(document(latest()), indent=2, allow_nan=False)

    def picture() -> bytes:
        return encoded(draw_measurement(latest()), ".jpg")

    def tissue() -> bytes:
        return encoded(draw_measurement(latest(), close=True, tissue=True), ".jpg")

    left, right = st.columns(2)
    how: dict[str, Any] = {"width": "stretch"}
    left.download_button(
        "Save numbers (JSON)", numbers, f"{name}.json", "application/json", type="primary", on_click=filed, **how
    )
    right.download_button("Save picture", picture, f"{name}.jpg", "image/jpeg", on_click="ignore", **how)
    if measurement.tissue:
        seen = f"{name}-tissue.jpg"
        st.download_button("Save picture of tissue", tissue, seen, "image/jpeg", on_click="ignore", **how)
