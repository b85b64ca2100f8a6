"""Signs that matter at once, asked at the bedside: each a question, yes or no, none answered before."""

from collections.abc import Mapping

from measure.findings.signs import SIGNS, Sign, answered
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import yes_or_no
from measure.record.entries import Kind, WoundEntry

_LIMB = ("leg", "thigh", "calf", "shin", "knee", "stump")
_OF_LIMBS = frozenset({Kind.DIABETIC_FOOT, Kind.VENOUS_LEG, Kind.ARTERIAL})


def asked_of(wound: WoundEntry) -> Mapping[str, Sign]:
    """Return the questions for a wound: some are for legs and feet alone."""
    site = wound.site
    limb = site.on_foot or wound.kind in _OF_LIMBS or any(word in site.place.lower() for word in _LIMB)
    return {name: sign for name, sign in SIGNS.items() if limb or not sign.of_limb}


def ask_signs(bedside: Bedside) -> None:
    """Ask the questions."""
    for name, sign in asked_of(bedside.wound).items():
        yes_or_no(bedside.answers, _name(name), sign.question)


def signs_said(answers: Answers) -> Mapping[str, bool]:
    """Return what was answered."""
    return answered({name: answers[_name(name)] for name in SIGNS})


def _name(sign: str) -> str:
    return f"sign-{sign}"
