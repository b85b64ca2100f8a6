"""Invented: a venous leg ulcer that heals under compression, its edge moving in by about a millimetre a week."""

from dataclasses import dataclass
from datetime import date, timedelta

from measure.demo.course import Course, Look, Seen, moment
from measure.findings.dressing import Dressing
from measure.findings.exudate import Exudate
from measure.findings.findings import Findings
from measure.record.entries import Kind, Side, Site
from measure.rendering import Skin, Wound

_FIRST_DAYS = 73  # before today, ten weeks before the last visit
_NURSE, _OTHER = "KT", "MO"
_SIGNS = {"spreading redness": False, "pus": False, "fever": False}


@dataclass(frozen=True)
class _Week:
    week: int
    advance_mm: float
    slough: float
    epithelial: float
    exudate: Exudate
    pain: int
    applied: str
    note: str = ""


_WEEKS = (
    _Week(0, 0.0, 0.38, 0.05, Exudate("large", "serous"), 5, "gelling fibre, compression",
          "First visit. Leg measured, compression started as ordered."),
    _Week(1, 0.9, 0.30, 0.07, Exudate("moderate", "serous"), 4, "gelling fibre, compression"),
    _Week(2, 2.0, 0.22, 0.09, Exudate("moderate", "serous"), 3, "gelling fibre, compression",
          "Bandage kept on all week; says the leg feels lighter."),
    _Week(3, 3.2, 0.16, 0.11, Exudate("small", "serous"), 3, "foam, compression"),
    _Week(4, 4.4, 0.10, 0.14, Exudate("small", "serous"), 2, "foam, compression"),
    _Week(5, 5.5, 0.06, 0.18, Exudate("small", "serous"), 1, "foam, compression"),
    _Week(6, 6.6, 0.03, 0.24, Exudate("scant", "serous"), 1, "foam, compression"),
    _Week(7, 7.7, 0.0, 0.35, Exudate("scant", "serous"), 0, "contact layer, compression",
          "Only a narrow strip is left open."),
)  # fmt: skip


def leg(today: date) -> Course:
    """Return the course of the leg ulcer, its last visit some days before a day."""
    first = today - timedelta(days=_FIRST_DAYS)
    opened = tuple(_open(first, week) for week in _WEEKS)
    return Course(
        "P101",
        Site(Side.LEFT, "lower leg", "medial"),
        Kind.VENOUS_LEG,
        "Leg clinic",
        first - timedelta(days=58),
        Skin(ita_deg=38, body="shin", veins=0.7, hair=0.15, body_at_mm=(6.0, -3.0)),
        ("corner", "strip", "tile"),
        (*opened, *_closed(first)),
        healed=True,
        seed=1101,
    )


def _open(first: date, week: _Week) -> Seen:
    at = moment(first, 7 * week.week, "09:40" if week.week % 2 else "10:15")
    wound = Wound(
        "blob",
        34,
        23,
        turn_deg=12,
        tissue={
            "granulation": 1 - week.slough - week.epithelial,
            "slough": week.slough,
            "epithelial": week.epithelial,
        },
        redness=0.6 - 0.06 * week.week,
        maceration=0.5 - 0.06 * week.week,
        moisture=0.8 - 0.06 * week.week,
        shape_seed=17,
        advance_mm=week.advance_mm,
    )
    edges = ("distinct", "attached") if week.week < 2 else ("attached", "new skin")
    skin = ("stained", "swollen", "macerated") if week.week < 2 else ("stained", "dry")
    findings = Findings(
        depth_cm=round(max(0.3 - 0.05 * week.week, 0.1), 1),
        exudate=week.exudate,
        odour="slight" if week.week == 0 else "none",
        edges=edges,
        skin=skin,
        pain=week.pain,
        signs=_SIGNS,
        dressing=Dressing(week.applied if week.week else "", week.applied, "clean", at.date() + timedelta(days=7)),
    )
    return Seen(at, _OTHER if week.week in {3, 6} else _NURSE, Look(wound), findings, week.note)


def _closed(first: date) -> tuple[Seen, ...]:
    """Return the two visits, two weeks apart, that found new skin all over."""
    new = Wound("blob", 17, 8, turn_deg=12, tissue={"epithelial": 1.0}, redness=0.15, maceration=0, moisture=0,
                shape_seed=17)  # fmt: skip
    findings = Findings(
        exudate=Exudate("none"), odour="none", skin=("stained", "dry"), pain=0, signs=_SIGNS,
        dressing=Dressing("contact layer, compression", "compression", "clean"),
    )  # fmt: skip
    said = (
        (8, "New skin all over, nothing drains. Look again in two weeks before it counts as healed."),
        (10, "Still closed and dry two weeks on. Fitted with stockings; skin care and stockings taught."),
    )
    return tuple(
        Seen(moment(first, 7 * week, "10:05"), _NURSE, Look(new, measured=False), findings, note) for week, note in said
    )
