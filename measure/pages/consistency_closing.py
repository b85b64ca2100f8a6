"""The studies of the record: how far each has come, and closing one or opening it again, with a reason."""

import streamlit as st

from calibration.errors import EbblineError
from measure.pages.dates import day
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor
from measure.record.study_entries import StudyHead

_DRAWN = {"random": "by lot from all", "size": "evenly by size", "site": "evenly by place", "tone": "evenly by tone"}


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
    times = "once" if plan.trials == 1 else f"{plan.trials} times"
    st.markdown(
        f"{len(plan.photos)} photos, drawn {_DRAWN[plan.drawn_by]} (seed {plan.seed}), {times} each, from "
        f"{'the proposed outline' if plan.proposal else 'the photo alone'}; length and width: {plan.convention}. Begun "
        f"by {plain(study.by)} on {day(study.at)}."
    )
    asked = len(plan.photos) * plan.trials
    for rater in plan.raters:
        done = study.done_by(rater)
        st.progress(done / asked, text=f"{plain(rater)}: {done} of {asked}")
    for event in study.events:
        st.caption(f"{str(event.what).capitalize()} by {plain(event.by)} on {day(event.at)}: {plain(event.reason)}")
    _ask_event(study)


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
