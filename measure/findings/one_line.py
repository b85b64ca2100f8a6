"""A visit in one line of text, to be copied into a chart."""

from collections.abc import Iterator, Mapping
from typing import Any

from measure.findings.edges import EDGES
from measure.findings.findings import Findings
from measure.findings.ruler import by_ruler
from measure.findings.signs import SIGNS
from measure.findings.sizes import on_the_clock
from measure.findings.skin import SKIN
from measure.record.entries import MeasurementEntry, WoundEntry
from measure.uncertainty import COVERAGE_FACTOR


def one_line(wound: WoundEntry, findings: Findings, measurement: MeasurementEntry | None = None) -> str:
    """Say what was measured and found, in the order in which charts ask for it; what nobody said is left out.

    Parameters
    ----------
    wound : WoundEntry
    findings : Findings
    measurement : MeasurementEntry, optional

    Returns
    -------
    str
        Plain text without a line break: ``Wound 2, left heel: 3.20 x 2.10 cm (head-to-toe); ...``.
    """
    told = "; ".join((*_measured(measurement), *_sizes(findings, wound), *_bedside(findings), *_done(findings)))
    return f"Wound {wound.number}, {wound.site}: {told or 'nothing recorded'}."


def _measured(measurement: MeasurementEntry | None) -> Iterator[str]:
    if measurement is None:
        return
    measured = measurement.wound
    length, width, area = (_value(measured, name) for name in ("length_cm", "width_cm", "area_cm2"))
    if length is not None and width is not None:
        yield f"{length:.2f} x {width:.2f} cm ({measurement.convention})"
    if area is not None:
        spread = measured["area_cm2"].get("standard_uncertainty")
        sure = "" if spread is None else f" +- {COVERAGE_FACTOR * spread:.2f}"
        yield f"{area:.2f}{sure} cm2 {_drawn(measurement)}" + (f" (k = {COVERAGE_FACTOR:g})" if sure else "")


def _drawn(measurement: MeasurementEntry) -> str:
    """Say who drew the outline."""
    if measurement.wound.get("source") == "given":
        return "traced"
    checked = (measurement.document.get("editing") or {}).get("checked")
    return "by the computer's outline, checked" if checked else "by the computer's outline"


def _value(measured: Mapping[str, Any], name: str) -> float | None:
    quantity = measured.get(name) or {}
    value: float | None = quantity.get("value")
    return value


def _sizes(findings: Findings, wound: WoundEntry) -> Iterator[str]:
    if ruler := by_ruler(findings.ruler_length_cm, findings.ruler_width_cm):
        yield f"by ruler {ruler}"
    if findings.depth_cm is not None:
        yield f"depth {findings.depth_cm:g} cm"
    if findings.undermining is not None:
        yield f"undermining {on_the_clock(findings.undermining, wound.site)}"
    if findings.tunnels is not None:
        yield f"tunnels {on_the_clock(findings.tunnels, wound.site)}"


def _bedside(findings: Findings) -> Iterator[str]:
    if findings.exudate is not None:
        yield f"exudate {findings.exudate}"
    if findings.odour is not None:
        yield f"odour {findings.odour}"
    if findings.edges:
        yield f"edges {', '.join(EDGES[name].word for name in findings.edges)}"
    if findings.skin:
        yield f"surrounding skin {', '.join(SKIN[name].word for name in findings.skin)}"
    if findings.pain is not None:
        yield f"pain {findings.pain}/10"
    for answer, what in ((True, "yes"), (False, "no")):
        names = [SIGNS[name].word for name, said in findings.signs.items() if said is answer]
        if names:
            yield f"{what} to {', '.join(names)}"


def _done(findings: Findings) -> Iterator[str]:
    told = (findings.closures, *(findings.drains or ()), findings.culture, findings.irrigation, findings.dressing)
    yield from (str(each) for each in (*told, findings.foot) if each is not None and str(each))
