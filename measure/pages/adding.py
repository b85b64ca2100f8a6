"""What is added to a past visit: findings that were forgotten or wrong, and notes; what was recorded stays."""

import streamlit as st

from measure.acceptance import MAX_REASON
from measure.findings.findings import documents
from measure.pages.findings import ask_findings, findings_of, forget_findings, troubles_of
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor, named
from measure.record.entries import LEFT_OUT, VisitEntry, WoundEntry

MAX_NOTE = 2000
"""Characters of a note: a page of text."""


def add_to(wound: WoundEntry, visit: VisitEntry) -> None:
    """Let a person add a note to a visit, or findings: the newest of a kind counts, and the earlier one stays."""
    if not named("Added by", "To add something: who are you?"):
        return
    with st.expander("Add a note to this visit"), st.form(f"add-{visit.id}", border=False, clear_on_submit=True):
        text = st.text_area("Note", max_chars=MAX_NOTE, height=80).strip()
        pressed = st.form_submit_button("Add the note", type="primary", width="stretch")
    if pressed and text:
        record().add_note(visit.id, text, editor())
        st.rerun()
    if st.toggle("Add or correct findings of this visit", key=f"visit-correct-{visit.id}"):
        _add_findings(wound, visit)
    _leave_out(visit)


def _add_findings(wound: WoundEntry, visit: VisitEntry) -> None:
    key = f"correct-{visit.id}"
    st.caption("Say only what was forgotten or wrong. What was said before stays in the record, with who said it.")
    ask_findings(wound, key, at=visit.at)
    if st.button("Add to the visit", type="primary", width="stretch"):
        said, troubles = documents(findings_of(key)), troubles_of(key)
        if troubles or not said:
            st.error(plain(" ".join(troubles) or "Nothing was said yet: open a group above and tap."))
            return
        record().add_findings(visit.id, said, editor())
        forget_findings(key)
        st.toast("Added to the visit.")
        st.rerun()


def _leave_out(visit: VisitEntry) -> None:
    """Let a person leave a visit out of the series, as one that was saved to the wrong wound; it stays readable."""
    if visit.left_out:
        if st.button("Take this visit into the series again", width="stretch"):
            record().add_findings(visit.id, {LEFT_OUT: None}, editor())
            st.rerun()
        return
    with st.expander("This visit is a mistake"), st.form(f"leave-out-{visit.id}", border=False, clear_on_submit=True):
        st.caption("It stays in the record, is marked, and no longer counts in Progress, Compare and prompts.")
        reason = st.text_input("Why, in a few words (wrong wound, wrong photo ...)", max_chars=MAX_REASON).strip()
        pressed = st.form_submit_button("Leave it out of the series", width="stretch")
    if pressed and reason:
        record().add_findings(visit.id, {LEFT_OUT: reason}, editor())
        st.rerun()
