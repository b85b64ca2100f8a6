"""One photo of a study under a rater's finger: the photo and the line, and nothing that tells what others drew."""

from dataclasses import replace
from time import monotonic

import streamlit as st

from calibration.errors import EbblineError
from measure.geometry import Convention
from measure.outline import check_outlines
from measure.pages.correction import trace
from measure.pages.edited import Edited, edited, forget_drawn
from measure.pages.held import record
from measure.pages.measuring import ask_head
from measure.photo import read_photo
from measure.pipeline import Measurement, Prepared, complete, prepare
from measure.proposal import Proposal
from measure.record.draft import drawn as as_kept
from measure.record.errors import ChangedError
from measure.record.study_entries import StudyHead, StudyPhoto
from measure.record.study_rows import TracingDraft
from measure.study.turns import Turn

_PREPARED = "study-photo"
_BEGAN = "study-began"

_KEPT_BEFORE = "Kept at the visit that it was taken for"
"""Why a photo is measured though a check failed: that was judged at its visit, and is not asked again."""

_READY = "Look at the whole line once more, then save it."


def ask_tracing(study: StudyHead, rater: str, turn: Turn) -> bool:
    """Show the photo whose turn it is, and save what is drawn; tell whether that was done.

    Raises
    ------
    EbblineError
        If the photo can't be shown or measured, or the record does not take the tracing.
    """
    key = f"tracing-{study.id}-{rater}-{turn.trial}-{turn.photo.number}"
    prepared = _prepared(turn.photo, proposal=study.plan.proposal)
    drawn = edited(prepared, key)
    began = st.session_state.setdefault(_BEGAN, {}).setdefault(key, monotonic())
    trace(prepared, drawn, key)
    head_to_toe = study.plan.convention == Convention.HEAD_TO_TOE
    head_deg = ask_head(f"study-head-{key}", ahead=False) if head_to_toe else None
    missing = _missing(prepared, drawn) or ("Say where the head is." if head_to_toe and head_deg is None else "")
    st.markdown(missing or _READY)
    if not st.button("Save and next", type="primary", width="stretch", disabled=bool(missing), key=f"save-{key}"):
        return False
    measurement = _measured(prepared, drawn, rater, study.plan.convention, head_deg)
    try:
        _save(study, rater, turn, measurement, monotonic() - began, head_deg)
    except ChangedError:  # another device was first, or the study is closed: this line is of no use any more
        _clear(key)
        raise
    _clear(key)
    return True


def _prepared(photo: StudyPhoto, *, proposal: bool) -> Prepared:
    """Return a photo with its scale and no look at the wound: what was proposed at the visit, or nothing, is kept."""
    asked = (photo.sha256, proposal)
    held: tuple[tuple[str, bool], Prepared] | None = st.session_state.get(_PREPARED)
    if held is None or held[0] != asked:
        with st.spinner("Opening the photo ..."):
            prepared = prepare(read_photo(record().photo_bytes(photo.sha256), "photo"), propose=False)
        outlines = (photo.proposal,) if proposal and photo.proposal else ()
        held = asked, replace(prepared, proposal=Proposal(outlines, photo.method if outlines else "none"))
        st.session_state[_PREPARED] = held
    return held[1]


def _missing(prepared: Prepared, drawn: Edited) -> str:
    """Say what keeps the drawing from being saved; empty where nothing does."""
    count = len(drawn.wounds)
    if count == 0:
        return "No wound is drawn yet."
    if count > 1:
        return f"{count} wounds are drawn, and one is compared: tap Undo, or More and Delete wound."
    try:
        check_outlines(drawn.outlines(checked=True) or (), prepared.photo.width, prepared.photo.height)
    except EbblineError as error:
        return str(error)
    return ""


def _measured(prepared: Prepared, drawn: Edited, rater: str, convention: str, head_deg: float | None) -> Measurement:
    """Measure what is drawn; all of it is the rater's, also where it stands as proposed."""
    with st.spinner("Saving ..."):
        return complete(
            prepared,
            drawn.outlines(checked=True),
            convention=Convention(convention),
            head_deg=head_deg,
            accept=_KEPT_BEFORE,
            editing=drawn.editing(rater, prepared, checked=True),
            skin=False,
        )


def _save(  # noqa: PLR0913, PLR0917 - what a tracing is
    study: StudyHead, rater: str, turn: Turn, measurement: Measurement, seconds: float, head_deg: float | None
) -> None:
    outlines, numbers = as_kept(measurement, 0, rater)
    told = {} if head_deg is None else {"head_deg": head_deg}
    draft = TracingDraft(
        turn.photo.number,
        rater,
        turn.trial,
        outlines[numbers.outline].outline,
        {**numbers.document, **told},
        round(seconds, 1),
    )
    record().studies.add_tracing(study.id, draft, rater)


def _clear(key: str) -> None:
    """Let nobody see this line again, its rater included."""
    forget_drawn(key)
    st.session_state[_BEGAN].pop(key, None)
