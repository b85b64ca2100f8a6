"""When to tell the provider: from what a nurse entered and from the series of a wound, never from a photo's pixels.

A prompt says what was entered or measured, when, and how soon to tell the provider. It names no disease and takes no
decision, and a facility's policy comes before it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from measure.days import moments_said, said
from measure.escalation.course_causes import Course, course_causes
from measure.escalation.drain_causes import drain_causes
from measure.escalation.heard import heard
from measure.escalation.sign_causes import sign_causes
from measure.escalation.texts import CALLS, PROMPTS, Cause, Urgency
from measure.record.entries import Status, VisitEntry, WoundEntry

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
        A short stable name, one of `measure.escalation.texts.PROMPTS`.
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
        To this wound, in any order. What was entered stands for `measure.escalation.heard.STANDS` before the newest
        visit, unless it is entered anew, or it was recorded at an earlier visit what was done about it.
    trend : Trend, optional
        What the series says, as of `measure.trend.trend.trend`.

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
    done = _done(visits)
    untold: dict[str, list[Cause]] = {}
    for cause in causes:
        if cause.reason not in covered and not done(cause):
            untold.setdefault(cause.reason, []).append(cause)
    return tuple(sorted(map(_prompt, untold.values()), key=_place))


def _done(visits: Sequence[VisitEntry]) -> Callable[[Cause], bool]:
    """Return whether it was recorded, at a visit before the newest one, what was done about a cause as old as that."""
    earlier = sorted(visits, key=lambda visit: visit.at)[:-1]
    done = {answer.reason: visit.at for visit in earlier for answer in visit.answers}
    return lambda cause: cause.reason in done and max(cause.at) <= done[cause.reason]


def _prompt(causes: Sequence[Cause]) -> Prompt:
    """Make one prompt of what has the same reason, as of two drains."""
    reason = causes[0].reason
    text = PROMPTS[reason]
    urgency = Urgency.SOON if all(cause.first for cause in causes) else text.urgency
    sentences = " ".join(map(_sentence, causes))
    source = text.source.format(**causes[0].facts)
    at = tuple(sorted({at for cause in causes for at in cause.at}))
    return Prompt(reason, f"{sentences} {CALLS[urgency]}", source, urgency, at)


def _sentence(cause: Cause) -> str:
    since = f" (first on {said(cause.first)})" if cause.first else ""
    return PROMPTS[cause.reason].sentence.format(when=f"on {moments_said(cause.at)}{since}", **cause.facts)


def _place(prompt: Prompt) -> tuple[int, int]:
    return _BY_URGENCY.index(prompt.urgency), _IN_ORDER.index(prompt.reason)
