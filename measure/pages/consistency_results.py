"""The results of a study on the page *Consistency*: what they mean, as pictures, as tables, and as files."""

import os
from datetime import datetime

import streamlit as st

from measure.agreement.errors import AgreementError
from measure.pages.consistency_charts import show_charts, show_outlines
from measure.pages.consistency_figures import show_sections
from measure.pages.consistency_files import offer_results
from measure.pages.consistency_use import ask_use
from measure.pages.plain import plain
from measure.record.study_entries import StudyEntry
from measure.server import DATA_VARIABLE
from measure.study.results import AREA, QUANTITIES, Results, results

_MOST_KEPT = 8
"""Results that are kept for all who open them: a study of 200 photos and 3 raters, twice, takes some 6 s."""

State = tuple[str, int, datetime, int, int]
"""All that a study depends on: where the record is, which it is, when it began, how much was traced and happened."""


def show_results(study: StudyEntry, quality: bool) -> None:  # noqa: FBT001 - as all sections of the page are called
    """Draw the section; names of raters and figures about single ones only for the quality team."""
    if not study.tracings:
        st.info("Nothing has been traced in this study yet; results are shown from the first tracings on.")
        return
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
    outlines = show_outlines(found) if quantity == AREA else None
    st.subheader("All figures", anchor=False)
    show_sections(found.analysis.sections)
    offer_results(found, outlines)
    if quality and quantity == AREA:
        ask_use(found)
    st.caption(
        "The same photos were traced again: what taking another photo adds is in none of these figures. They support "
        "documentation; your facility's policy decides how they are used."
    )


def _found(study: StudyEntry, quantity: str, *, people: bool) -> Results:
    """Return the results, found anew only where something happened: a page is drawn at every tap."""
    state = (os.environ[DATA_VARIABLE], study.id, study.at, len(study.tracings), len(study.events))
    return _kept(state, quantity, people, study)


@st.cache_resource(max_entries=_MOST_KEPT, show_spinner="Comparing all tracings ...")
def _kept(state: State, quantity: str, people: bool, _study: StudyEntry) -> Results:  # noqa: ARG001, FBT001
    return results(_study, quantity, people=people)


def _say_unfinished(study: StudyEntry) -> None:
    missing = study.plan.tracings - len(study.tracings)
    if missing:
        st.info(
            f"{len(study.tracings)} of {study.plan.tracings} tracings are done: the figures can still change.",
            icon=":material/hourglass_empty:",
        )
