"""What a series says of the area, in one sentence that anybody understands."""

import math

from measure.days import said
from measure.trend.change import Change
from measure.trend.estimate import Estimate
from measure.trend.series import Point, Series
from measure.uncertainty import Quantity

_DOUBLED = 100.0
"""Percent of growth from which both areas tell more than a percentage, whose uncertainty grows with it."""


def sentence(series: Series, reduced: Estimate | None, change: Change | None) -> str:
    """Say what the traced area did since the first measurement, and whether that is more than noise."""
    first, last = series.baseline, series.latest
    if first is None:
        return _no_area(series)
    if last is None or reduced is None or change is None:
        return f"Measured once, on {said(first.at)}: {shown_area(first.area)}. A trend needs a second measurement."
    since = f"Since {said(first.at, last.at)} the traced area went from "
    if last.healed:
        return f"{since}{area(first.area)} cm² to nothing: the wound is recorded as healed on {said(last.at)}."
    if reduced.value <= -_DOUBLED:
        return f"{since}{_both(first, last)} cm²: the increase is {change.words}."
    return f"{since}{_both(first, last)} cm²: {_percent(reduced)}; {change.words}."


def edge_words(weekly: Estimate) -> str:
    """Say how far the edge moves in a week, inward or outward; empty where no time has passed.

    Parameters
    ----------
    weekly : Estimate
        In cm a week; less than 0 where the wound grows.
    """
    mm, spread = 10 * weekly.value, 10 * weekly.expanded_uncertainty
    if not math.isfinite(mm):
        return ""
    beside = f"± {spread:.1f} mm" if math.isfinite(spread) else "mm (uncertainty not known)"
    if abs(mm) <= spread:
        return f"On average the edge did not move by more than its uncertainty: {mm:+.1f} {beside} a week, + is inward."
    way = "inward" if mm > 0 else "outward"
    return f"The edge moved {way} by {abs(mm):.1f} {beside} a week on average."


def area(quantity: Quantity, decimals: int | None = None) -> str:
    """Return an area as a number: one decimal, or two where it is less than 1 cm2."""
    return f"{quantity.value:.{_decimals(quantity) if decimals is None else decimals}f}"


def shown_area(quantity: Quantity) -> str:
    """Return an area with its expanded uncertainty."""
    decimals = max(_decimals(quantity), 1 if quantity.expanded_uncertainty >= 0.1 else 2)
    spread = quantity.expanded_uncertainty
    beside = f"± {spread:.{decimals}f} cm² (k = 2)" if math.isfinite(spread) else "cm², uncertainty not known"
    return f"{area(quantity, decimals)} {beside}"


def _decimals(quantity: Quantity) -> int:
    return 1 if quantity.value >= 1 else 2


def _both(first: Point, last: Point) -> str:
    decimals = max(_decimals(first.area), _decimals(last.area))
    return f"{area(first.area, decimals)} to {area(last.area, decimals)}"


def _percent(reduced: Estimate) -> str:
    direction = "less" if reduced.value >= 0 else "more"
    spread = reduced.expanded_uncertainty
    beside = f"± {spread:.0f} points" if math.isfinite(spread) else "uncertainty not known"
    return f"{abs(reduced.value):.0f} % {direction}, {beside}"


def _no_area(series: Series) -> str:
    if series.current:
        return f"The wound is recorded as healed on {said(series.current[-1].at)}; no area was measured before."
    if series.points:
        return "No area is measured since the wound opened again; what was measured before is in the picture."
    return "No area is measured yet; a trend needs two measurements."
