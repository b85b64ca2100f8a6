"""The results of a study on the page *Consistency*: what they mean, as pictures, as tables, and as files."""

import streamlit as st

from measure.agreement.errors import AgreementError
from measure.pages.consistency_charts import show_charts, show_outlines
from measure.pages.consistency_figures import show_sections
from measure.pages.consistency_files import offer_results
from measure.pages.consistency_use import ask_use
from measure.pages.plain import plain
from measure.record.study_entries import StudyEntry
from measure.study.results import QUANTITIES, Results, results

_KEPT = "study-results"
_AREA = "area_cm2"


def show_results(study: StudyEntry, quality: bool) -> None:  # noqa: FBT001 - as all sections of the page are called
    """Draw the section; names of raters and figures about single ones only for the quality team."""
    quantity = st.selectbox(
        "What was measured", list(QUANTITIES), format_func=QUANTITIES.__getitem__, key=f"results-of-{study.id}"
    )
    try:
        found = _found(study, quantity, people=quality)
    except AgreementError as error:
        st.info(plain(str(error)))
        return
    st.markdown(f"**{plain(found.analysis.headline)}**")
    _say_unfinished(study)
    show_charts(found)
    outlines = show_outlines(found) if quantity == _AREA else None
    st.subheader("All figures", anchor=False)
    show_sections(found.analysis.sections)
    offer_results(found, outlines)
    if quality and quantity == _AREA:
        ask_use(found)
    st.caption(
        "The same photos were traced again: what taking another photo adds is in none of these figures. They support "
        "documentation; your facility's policy decides how they are used."
    )


def _found(study: StudyEntry, quantity: str, *, people: bool) -> Results:
    """Return the results, found anew only where something was traced: a page is drawn at every tap."""
    state = (study.id, len(study.tracings), quantity, people)
    held: tuple[tuple[int, int, str, bool], Results] | None = st.session_state.get(_KEPT)
    if held is None or held[0] != state:
        held = st.session_state[_KEPT] = (state, results(study, quantity, people=people))
    return held[1]


def _say_unfinished(study: StudyEntry) -> None:
    missing = study.plan.tracings - len(study.tracings)
    if missing:
        st.info(
            f"{len(study.tracings)} of {study.plan.tracings} tracings are done: the figures can still change.",
            icon=":material/hourglass_empty:",
        )
