"""The page *Consistency*: whether all measure alike, and how large a change must be before it is one."""

from collections.abc import Callable

import streamlit as st

from measure.pages.caution import caution
from measure.pages.consistency_at_hand import show_at_hand
from measure.pages.consistency_new import ask_new_study
from measure.pages.consistency_planning import show_planning
from measure.pages.consistency_practice import show_practice
from measure.pages.consistency_results import show_results
from measure.pages.consistency_tracing import is_tracing, trace_studies
from measure.pages.held import record
from measure.pages.quality import ask_quality_team, is_quality
from measure.pages.who import editor, named
from measure.record.study_entries import StudyHead
from measure.study.turns import next_turn


def show() -> None:
    """Draw the page; while a photo is traced nothing else stands on it."""
    if is_tracing():
        trace_studies()
        return
    st.title("Consistency", anchor=False)
    chosen = st.pills(
        "Part", list(_PARTS), default="Trace", key="consistency-part", label_visibility="collapsed", required=True
    )
    _PARTS[chosen or "Trace"]()
    caution()


def _results() -> None:
    """Show what came of a study, but not to raters who still trace in it: they would know what others drew."""
    if not named("You are", "Who are you? Raters see results once they have finished."):
        return
    begun = [study for study in reversed(record().studies.heads()) if len(study.done) > 1]
    if not begun:
        st.info(
            "There are no results yet: they show from the second tracing of a study on. Begin one under New study; its "
            "raters trace under Trace."
        )
        return
    study = st.selectbox("Study", begun, format_func=_title, key="results-study")
    rater = study.plan.rater(editor())
    if rater and not study.closed and next_turn(study, rater):
        st.info("You still trace in this study. Its results open to you when you have finished.")
        return
    show_results(record().studies.one(study.id), quality=is_quality())
    ask_quality_team()


def _title(study: StudyHead) -> str:
    return f"{study.name} · {len(study.done)} of {study.plan.tracings} traced"


def _at_hand() -> None:
    show_at_hand(quality=is_quality())


def _practice() -> None:
    show_practice(quality=is_quality())
    ask_quality_team()


def _new() -> None:
    with st.expander("How many photos and raters does it take?"):
        show_planning()
    ask_new_study()


_PARTS: dict[str, Callable[[], None]] = {
    "Trace": trace_studies,
    "Results": _results,
    "From visits": _at_hand,
    "Practice": _practice,
    "New study": _new,
}


show()
