"""Invented: a diabetic foot ulcer on a heel that has not changed for weeks by more than measuring scatters."""

from datetime import date, timedelta

from measure.demo.course import Course, Look, Seen, moment
from measure.findings.dressing import Dressing
from measure.findings.exudate import Exudate
from measure.findings.findings import Findings
from measure.findings.foot import Foot
from measure.findings.sizes import Undermining
from measure.record.entries import Kind, Side, Site
from measure.rendering import Skin, Wound

_FIRST_DAYS = 65  # before today, nine weeks before the last visit
_NURSE, _OTHER = "MO", "RB"
_SIGNS = {"spreading redness": False, "pus": False, "fever": False, "exposed bone": False, "cold or pale": False}
_ADVANCE_MM = (0.0, 0.12, -0.08, 0.18, 0.02, -0.14, 0.1, -0.02, -0.1, 0.06)
"""How far the edge has moved since the first visit: to and fro, less than a hand draws it off."""

_TAUGHT = {
    0: ("look daily", "never barefoot", "offloading", "when to call"),
    4: ("offloading", "shoes", "glucose"),
    8: ("offloading", "smoking"),
}
_NOTES = {
    0: "Offloading boot fitted as ordered; to be worn for every step.",
    3: "Takes the boot off at home in the evening, by own account.",
    4: "Four weeks on, no smaller. Told the provider; boot checked, and talked about wearing it at home too.",
    6: "Callus round the edge taken down by the podiatrist before the photo.",
    8: "No smaller in eight weeks. Told the provider; referred to the foot team for a non-removable device.",
}


def heel(today: date) -> Course:
    """Return the course of the heel ulcer, its last visit some days before a day."""
    first = today - timedelta(days=_FIRST_DAYS)
    return Course(
        "P102",
        Site(Side.RIGHT, "heel", "plantar"),
        Kind.DIABETIC_FOOT,
        "Foot clinic",
        first - timedelta(days=35),
        Skin(ita_deg=-32, body="heel", relief=1.3, veins=0.05, body_at_mm=(2.0, 6.0)),
        ("tile", "strip"),
        tuple(_visit(first, week) for week in range(len(_ADVANCE_MM))),
        seed=2203,
    )


def _visit(first: date, week: int) -> Seen:
    at = moment(first, 7 * week, "14:20" if week % 3 else "13:50")
    slough = 0.22 + 0.04 * (week % 3)
    wound = Wound(
        "blob",
        19,
        16,
        turn_deg=35,
        tissue={"granulation": 0.97 - slough, "slough": slough, "epithelial": 0.03},
        redness=0.35,
        maceration=0.5,
        moisture=0.5,
        shape_seed=29,
        advance_mm=_ADVANCE_MM[week],
    )
    foot = Foot("felt", "absent", "alike", "usual", _TAUGHT[week]) if week in _TAUGHT else Foot(pulses="felt")
    findings = Findings(
        depth_cm=0.5 if week in {1, 2, 5} else 0.4,
        undermining=(Undermining(1, 3, 0.4),),
        tunnels=(),
        exudate=Exudate("moderate" if week % 3 else "small", "serosanguineous"),
        odour="none",
        edges=("distinct", "callused", "rolled") if week >= 5 else ("distinct", "callused"),
        skin=("callused", "dry"),
        pain=1,
        signs=_SIGNS,
        dressing=Dressing("foam" if week else "", "foam", "clean", at.date() + timedelta(days=7)),
        foot=foot,
    )
    return Seen(at, _OTHER if week in {2, 7} else _NURSE, Look(wound), findings, _NOTES.get(week, ""))
