"""The page *Visit*: the minutes at the bedside in one flow: photo, verdict, outline, numbers, findings, saved."""

import streamlit as st

from measure.escalation.prompts import Prompt, prompts
from measure.findings.findings import Findings, documents, parse_findings
from measure.geometry import Convention
from measure.pages.caution import caution
from measure.pages.findings import ask_findings
from measure.pages.held import record, visits_read
from measure.pages.kept_measurement import measure_to_keep
from measure.pages.measuring import put_away
from measure.pages.opened import is_anothers
from measure.pages.prompted import show_prompts
from measure.pages.visit_saved import saved_visit, show_saved
from measure.pages.visit_saving import ask_to_save, visit_so_far
from measure.pages.wound_head import wound_head
from measure.record.entries import WoundEntry


def show() -> None:
    """Draw the page."""
    wound = wound_head("Visit")
    if wound is None:
        return
    if saved := saved_visit(wound):
        show_saved(wound, saved)
    else:
        _bedside(wound)
    caution()


def _bedside(wound: WoundEntry) -> None:
    visits = visits_read(wound)
    _take_site_convention()

    st.subheader("Photo", anchor=False)
    notice = st.container()  # there in every run, so that what is below stays where it is
    if is_anothers(wound.key):  # never one wound's photo in the visit to another
        put_away()
        notice.info("The photo that was open is not of this visit, and was put away.")
    measured, will_do = measure_to_keep()
    st.subheader("Findings", anchor=False)
    st.caption("Say what you found; leave out what you did not look at.")
    counted = [visit for visit in visits if not visit.left_out]
    before = [parse_findings(visit.found) for visit in counted if visit.found]
    earlier = before[-1] if before else None

    def told(findings: Findings) -> tuple[Prompt, ...]:
        return prompts(wound, [*counted, visit_so_far(wound, documents(findings))])

    found = ask_findings(wound, wound.key, earlier, before=before, watched=lambda said: _reasons(told(said)))
    show_prompts(told(found))
    ask_to_save(wound, visits, measured, will_do)


def _reasons(prompts: tuple[Prompt, ...]) -> tuple[str, ...]:
    return tuple(prompt.reason for prompt in prompts)


def _take_site_convention() -> None:
    """Begin with the way in which this site takes length and width, until a person chooses another one."""
    if "convention" not in st.session_state and (site := record().setting("convention")):
        st.session_state["convention"] = Convention(site)


show()
