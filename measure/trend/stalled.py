"""Whether a wound is clearly behind the published figure for its kind at four weeks: for a second look, no verdict."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measure.days import days_between
from measure.record.entries import Kind
from measure.trend.estimate import Estimate
from measure.trend.reduction import reduction
from measure.trend.references import Reference, references
from measure.trend.series import Point

WEEKS = 4
_DAYS, _NEAR = 7.0 * WEEKS, 7.0
"""A measurement up to a week from the four stands for them: dressings are not changed on a given day."""


@dataclass(frozen=True)
class Stalled:
    """Whether a wound is clearly behind, and why that is or isn't said.

    It is only where the whole interval (k = 2) of the reduction lies below the figure, at four weeks and at the newest
    visit: what may be noise of measuring calls nobody, and neither does what has caught up since.

    Attributes
    ----------
    clearly : bool
    reason : str
        A sentence.
    reduction : Estimate, optional
        At four weeks, in percent; None where nothing was measured then.
    reference : Reference, optional
        What it was compared with; None where nothing is known for the kind.
    """

    clearly: bool
    reason: str
    reduction: Estimate | None = None
    reference: Reference | None = None

    def __bool__(self) -> bool:
        return self.clearly


def stalled(points: Sequence[Point], kind: Kind) -> Stalled:
    """Compare the current points of a wound, oldest first and from its baseline on, with the figure for its kind."""
    reference = next((each for each in references(kind) if each.weeks == WEEKS), None)
    if reference is None:
        reason = f"For this kind of wound ({kind}) there is no published figure here to compare four weeks with."
        return Stalled(clearly=False, reason=reason)
    if len(points) < 2 or days_between(points[0].at, points[-1].at) < _DAYS - _NEAR:
        reason = "Four weeks have not passed since the first measurement."
        return Stalled(clearly=False, reason=reason, reference=reference)
    after = {abs(days_between(points[0].at, point.at) - _DAYS): point for point in reversed(points[1:])}
    if min(after) > _NEAR:
        reason = "Nothing was measured within a week of four weeks after the first measurement."
        return Stalled(clearly=False, reason=reason, reference=reference)
    then, now = (reduction(points[0].area, point.area) for point in (after[min(after)], points[-1]))
    clearly = _below(then, reference) and _below(now, reference)
    return Stalled(clearly, _sentence(then, now, reference), then, reference)


def _below(found: Estimate, reference: Reference) -> bool:
    """Whether all of an interval lies below the lower figure; False where the uncertainty is not known."""
    return found.value + found.expanded_uncertainty < reference.low


def _sentence(then: Estimate, now: Estimate, reference: Reference) -> str:
    figure = f"the {reference.low:.0f} % of {reference.source}"
    found = f"In {WEEKS} weeks the area became {percent(then)}"
    if not math.isfinite(then.expanded_uncertainty):
        return f"{found}; without its uncertainty that is not compared with {figure}."
    if _below(then, reference):
        caught_up = "" if _below(now, reference) else f" By now it is {percent(now)}."
        return f"{found}: less than {figure}.{caught_up}"
    if then.value < reference.low:
        return f"{found}: that may be less than {figure}, but not by more than it is uncertain."
    return f"{found}: not less than {figure}."


def percent(found: Estimate) -> str:
    """Say a reduction: ``38 % smaller, ± 11 points``, or how much larger."""
    direction = "smaller" if found.value >= 0 else "larger"
    spread = found.expanded_uncertainty
    beside = f"± {spread:.0f} points" if math.isfinite(spread) else "uncertainty not known"
    return f"{abs(found.value):.0f} % {direction} ({beside})"
