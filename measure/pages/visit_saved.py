"""What is said once a visit is saved: what it holds, what has changed, whom to tell, and what is next."""

import streamlit as st

from measure.escalation.prompts import Prompt, prompts
from measure.findings.findings import parse_findings
from measure.findings.one_line import one_line
from measure.pages.dates import moment
from measure.pages.held import forget_visits, record
from measure.pages.plain import plain
from measure.pages.prompted import show_prompt
from measure.pages.who import editor
from measure.record.entries import VisitEntry, WoundEntry
from measure.record.store import Saved
from measure.trend.series import series_of
from measure.trend.trend import trend

_SAVED = "saved-visit"


def remember_saved(wound: WoundEntry, saved: Saved) -> None:
    """Let the page's next run say that a visit was saved."""
    st.session_state[_SAVED] = (wound.key, saved)


def saved_visit(wound: WoundEntry) -> Saved | None:
    """Return the visit to this wound that was just saved, until a person goes on."""
    key, saved = st.session_state.get(_SAVED, ("", None))
    return saved if key == wound.key else None


def show_saved(wound: WoundEntry, saved: Saved) -> None:
    """Say what was saved, and offer what is next."""
    visit = saved.visit
    st.success(
        f"**Saved:** visit of {moment(visit.at)} to {plain(wound.person)}, {plain(str(wound))}, by {plain(visit.by)}.",
        icon=":material/check_circle:",
    )
    for other in saved.others:
        st.warning(
            f"**{plain(other.by)} also saved a visit to this wound**, at {moment(other.at)}, while you were working. "
            "Both are kept: look at the history, and talk to each other if one of them is a mistake.",
            icon=":material/group:",
        )
    visits = record().visits(wound.id)
    series = trend(series_of(wound, visits), sdc=record().setting("smallest_detectable_change"))
    if series.sentence:
        st.markdown(plain(series.sentence))
    for prompt in prompts(wound, visits, series):
        _answered(visit, prompt)
    st.markdown("**For the chart**, to copy:")
    st.code(one_line(wound, parse_findings(visit.found), visit.measurement), language=None, wrap_lines=True)
    if st.button("Another wound", type="primary", width="stretch"):
        st.session_state.pop(_SAVED)
        st.switch_page("measure/pages/wounds.py")
    if st.button("Another visit to this wound", width="stretch"):
        st.session_state.pop(_SAVED)
        st.rerun()


def _answered(visit: VisitEntry, prompt: Prompt) -> None:
    """Show a prompt, and let a person record what was done about it."""
    with st.container(border=True):
        show_prompt(prompt)
        key = f"answer-{visit.id}-{prompt.reason}"
        if done := st.session_state.get(f"done-{key}"):
            st.markdown(f"Recorded: {plain(done)}")
            return
        said = st.text_input("What was done? (whom you told, and when)", key=key, max_chars=200).strip()
        if st.button("Record what was done", key=f"record-{key}", disabled=not said):
            record().answer_prompt(visit.id, prompt.reason, said, editor())
            forget_visits()
            st.session_state[f"done-{key}"] = said
            st.rerun()
