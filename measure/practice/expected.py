"""Which findings are expected at each visit, and at how many visits each was not said."""

from collections.abc import Collection, Mapping
from types import MappingProxyType

from measure.practice.share import Share, share_of
from measure.record.practice import PracticeVisit

SETTING = "expected_findings"
"""Of the site: a list of names of findings."""

FINDINGS: Mapping[str, str] = MappingProxyType(
    {
        "depth_cm": "depth",
        "undermining": "undermining",
        "tunnels": "tunnels",
        "exudate": "exudate",
        "odour": "odour",
        "edges": "edges",
        "skin": "surrounding skin",
        "pain": "pain",
        "signs": "signs to act on",
        "dressing": "dressing",
    }
)
"""Those that any wound can be asked about, with their words; others belong to some wounds only."""

EXPECTED = ("depth_cm", "exudate", "odour", "edges", "skin", "pain", "signs", "dressing")
"""Findings that an assessment usually holds (common practice); what a facility expects goes before it."""


def expected(said: object) -> tuple[str, ...]:
    """Return what a site's setting names, in the order of `FINDINGS`; `EXPECTED` where it names nothing known."""
    names = [name for name in FINDINGS if name in said] if isinstance(said, list) else []
    return tuple(names) or EXPECTED


def missing(visits: Collection[PracticeVisit], names: Collection[str] = EXPECTED) -> dict[str, Share]:
    """Return at how many visits each expected finding was not said."""
    return {name: share_of(name not in visit.found for visit in visits) for name in names}
