"""Escalation prompts on a page: what a person entered or the series shows, and whom to tell."""

from collections.abc import Sequence

import streamlit as st

from measure.escalation.prompts import Prompt
from measure.pages.plain import plain


def show_prompts(prompts: Sequence[Prompt]) -> None:
    """Show each prompt with what it rests on; nothing where there is none."""
    for prompt in prompts:
        st.error(f"{plain(prompt.sentence)}\n\n*{plain(prompt.source)}*", icon=":material/call:")
