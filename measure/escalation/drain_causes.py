"""What changed at a drain that the provider should be told. No rule here says when a drain may be removed."""

from collections.abc import Iterator

from measure.escalation.heard import Heard
from measure.escalation.texts import Cause
from measure.findings.drain_totals import WINDOW_H, rate, readings_of
from measure.findings.drains import APPEARANCES

RISE = 2.0
"""Times the output of the 24 hours before: a drain gives less from day to day, not twice as much (common practice)."""

FALL = 4.0
"""A fall to one part in so many: half from one day to the next is usual, a drain that is blocked gives next to nothing
(common practice)."""

READ_ML = 5.0
"""By which an amount may be read wrongly off a measuring cup: its lines lie 5 mL apart (common practice)."""

_HOUR = 3600.0  # s
_TURNED = frozenset({"purulent", "bilious", "enteric"})


def drain_causes(heard: Heard) -> Iterator[Cause]:
    """Yield what was entered of drains lately that the provider should be told."""
    for label in heard.drains:
        yield from _fluid(heard, label)
        yield from _output(heard, label)
        suction = heard.drain(label, "suction_restored")
        if suction and suction.value is False:
            yield Cause("drain-suction", (suction.at,), {"label": label})


def _fluid(heard: Heard, label: str) -> Iterator[Cause]:
    fluid = heard.drain(label, "appearance")
    if fluid is None or fluid.value == fluid.before:
        return
    before = APPEARANCES[fluid.before].word if fluid.before else ""
    if fluid.value == "sanguineous" and before:
        yield Cause("drain-turned-bloody", (fluid.at,), {"label": label, "before": before})
    if fluid.value in _TURNED:
        told = f"the time before, it was {before}" if before else "nothing was entered of it before"
        facts = {"label": label, "now": APPEARANCES[fluid.value].word, "before": told}
        yield Cause("drain-fluid", (fluid.at,), facts)


def _output(heard: Heard, label: str) -> Iterator[Cause]:
    """Compare the rate of the newest reading with that of the 24 hours before it began."""
    readings = readings_of(heard.findings, label)
    if len(readings) < 2 or not heard.lately(readings[-1].emptied_at):
        return
    last, before_it = readings[-1], readings[-2].emptied_at
    since = max(last.since or before_it, before_it)
    hours = (last.emptied_at - since).total_seconds() / _HOUR
    now, before = last.ml / hours * WINDOW_H, rate(readings[:-1], since)
    doubt = READ_ML * WINDOW_H * (1 / hours + 1 / max(before.hours_covered, 1.0))
    if not abs(now - before.ml_per_24h) > doubt:  # NaN too
        return
    facts = {"label": label, "now": now, "before": before.ml_per_24h}
    if now >= RISE * before.ml_per_24h:
        yield Cause("drain-output-up", (last.emptied_at,), facts | {"times": RISE})
    elif now <= before.ml_per_24h / FALL:
        yield Cause("drain-output-down", (last.emptied_at,), facts | {"times": FALL})
