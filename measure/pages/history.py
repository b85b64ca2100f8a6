"""The page *History*: every visit to a wound as it was recorded, and what is added to it later."""

import streamlit as st

from measure.findings.findings import parse_findings
from measure.pages.adding import add_to
from measure.pages.caution import caution
from measure.pages.dates import moment
from measure.pages.findings_shown import show_findings
from measure.pages.held import record
from measure.pages.past_photo import show_past_photo
from measure.pages.plain import plain
from measure.pages.retracing import offer_retracing, retrace, retraced
from measure.pages.wound_head import wound_head
from measure.pages.wound_status import ask_status
from measure.record.entries import VisitEntry, WoundEntry

_AT_ONCE = 12
"""Visits to choose from at first: three months of weekly ones."""


def show() -> None:
    """Draw the page."""
    wound = wound_head("History")
    if wound is None:
        return
    ask_status(wound)
    visits = record().visits(wound.id)[::-1]
    if not visits:
        st.info("No visit to this wound is in the record yet.")
        return
    if again := next((visit for visit in visits if visit.id == retraced()), None):
        retrace(again)
        return
    visit = _chosen(visits)
    _shown(wound, visit)
    offer_retracing(visit)
    add_to(wound, visit)
    caution()


def _chosen(visits: list[VisitEntry]) -> VisitEntry:
    """Let a person choose a visit, the newest first."""
    every = len(visits) <= _AT_ONCE or st.toggle(f"Show all {len(visits)} visits", key="history-all")
    at_hand = {visit.id: visit for visit in (visits if every else visits[:_AT_ONCE])}
    chosen = st.pills(
        "Visit",
        list(at_hand),
        format_func=lambda number: moment(at_hand[number].at),
        default=visits[0].id,
        key=f"history-{visits[0].wound}",
    )
    return at_hand.get(chosen or 0, visits[0])


def _shown(wound: WoundEntry, visit: VisitEntry) -> None:
    unit = f", {plain(visit.unit)}" if visit.unit else ""
    st.subheader(f"Visit of {moment(visit.at)}", anchor=False)
    st.caption(f"By {plain(visit.by)}{unit}. In the record since {moment(visit.saved_at)}.")
    if visit.left_out:
        st.warning(f"**Left out of the series:** {plain(visit.left_out)}", icon=":material/block:")
    show_past_photo(visit)
    show_findings(parse_findings(visit.found), wound)
    for note in visit.notes:
        st.markdown(f"**Note** ({plain(note.by)}, {moment(note.at)}): {plain(note.text)}")
    for answer in visit.answers:
        st.markdown(f"**What was done** ({plain(answer.by)}, {moment(answer.at)}): {plain(answer.answer)}")


show()
