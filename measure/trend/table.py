"""A series as a table: what was measured at each visit, and what changed since the one before."""

import csv
import io
import math
from collections.abc import Iterator

from measure.days import said
from measure.hatching import LOOKS
from measure.spreadsheet import harmless
from measure.trend.course import Step, Trend
from measure.trend.series import Point
from measure.uncertainty import Quantity

_MEASURED = ("area", "perimeter", "length", "width", "length_x_width", "ellipse")


def table(trend: Trend) -> list[dict[str, str]]:
    """Return a row for each point, the newest first, in words to be read on a page."""
    steps = {id(step.later): step for step in trend.steps}
    return [_row(point, steps.get(id(point)), trend) for point in reversed(trend.series.points)]


def trend_csv(trend: Trend) -> str:
    """Return the numbers as a file for a spreadsheet: U for k = 2, cm and cm2; what isn't known is empty."""
    file = io.StringIO()
    writer = csv.writer(file)
    names = [f"{name}_{'cm2' if name in {'area', 'length_x_width', 'ellipse'} else 'cm'}" for name in _MEASURED]
    tissue = [f"{name}_percent" for name in LOOKS]
    writer.writerow(["at", "by", "healed", "convention", *_doubled(names), *_doubled(tissue), "depth_cm"])
    for point in trend.series.points:
        writer.writerow([point.at.isoformat(), harmless(point.by), point.healed, point.convention, *_numbers(point)])
    return file.getvalue()


def _doubled(names: list[str]) -> Iterator[str]:
    for name in names:
        yield from (name, f"{name}_U")


def _numbers(point: Point) -> Iterator[str]:
    for name in _MEASURED:
        quantity: Quantity = getattr(point, name)
        yield from (_number(quantity.value), _number(quantity.expanded_uncertainty))
    for name in LOOKS:
        share = (point.tissue or {}).get(name)
        yield from (_number(share.percent), _number(share.expanded_uncertainty)) if share else ("", "")
    yield "" if point.depth_cm is None else _number(point.depth_cm)


def _number(value: float) -> str:
    return f"{value:.6g}" if math.isfinite(value) else ""


def _row(point: Point, step: Step | None, trend: Trend) -> dict[str, str]:
    if point.healed:
        return dict.fromkeys(("Area", "Length x width", "Perimeter", "Tissue", "Depth"), "") | {
            "Date": said(point.at),
            "Area": "healed",
            "What changed": "recorded as healed",
        }
    return {
        "Area": _shown(point.area, "cm²"),
        "Length x width": f"{point.length.value:.1f} x {point.width.value:.1f} cm",
        "Perimeter": _shown(point.perimeter, "cm"),
        "Tissue": _tissue(point),
        "Depth": "" if point.depth_cm is None else f"{point.depth_cm:.1f} cm",
        "Date": said(point.at),
        "What changed": "; ".join(_changes(point, step, trend)),
    }


def _shown(quantity: Quantity, unit: str) -> str:
    spread = quantity.expanded_uncertainty
    return f"{quantity.value:.2f} ± {spread:.2f} {unit}" if math.isfinite(spread) else f"{quantity.value:.2f} {unit}"


def _tissue(point: Point) -> str:
    told = [(LOOKS[name].word.lower(), share.percent) for name, share in (point.tissue or {}).items() if name in LOOKS]
    return ", ".join(f"{word} {percent:.0f} %" for word, percent in told if round(percent))


def _changes(point: Point, step: Step | None, trend: Trend) -> Iterator[str]:
    if step:
        yield f"area {step.area.difference:+.2f} cm², {step.area.words}"
        for name, change in step.tissue.items():
            if change.larger:
                yield f"{name} {change.difference:+.0f} points"
    yield from (f"length and width now {each.after}" for each in trend.breaks if each.at == point.at)
    yield from (f"after {gap.days} days without a visit" for gap in trend.gaps if gap.end == point.at)
