"""The studies of the record: how far each has come, and closing one or opening it again, with a reason."""

import streamlit as st

from calibration.errors import EbblineError
from measure.geometry import Convention
from measure.pages.consistency_conventions import CONVENTIONS
from measure.pages.dates import day
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.quality import is_quality
from measure.pages.who import editor
from measure.record.study_entries import StudyHead

_TIMES = {1: "once", 2: "twice"}
_DRAWN = {
    "random": "by lot from all",
    "size": "evenly by size",
    "site": "evenly by place",
    "tone": "evenly by skin tone",
}


def show_studies() -> None:
    """Draw a line for each study, newest first; what is behind it opens at a tap."""
    studies = record().studies.heads()
    if studies:
        st.subheader("Studies", anchor=False)
    for study in reversed(studies):
        with st.expander(_title(study)):
            _show(study)


def _title(study: StudyHead) -> str:
    stand = "closed" if study.closed else f"{len(study.done)} of {study.plan.tracings} traced"
    return f"{plain(study.name)} · {stand}"


def _show(study: StudyHead) -> None:
    plan = study.plan
    times = _TIMES.get(plan.trials, f"{plan.trials} times")
    st.markdown(
        f"{_photos(len(plan.photos))}, chosen {_DRAWN[plan.drawn_by]} (lot {plan.seed}), {times} each, from "
        f"{'the proposed outline' if plan.proposal else 'the photo alone'}. "
        f"{CONVENTIONS[Convention(plan.convention)]}. Begun by {plain(study.by)} on {day(study.at)}."
    )
    _show_raters(study)
    for event in study.events:
        st.caption(f"{str(event.what).capitalize()} by {plain(event.by)} on {day(event.at)}: {plain(event.reason)}")
    _ask_event(study)


def _show_raters(study: StudyHead) -> None:
    """Show how far each rater has come, to the quality team and to who began the study; to others the raters alone."""
    raters = study.plan.raters
    if not is_quality() and editor().casefold() != study.by.casefold():
        st.markdown(f"Raters: {', '.join(map(plain, raters))}.")
        st.caption("How far each has come is shown to the quality team and to who began the study.")
        return
    asked = len(study.plan.photos) * study.plan.trials
    for rater in raters:
        done = study.done_by(rater)
        st.progress(done / asked, text=f"{plain(rater)}: {done} of {asked}")


def _photos(number: int) -> str:
    return "1 photo" if number == 1 else f"{number} photos"


def _ask_event(study: StudyHead) -> None:
    studies = record().studies
    act, label = (studies.reopen, "Open again") if study.closed else (studies.close, "Close the study")
    with st.form(f"study-event-{study.id}-{len(study.events)}", border=False):
        reason = st.text_input(f"{label}: why?", max_chars=200)
        pressed = st.form_submit_button(label, width="stretch")
    if not pressed:
        return
    try:
        act(study.id, reason, editor())
    except EbblineError as error:
        st.error(str(error), icon=":material/error:")
    else:
        st.rerun()
