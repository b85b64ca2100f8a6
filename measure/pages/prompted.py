"""Escalation prompts on a page: what a person entered or the series shows, and whom to tell."""

from collections.abc import Sequence

import streamlit as st

from measure.escalation.prompts import Prompt
from measure.escalation.texts import Urgency
from measure.pages.plain import plain

_HEADINGS = {
    Urgency.NOW: "Tell the provider now",
    Urgency.TODAY: "Tell the provider today",
    Urgency.SOON: "Tell the provider at the next chance",
}


def show_prompts(prompts: Sequence[Prompt]) -> None:
    """Show each prompt with what it rests on; nothing where there is none."""
    for prompt in prompts:
        show_prompt(prompt)


def show_prompt(prompt: Prompt) -> None:
    """Show one prompt: how soon in words, what it says, and where that comes from."""
    box = st.error if prompt.urgency is Urgency.NOW else st.warning
    words = f"**{_HEADINGS[prompt.urgency]}**\n\n{plain(prompt.sentence)}\n\n*Source: {plain(prompt.source)}*"
    box(words, icon=":material/call:")
