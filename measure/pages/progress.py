"""The page *Progress*: whether a wound becomes smaller, in words, as a picture, and as a table."""

import streamlit as st

from measure.escalation.prompts import prompts
from measure.pages.caution import caution
from measure.pages.held import visits_read
from measure.pages.judged import judged
from measure.pages.plain import plain
from measure.pages.progress_chart import show_chart
from measure.pages.progress_files import offer_series
from measure.pages.progress_table import show_table
from measure.pages.prompted import show_prompts
from measure.pages.wound_head import wound_head
from measure.trend.change import FROM_BUDGETS, Change
from measure.trend.course import Trend
from measure.trend.report import expectation
from measure.trend.table import table
from measure.trend.words import edge_words


def show() -> None:
    """Draw the page."""
    wound = wound_head("Progress")
    if wound is None:
        return
    told = judged(wound, visits_read(wound))
    if not told.series.visits:
        st.info("No visit to this wound is in the record yet. Begin with Visit, above.")
        caution()
        return
    show_prompts(prompts(wound, told.series.visits, told))
    st.markdown(f"**{plain(told.sentence)}**")
    if told.series.points:
        show_chart(told)
        _beside(told)
        st.subheader("Visits with an area", anchor=False)
        show_table(table(told))
        st.caption("± for k = 2. Tissue as colours suggest it; what you see counts.")
        offer_series(told)
    caution()


def _beside(told: Trend) -> None:
    """Say what the picture can't: rates, what was published, and what interrupts the series."""
    advance = told.linear_advance
    if advance:
        st.markdown(edge_words(advance.per_week))
        st.markdown(plain(expectation(told.exponential) if told.exponential else told.no_exponential))
        st.markdown(plain(told.stalled.reason))
    for sentence in (*(each.sentence for each in told.breaks), *(gap.sentence for gap in told.gaps)):
        st.info(plain(sentence))
    if told.change:
        st.caption(f"What is taken for measurement noise comes {_where_from(told.change)}.")
    if told.references:
        with st.expander("Where the figures in the picture come from"):
            for each in told.references:
                st.markdown(f"**{plain(each.figure)}.** {plain(each.sentence)} *{plain(each.source)}*")
            st.caption("They describe many wounds and say nothing certain about one. Follow your facility's policy.")


def _where_from(change: Change) -> str:
    return change.source if change.source == FROM_BUDGETS else f"from {plain(change.source)}"


show()
