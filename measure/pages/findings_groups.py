"""The groups of questions in the order of the bedside, each with what is said on its label."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from measure.findings.edges import EDGES
from measure.findings.findings import Findings
from measure.findings.pain import ENDS
from measure.findings.ruler import by_ruler
from measure.findings.signs import SIGNS
from measure.findings.sizes import Tunnel, Undermining
from measure.findings.skin import SKIN
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_closures import ask_closures, closures_said, has_closures
from measure.pages.findings_culture import ask_culture, culture_said
from measure.pages.findings_drains import ask_drains, drains_said
from measure.pages.findings_dressing import ask_dressing, dressing_said
from measure.pages.findings_exudate import ask_exudate, ask_odour, exudate_said, odour_said
from measure.pages.findings_foot import ask_foot, foot_said, has_foot
from measure.pages.findings_irrigation import ask_irrigation, irrigation_said
from measure.pages.findings_pain import ask_pain, pain_said
from measure.pages.findings_ruler import ask_ruler, ruler_length_said, ruler_width_said
from measure.pages.findings_signs import ask_signs, signs_said
from measure.pages.findings_sizes import ask_sizes, depth_said, tunnels_said, undermining_said
from measure.pages.findings_skin import ask_edges, ask_skin, edges_said, skin_said
from measure.record.entries import WoundEntry

Reader = Callable[[Answers], Any]


@dataclass(frozen=True)
class Group:
    """Questions that belong together.

    Attributes
    ----------
    title : str
    ask : callable
        Draws the questions.
    said : mapping from names of findings to callables
        Each returns what the answers say, None where nobody said, or raises FindingError.
    words : callable
        Returns what findings say of the group in one line, empty where nobody said.
    asked_of : callable
        Whether a wound is asked about it unless a person opens it.
    """

    title: str
    ask: Callable[[Bedside], None]
    said: Mapping[str, Reader]
    words: Callable[[Findings], str]
    asked_of: Callable[[WoundEntry], bool] = lambda _: True


def _sizes(findings: Findings) -> str:
    depth = [] if findings.depth_cm is None else [f"depth {findings.depth_cm:g} cm"]
    hollows = _on_the_clock("undermining", "no undermining", findings.undermining)
    ways = _on_the_clock("tunnel", "no tunnels", findings.tunnels)
    return "; ".join([*depth, *hollows, *ways])


def _on_the_clock(one: str, none: str, found: Iterable[Undermining | Tunnel] | None) -> list[str]:
    if found is None:
        return []
    return [f"{one} {each}" for each in found] or [none]


def _exudate(findings: Findings) -> str:
    exudate = findings.exudate
    return ", ".join(filter(None, (exudate.amount, exudate.kind))) if exudate else ""


def _pain(findings: Findings) -> str:
    if findings.pain is None:
        return ""
    return f"{findings.pain} of {max(ENDS)}"


def _signs(findings: Findings) -> str:
    """Name the signs that are there; those that were asked and are not there are counted."""
    there = [SIGNS[name].word for name, yes in findings.signs.items() if yes]
    absent = len(findings.signs) - len(there)
    if not there:
        return f"none of {absent} asked" if absent else ""
    return f"yes: {', '.join(there)}" + (f"; no: {absent}" if absent else "")


def _drains(findings: Findings) -> str:
    if findings.drains is None:
        return ""
    return "; ".join(str(drain).removeprefix("drain ") for drain in findings.drains) or "none"


def _culture(findings: Findings) -> str:
    return str(findings.culture).removeprefix("culture").strip() if findings.culture else ""


def _irrigation(findings: Findings) -> str:
    return str(findings.irrigation).removeprefix("irrigated with ") if findings.irrigation else ""


def _words(names: Iterable[str] | None, table: Mapping[str, Any]) -> str:
    return ", ".join(table[name].word for name in names or ())


GROUPS = (
    Group(
        "Below the surface",
        ask_sizes,
        {"depth_cm": depth_said, "undermining": undermining_said, "tunnels": tunnels_said},
        _sizes,
    ),
    Group("Exudate", ask_exudate, {"exudate": exudate_said}, _exudate),
    Group("Odour", ask_odour, {"odour": odour_said}, lambda findings: findings.odour or ""),
    Group("Edges", ask_edges, {"edges": edges_said}, lambda findings: _words(findings.edges, EDGES)),
    Group("Surrounding skin", ask_skin, {"skin": skin_said}, lambda findings: _words(findings.skin, SKIN)),
    Group("Pain", ask_pain, {"pain": pain_said}, _pain),
    Group("Signs to act on", ask_signs, {"signs": signs_said}, _signs),
    Group(
        "Closures",
        ask_closures,
        {"closures": closures_said},
        lambda findings: str(findings.closures or ""),
        has_closures,
    ),
    Group("Drains", ask_drains, {"drains": drains_said}, _drains),
    Group("Culture", ask_culture, {"culture": culture_said}, _culture),
    Group("Irrigation", ask_irrigation, {"irrigation": irrigation_said}, _irrigation),
    Group("Dressing", ask_dressing, {"dressing": dressing_said}, lambda findings: str(findings.dressing or "")),
    Group("Foot and teaching", ask_foot, {"foot": foot_said}, lambda findings: str(findings.foot or ""), has_foot),
    Group(
        "Size by ruler",
        ask_ruler,
        {"ruler_length_cm": ruler_length_said, "ruler_width_cm": ruler_width_said},
        lambda findings: by_ruler(findings.ruler_length_cm, findings.ruler_width_cm),
        lambda _: False,
    ),
)
"""In the order in which a wound is looked at."""
