"""What each escalation prompt says, how urgent it is, and where that comes from.

A prompt repeats what was entered or measured, and whom to tell. It never says what is wrong: that is for the provider.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from measure.findings.pain import SEVERE


class Urgency(StrEnum):
    """How soon to tell the provider."""

    NOW = "now"
    TODAY = "today"
    SOON = "soon"


CALLS: Mapping[Urgency, str] = MappingProxyType(
    {
        Urgency.NOW: "Contact the provider now, per local policy.",
        Urgency.TODAY: "Contact the provider today, per local policy.",
        Urgency.SOON: "Tell the provider at the next chance, per local policy.",
    }
)
"""Whom to tell, by how soon."""


@dataclass(frozen=True)
class Cause:
    """Why there is a prompt.

    Attributes
    ----------
    reason : str
        One of `PROMPTS`.
    at : tuple of datetime
        When what it rests on was entered or measured.
    facts : mapping
        What the sentence has places for.
    first : datetime, optional
        Since when that has been entered, where it was known before; then there is less of a hurry.
    """

    reason: str
    at: tuple[datetime, ...]
    facts: Mapping[str, object]
    first: datetime | None = None


class PromptText(NamedTuple):
    """What a prompt says, with {places} to fill in, how urgent it is, and where that comes from."""

    urgency: Urgency
    sentence: str
    source: str = "common practice"


_FOOT = "International Working Group on the Diabetic Foot, guidelines 2023, from memory"

PROMPTS: Mapping[str, PromptText] = MappingProxyType(
    {
        "exposed-organ": PromptText(
            Urgency.NOW, "Entered {when}: something from inside the body can be seen in the wound."
        ),
        "bleeding": PromptText(
            Urgency.NOW, "Entered {when}: the wound bleeds, and does not stop when it is pressed on."
        ),
        "unwell": PromptText(
            Urgency.NOW,
            "Entered {when}: the person is newly confused or faint, or breathing or pulse is fast.",
        ),
        "crackling": PromptText(Urgency.NOW, "Entered {when}: the skin crackles when it is pressed."),
        "redness-with-fever": PromptText(Urgency.NOW, "Entered {when}: redness or darkening has spread, with a fever."),
        "dark-skin": PromptText(
            Urgency.NOW, "Entered {when}: skin round the wound has newly turned purple, black or blistered."
        ),
        "cold-or-pale": PromptText(Urgency.NOW, "Entered {when}: the foot or leg is newly cold, pale or blue."),
        "pulses-lost": PromptText(
            Urgency.NOW, "Entered {when}: no pulse was felt in the foot; the time before, it was {before}.", _FOOT
        ),
        "line-separated": PromptText(
            Urgency.NOW, "Entered {when}: the line has separated. Stop, and leave the other closures in."
        ),
        "drain-turned-bloody": PromptText(
            Urgency.NOW, "Entered {when}: the fluid of drain {label} is bloody; the time before, it was {before}."
        ),
        "bowel-content": PromptText(Urgency.NOW, "Entered {when}: bile or stool comes out of the wound."),
        "foot-signs": PromptText(Urgency.TODAY, "Entered {when}, of a wound on the foot: {signs}.", _FOOT),
        "several-signs": PromptText(Urgency.TODAY, "Entered {when}: {signs}."),
        "spreading-redness": PromptText(
            Urgency.TODAY, "Entered {when}: redness or darkening has spread over the skin."
        ),
        "fever": PromptText(Urgency.TODAY, "Entered {when}: the person has a fever or chills."),
        "pus": PromptText(Urgency.TODAY, "Entered {when}: thick fluid that is not clear comes out of the wound."),
        "exposed-bone": PromptText(Urgency.TODAY, "Entered {when}: bone can be seen or felt in the wound."),
        "exposed-tendon": PromptText(Urgency.TODAY, "Entered {when}: tendon or a joint can be seen in the wound."),
        "no-pulses": PromptText(Urgency.TODAY, "Entered {when}: no pulse was felt in the foot.", _FOOT),
        "severe-pain": PromptText(
            Urgency.TODAY,
            "Entered {when}: pain is {now} of 10; {before}.",
            f"from {SEVERE} on pain is called severe: Serlin et al., Pain 61(2):277-284, 1995, from memory",
        ),
        "new-pain": PromptText(Urgency.TODAY, "Entered {when}: there is new pain, or more than at the last visit."),
        "drain-fluid": PromptText(Urgency.TODAY, "Entered {when}: the fluid of drain {label} is {now}; {before}."),
        "drain-suction": PromptText(
            Urgency.TODAY,
            "Entered {when}: the suction of drain {label} was not restored. Look for a leak, a kink or a clot.",
        ),
        "drain-output-up": PromptText(
            Urgency.TODAY,
            "Entered {when}: drain {label} gave {now:.0f} mL per 24 h, at least {times:g} times the {before:.0f} mL "
            "per 24 h of the day before.",
        ),
        "drain-output-down": PromptText(
            Urgency.TODAY,
            "Entered {when}: drain {label} gave {now:.0f} mL per 24 h, at most one part in {times:g} of the "
            "{before:.0f} mL per 24 h of the day before. Look for a kink or a clot.",
        ),
        "wound-growing": PromptText(
            Urgency.TODAY,
            "Measured {when}: the traced area is {now:.2f} cm², and was {before:.2f} cm² on {since}; that is more than "
            "measuring alone would explain.",
            "smallest detectable change: {source}",
        ),
        "stalled": PromptText(Urgency.SOON, "Measured {when}: {reason}", "{source}"),
    }
)
"""Every prompt by its reason, the most urgent first; a reason never changes."""
