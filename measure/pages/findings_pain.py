"""Pain, asked at the bedside: eleven numbers to tap, with words at the ends."""

import streamlit as st

from measure.findings.pain import ENDS, rating
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside

RATING = "rating"
"""Ends the name of the answer; the look of its buttons goes by it."""

_PAIN = f"pain-{RATING}"


def ask_pain(bedside: Bedside) -> None:
    """Ask how much it hurts, as the person says."""
    ends = ". ".join(f"{number}: {words}" for number, words in ENDS.items())
    key = bedside.answers.at(_PAIN)
    st.segmented_control(
        f"How much it hurts now, as the person says. {ends}.",
        range(min(ENDS), max(ENDS) + 1),
        key=key,
        width="stretch",
        persist_state="session",
    )


def pain_said(answers: Answers) -> int | None:
    """Return the rating."""
    return None if answers[_PAIN] is None else rating(answers[_PAIN])
