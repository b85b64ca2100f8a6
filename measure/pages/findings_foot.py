"""Checks of a foot and what was taught, asked at the bedside."""

from collections.abc import Mapping

from measure.findings.foot import COLOURS, PULSES, SENSATION, TEACHING, TEMPERATURES, Foot
from measure.findings.vocabulary import Vocabulary
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_controls import explain, one_of, some_of
from measure.record.entries import Kind, WoundEntry

_CHECKS: Mapping[str, tuple[str, Vocabulary]] = {
    "pulses": ("Pulses: on top of the foot and behind the ankle", PULSES),
    "sensation": ("Feeling, with a 10 g monofilament", SENSATION),
    "temperature": ("Warmth, beside the other foot", TEMPERATURES),
    "colour": ("Colour", COLOURS),
}
_TEACHING = "foot-teaching"


def has_foot(wound: WoundEntry) -> bool:
    """Whether the foot is asked about."""
    return wound.site.on_foot or wound.kind is Kind.DIABETIC_FOOT


def ask_foot(bedside: Bedside) -> None:
    """Ask for the checks and for what was talked about."""
    for name, (label, words) in _CHECKS.items():
        one_of(bedside.answers, _name(name), label, words)
    some_of(bedside.answers, _TEACHING, "What was taught today", TEACHING)
    explain(*(words for _, words in _CHECKS.values()), TEACHING)


def foot_said(answers: Answers) -> Foot | None:
    """Return what was found and taught."""
    checks = {name: answers[_name(name)] or "" for name in _CHECKS}
    teaching = tuple(answers[_TEACHING] or ())
    return Foot(**checks, teaching=teaching) if teaching or any(checks.values()) else None


def _name(check: str) -> str:
    return f"foot-{check}"
