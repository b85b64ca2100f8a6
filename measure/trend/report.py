"""What is said of a series, as a JSON document or as text; the document is a contract (see DEVELOPERS.md)."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

from measure.days import said
from measure.report import shown
from measure.rounding import rounded
from measure.trend.change import Change
from measure.trend.course import Step, Trend
from measure.trend.decay import AHEAD_DAYS, Decay
from measure.trend.estimate import Estimate
from measure.trend.gaps import Break, Gap
from measure.trend.linear_advance import Advance
from measure.trend.references import Reference
from measure.trend.series import Point
from measure.trend.stalled import Stalled
from measure.uncertainty import Quantity

Document = dict[str, Any]


def trend_document(trend: Trend) -> Document:
    """Return the JSON document of one wound's series: cm and cm2, NaN as null, instants in ISO 8601."""
    wound = trend.series.wound
    return {
        "wound": wound.key,
        "site": str(wound.site),
        "kind": str(wound.kind),
        "status": str(wound.status),
        "visits": len(trend.series.visits),
        "sentence": trend.sentence,
        "points": [_point(point) for point in trend.series.points],
        "baseline": trend.series.baseline.at.isoformat() if trend.series.baseline else None,
        "percentage_area_reduction": _estimate(trend.percentage_area_reduction),
        "linear_advance": _advance(trend.linear_advance),
        "area_change": trend.change and _change(trend.change),
        "exponential": _exponential(trend.exponential),
        "no_exponential": trend.no_exponential or None,
        "references": [_reference(each) for each in trend.references],
        "steps": [_step(step) for step in trend.steps],
        "convention_breaks": [_break(each) for each in trend.breaks],
        "gaps": [_gap(gap) for gap in trend.gaps],
        "stalled": _stalled(trend.stalled),
    }


def trend_summary(trend: Trend) -> str:
    """Return what a series says as lines to read in a terminal."""
    wound = trend.series.wound
    lines = [f"{wound.key}  {wound}, {wound.kind}", f"  {trend.sentence}"]
    lines += [f"    {said(point.at):<20}{_in_a_line(point)}" for point in trend.series.points]
    lines += [f"  {line}" for line in _numbers(trend)]
    lines += [f"  {each.figure}: {each.sentence} ({each.source})" for each in trend.references]
    lines += [f"  {trend.stalled.reason}"] if trend.percentage_area_reduction else []
    lines += [f"  ! {each.sentence}" for each in trend.breaks] + [f"  ! {each.sentence}" for each in trend.gaps]
    return "\n".join(line.replace("cm²", "cm2").replace("±", "+-") for line in lines)


def expectation(decay: Decay) -> str:
    """Say how fast an area shrinks by its rate, and what that lets expect."""
    low, high = decay.half_life_interval
    until = decay.last + timedelta(days=AHEAD_DAYS)
    least, most = decay.interval_cm2(until)
    return (
        f"At the rate so far the area halves in {decay.half_life_weeks:.1f} weeks ({low:.1f} to {high:.1f}). If it "
        f"goes on so, {least:.1f} to {most:.1f} cm² would be measured on {said(until)} (95 %)."
    )


def _in_a_line(point: Point) -> str:
    if point.healed:
        return "recorded as healed"
    extents = f"{point.length.value:.1f} x {point.width.value:.1f} cm, {point.convention}"
    return f"{shown(point.area)}, {extents}"


def _numbers(trend: Trend) -> Iterator[str]:
    reduced, advance = trend.percentage_area_reduction, trend.linear_advance
    if reduced is None or advance is None:
        return
    yield f"percentage area reduction {reduced.value:.1f} +- {reduced.expanded_uncertainty:.1f} % (k = 2)"
    total, weekly = advance.total, advance.per_week
    yield (
        f"linear advance of the edge {total.value:.2f} +- {total.expanded_uncertainty:.2f} cm, "
        f"{weekly.value:.3f} +- {weekly.expanded_uncertainty:.3f} cm a week (k = 2)"
    )
    yield expectation(trend.exponential) if trend.exponential else f"no weekly rate: {trend.no_exponential}"


def _point(point: Point) -> Document:
    return {
        "at": point.at.isoformat(),
        "by": point.by,
        "visit": point.visit.id if point.visit else None,
        "healed": point.healed,
        "method": point.method,
        "convention": point.convention or None,
        "area_cm2": _quantity(point.area),
        "perimeter_cm": _quantity(point.perimeter),
        "length_cm": _quantity(point.length),
        "width_cm": _quantity(point.width),
        "length_x_width_cm2": _quantity(point.length_x_width),
        "ellipse_cm2": _quantity(point.ellipse),
        "tissue": point.tissue
        and {
            name: {"percent": rounded(share.percent), "standard_uncertainty": rounded(share.standard_uncertainty)}
            for name, share in point.tissue.items()
        },
        "depth_cm": point.depth_cm,
    }


def _quantity(quantity: Quantity) -> Document:
    return {
        "value": rounded(quantity.value),
        "standard_uncertainty": rounded(quantity.standard_uncertainty),
        "components": {name: rounded(share) for name, share in quantity.components.items()},
    }


def _estimate(estimate: Estimate | None) -> Document | None:
    if estimate is None:
        return None
    return {
        "value": rounded(estimate.value),
        "unit": estimate.unit,
        "standard_uncertainty": rounded(estimate.standard_uncertainty),
    }


def _advance(advance: Advance | None) -> Document | None:
    if advance is None:
        return None
    return {
        "total": _estimate(advance.total),
        "per_week": _estimate(advance.per_week),
        "weeks": rounded(advance.weeks),
    }


def _change(change: Change) -> Document:
    return {
        "difference": rounded(change.difference),
        "unit": change.unit,
        "smallest_detectable": rounded(change.smallest),
        "source": change.source,
        "larger": change.larger,
        "words": change.words,
    }


def _exponential(decay: Decay | None) -> Document | None:
    if decay is None:
        return None
    until = decay.last + timedelta(days=AHEAD_DAYS)
    return {
        "points": decay.points,
        "rate_per_week": rounded(decay.per_week),
        "rate_interval_95": _interval(decay.per_week_interval),
        "half_life_weeks": rounded(decay.half_life_weeks),
        "half_life_interval_95": _interval(decay.half_life_interval),
        "scatter_relative": rounded(decay.scatter),
        "prediction": {
            "at": until.isoformat(),
            "area_cm2": rounded(decay.area_cm2(until)),
            "interval_95": _interval(decay.interval_cm2(until)),
        },
        "sentence": expectation(decay),
    }


def _interval(limits: tuple[float, float]) -> list[float | None]:
    return [rounded(limit) for limit in limits]


def _reference(reference: Reference) -> Document:
    return {
        "weeks": reference.weeks,
        "percent": [reference.low, reference.high],
        "sentence": reference.sentence,
        "source": reference.source,
    }


def _step(step: Step) -> Document:
    tissue: Mapping[str, Change] = step.tissue
    return {
        "from": step.earlier.at.isoformat(),
        "to": step.later.at.isoformat(),
        "area": _change(step.area),
        "length_x_width": step.length_x_width and _change(step.length_x_width),
        "tissue": {name: _change(change) for name, change in tissue.items()},
    }


def _break(found: Break) -> Document:
    return {"at": found.at.isoformat(), "before": found.before, "after": found.after, "sentence": found.sentence}


def _gap(gap: Gap) -> Document:
    return {"from": gap.start.isoformat(), "to": gap.end.isoformat(), "days": gap.days, "sentence": gap.sentence}


def _stalled(found: Stalled) -> Document:
    return {
        "clearly": found.clearly,
        "reason": found.reason,
        "reduction": _estimate(found.reduction),
        "figure_percent": found.reference.low if found.reference else None,
        "source": found.reference.source if found.reference else None,
    }
