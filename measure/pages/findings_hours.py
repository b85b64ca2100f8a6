"""Hours of the clock to tap: twelve large buttons in rows of six."""

import streamlit as st

from measure.pages.findings_answers import Answers

HOUR = "hour"
"""Ends the name of whatever is answered with an hour; the look of its buttons goes by it."""

_HOURS = (12, *range(1, 12))


def ask_hour(answers: Answers, name: str, label: str) -> None:
    """Ask for an hour; ``name`` ends with `HOUR`."""
    st.segmented_control(label, _HOURS, key=answers.at(name), width="stretch", persist_state="session")
