"""When to tell the provider: from what a nurse entered and from the series of a wound, never from a photo's pixels.

A prompt says what was entered or measured, when, and how soon to tell the provider. It names no disease and takes no
decision, and a facility's policy comes before it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from measure.course_causes import Course, course_causes
from measure.drain_causes import drain_causes
from measure.heard import heard
from measure.prompt_texts import CALLS, PROMPTS, Cause, Urgency
from measure.record.entries import Status, VisitEntry, WoundEntry
from measure.sign_causes import sign_causes
from measure.when import all_said, day_said

_SAID_BY: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "redness-with-fever": frozenset({"spreading-redness", "fever"}),
        "foot-signs": frozenset({"spreading-redness", "pus", "new-pain"}),
        "several-signs": frozenset({"spreading-redness", "pus", "new-pain"}),
        "severe-pain": frozenset({"new-pain"}),
        "pulses-lost": frozenset({"no-pulses"}),
    }
)
"""Prompts that are left out beside another one which says what they do."""

_BY_URGENCY = tuple(Urgency)
_IN_ORDER = tuple(PROMPTS)


@dataclass(frozen=True)
class Prompt:
    """That the provider should be told.

    Attributes
    ----------
    reason : str
        A short stable name, one of `measure.prompt_texts.PROMPTS`.
    sentence : str
        What was entered or measured, when, and how soon to tell the provider.
    source : str
        Where that comes from; common practice where that is all there is.
    urgency : Urgency
    at : tuple of datetime
        When what it rests on was entered or measured.
    """

    reason: str
    sentence: str
    source: str
    urgency: Urgency = Urgency.TODAY
    at: tuple[datetime, ...] = ()


def prompts(wound: WoundEntry, visits: Sequence[VisitEntry], trend: Course | None = None) -> tuple[Prompt, ...]:
    """Return what the provider should be told, the most urgent first; nothing where nothing was entered that matters.

    Parameters
    ----------
    wound : WoundEntry
    visits : sequence of VisitEntry
        To this wound, in any order. An answer stands for `measure.heard.STANDS` before the newest visit.
    trend : Trend, optional
        What the series says, as of `measure.trend.trend`.

    Raises
    ------
    FindingError
        If a visit holds a finding in another form.
    """
    causes: list[Cause] = []
    if visits:
        entered = heard(visits)
        causes += [*sign_causes(entered, wound), *drain_causes(entered)]
    if trend is not None and wound.status is Status.OPEN:
        causes += course_causes(trend)
    covered = frozenset().union(*(_SAID_BY.get(cause.reason, frozenset()) for cause in causes))
    told = [_prompt(cause) for cause in causes if cause.reason not in covered]
    return tuple(sorted(told, key=_place))


def _prompt(cause: Cause) -> Prompt:
    text = PROMPTS[cause.reason]
    urgency = Urgency.SOON if cause.first else text.urgency
    since = f" (first on {day_said(cause.first)})" if cause.first else ""
    sentence = text.sentence.format(when=f"on {all_said(cause.at)}{since}", **cause.facts)
    source = text.source.format(**cause.facts)
    return Prompt(cause.reason, f"{sentence} {CALLS[urgency]}", source, urgency, tuple(sorted(set(cause.at))))


def _place(prompt: Prompt) -> tuple[int, int]:
    return _BY_URGENCY.index(prompt.urgency), _IN_ORDER.index(prompt.reason)
