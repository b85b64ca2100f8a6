"""Irrigation, asked at the bedside: with what, how much, how, and at which pressure that usually is."""

from functools import partial

import streamlit as st

from measure.findings.irrigation import DEVICES, PSI, SOLUTIONS, Irrigation
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import explain, lack, one_of, tell_trouble, volume_ml

_SOLUTION, _VOLUME, _DEVICE = "irrigation-solution", "irrigation-volume", "irrigation-device"
_VOLUME_STEP = 50.0  # mL; a syringe or two


def ask_irrigation(bedside: Bedside) -> None:
    """Ask for solution, volume and device."""
    answers = bedside.answers
    one_of(answers, _SOLUTION, "With what", SOLUTIONS)
    volume_ml(answers, _VOLUME, "How much", _VOLUME_STEP)
    one_of(answers, _DEVICE, "How it was brought on", DEVICES)
    if answers[_DEVICE] in PSI:
        st.caption(f"That gives about {PSI[answers[_DEVICE]]:g} psi.")
    tell_trouble(partial(irrigation_said, answers))
    explain(SOLUTIONS, DEVICES)


def irrigation_said(answers: Answers) -> Irrigation | None:
    """Return the irrigation."""
    solution, volume, device = answers[_SOLUTION], answers[_VOLUME], answers[_DEVICE]
    if solution is None and volume is None and device is None:
        return None
    lack([] if solution else ["with what"], "The irrigation")
    return Irrigation(solution, volume, device or "")
