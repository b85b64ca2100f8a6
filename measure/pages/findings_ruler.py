"""Length and width by a ruler, asked at the bedside of whoever took them beside the photo."""

from functools import partial

import streamlit as st

from measure.findings.ruler import ruler_length_cm, ruler_width_cm
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import length_cm, tell_trouble

_LENGTH, _WIDTH = "ruler-length", "ruler-width"


def ask_ruler(bedside: Bedside) -> None:
    """Ask for both."""
    st.caption(
        "Only to compare a ruler with the photo: take length and width in the same directions as in the photo, and "
        "before you look at its numbers."
    )
    length_cm(bedside.answers, _LENGTH, "Length by ruler")
    tell_trouble(partial(ruler_length_said, bedside.answers))
    length_cm(bedside.answers, _WIDTH, "Width by ruler")
    tell_trouble(partial(ruler_width_said, bedside.answers))


def ruler_length_said(answers: Answers) -> float | None:
    """Return the length."""
    given = answers[_LENGTH]
    return None if given is None else ruler_length_cm(given)


def ruler_width_said(answers: Answers) -> float | None:
    """Return the width."""
    given = answers[_WIDTH]
    return None if given is None else ruler_width_cm(given)
