"""What a nurse entered at the bedside that the provider should be told."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from measure.escalation.heard import Heard, Word
from measure.escalation.texts import Cause
from measure.findings.closures import SEPARATED
from measure.findings.foot import PULSES
from measure.findings.pain import SEVERE
from measure.record.entries import WoundEntry

ENOUGH_ON_FOOT = 2
"""Local signs: two of them are enough on a foot (International Working Group on the Diabetic Foot, 2023, from
memory)."""

ENOUGH = 3
"""The same elsewhere: one or two, as warmth and swelling, are seen round many wounds (common practice)."""

ANSWERS: Mapping[str, str] = MappingProxyType(
    {
        "exposed-organ": "exposed organ",
        "bleeding": "bleeding",
        "unwell": "unwell",
        "crackling": "crepitus",
        "dark-skin": "dark skin",
        "bowel-content": "bowel content",
        "spreading-redness": "spreading redness",
        "fever": "fever",
        "exposed-bone": "exposed bone",
        "exposed-tendon": "exposed tendon",
        "new-pain": "new pain",
    }
)
"""Reasons that are one question, answered with yes."""

_LASTING = frozenset({"exposed-bone", "exposed-tendon", "bowel-content", "no-pulses"})
"""What may stay so for weeks: once it is known there is less of a hurry."""

_COLD = frozenset({"cold", "pale", "dusky"})


def sign_causes(heard: Heard, wound: WoundEntry) -> Iterator[Cause]:
    """Yield what was entered lately that the provider should be told, in no order."""
    yield from _answers(heard)
    yield from _fever(heard)
    yield from _local(heard, wound)
    yield from _blood_flow(heard)
    yield from _pain(heard)
    line = heard.finding("closures", "line")
    if line and line.value == SEPARATED != line.before:
        yield Cause("line-separated", (line.at,), {})


def _yes(heard: Heard, sign: str) -> Word | None:
    word = heard.answer(sign)
    return word if word and word.value else None


def _cause(reason: str, word: Word, **facts: object) -> Cause:
    first = word.first if word.known and reason in _LASTING else None
    return Cause(reason, (word.at,), facts, first)


def _answers(heard: Heard) -> Iterator[Cause]:
    for reason, sign in ANSWERS.items():
        if word := _yes(heard, sign):
            yield _cause(reason, word)


def _fever(heard: Heard) -> Iterator[Cause]:
    redness, fever = _yes(heard, "spreading redness"), _yes(heard, "fever")
    if redness and fever:
        yield Cause("redness-with-fever", (redness.at, fever.at), {})


def _local(heard: Heard, wound: WoundEntry) -> Iterator[Cause]:
    """Yield pus alone, and signs of which several say more than one."""
    pus = _yes(heard, "pus") or _one_of(heard.finding("exudate", "kind"), "purulent")
    if pus:
        yield _cause("pus", pus)
    skin, warmth = heard.finding("skin"), heard.finding("foot", "temperature")
    signs = {
        "redness": _yes(heard, "spreading redness") or _holding(skin, "reddened", "non-blanching"),
        "warmth": _yes(heard, "warmth") or _holding(skin, "warm") or _one_of(warmth, "warmer"),
        "swelling": _yes(heard, "swelling") or _holding(skin, "swollen", "hard"),
        "new pain": _yes(heard, "new pain"),
        "thick fluid that is not clear": pus,
    }
    found = {name: word for name, word in signs.items() if word}
    on_foot = wound.site.on_foot
    if len(found) >= (ENOUGH_ON_FOOT if on_foot else ENOUGH):
        reason = "foot-signs" if on_foot else "several-signs"
        yield Cause(reason, tuple(word.at for word in found.values()), {"signs": ", ".join(found)})


def _holding(word: Word | None, *values: str) -> Word | None:
    return word if word and any(value in word.value for value in values) else None


def _one_of(word: Word | None, *values: str) -> Word | None:
    return word if word and word.value in values else None


def _blood_flow(heard: Heard) -> Iterator[Cause]:
    pulses = heard.finding("foot", "pulses")
    if pulses and pulses.value == "not felt":
        if pulses.before in {"felt", "heard"}:
            yield _cause("pulses-lost", pulses, before=PULSES[pulses.before].word)
        yield _cause("no-pulses", pulses)
    looks = [heard.finding("foot", part) for part in ("temperature", "colour")]
    newly = [word for word in looks if word and word.value in _COLD and word.before not in {None, *_COLD}]
    cold = [word for word in (_yes(heard, "cold or pale"), *newly) if word]
    if cold:
        yield Cause("cold-or-pale", tuple(word.at for word in cold), {})


def _pain(heard: Heard) -> Iterator[Cause]:
    pain = heard.finding("pain")
    if pain and pain.value >= SEVERE and (pain.before is None or pain.before < SEVERE):
        before = "it was not rated before" if pain.before is None else f"the time before, it was {pain.before}"
        yield _cause("severe-pain", pain, now=pain.value, before=before)
