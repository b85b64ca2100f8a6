"""Findings of a past visit, to be read: what was said, and in one quiet line what was not."""

import streamlit as st

from measure.findings.findings import Findings
from measure.findings.signs import SIGNS
from measure.findings.sizes import twelve
from measure.pages.findings_groups import GROUPS
from measure.pages.findings_signs import asked_of
from measure.pages.plain import plain
from measure.record.entries import WoundEntry


def show_findings(findings: Findings, wound: WoundEntry) -> None:
    """Show what was found at a visit to a wound."""
    said = {group.title: group.words(findings) for group in GROUPS}
    lines = [f"- **{title}:** {plain(words)}" for title, words in said.items() if words]
    if lines:
        st.markdown("\n".join(lines))
    if findings.undermining or findings.tunnels:
        st.caption(f"{twelve(wound.site)}.")
    missing = [group.title for group in GROUPS if not said[group.title] and group.asked_of(wound)]
    if missing:
        st.caption(f"Not said: {', '.join(missing).lower()}.")
    left = [SIGNS[name].word for name in asked_of(wound) if findings.signs and name not in findings.signs]
    if left:
        st.caption(f"Signs not answered: {', '.join(left)}.")
