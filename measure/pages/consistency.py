"""The page *Consistency*: whether wounds are measured alike by all."""

import streamlit as st

from measure.pages.consistency_new import ask_new_study
from measure.pages.consistency_tracing import trace_studies

_PARTS = {"Tracing": trace_studies, "New study": ask_new_study}


def show() -> None:
    """Draw the page."""
    st.title("Consistency", anchor=False)
    part = st.segmented_control("Part", list(_PARTS), default="Tracing", label_visibility="collapsed", required=True)
    _PARTS[part or "Tracing"]()


show()
