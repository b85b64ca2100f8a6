"""Invented: a stapled incision of the belly that comes apart, gets worse, and is reported.

Every other staple is taken out as ordered and the line holds; as more are taken out it separates. The drain, whose
output had fallen, gives more again, and cloudy; there is fever, and redness spreads.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from measure.demo.course import Course, Look, Seen, moment
from measure.findings.closures import Closures
from measure.findings.culture import Culture
from measure.findings.drains import Drain
from measure.findings.dressing import Dressing
from measure.findings.exudate import Exudate
from measure.findings.findings import Findings
from measure.findings.irrigation import Irrigation
from measure.findings.sizes import Tunnel
from measure.record.entries import Kind, Side, Site
from measure.rendering import Seam, Skin, Wound

_OPERATED_DAYS = 25  # before today
_NURSE, _OTHER, _NIGHT = "RB", "KT", "MO"
_STAPLES = 14
_WELL = {"spreading redness": False, "fever": False, "pus": False, "bowel content": False}
_ILL = {"spreading redness": True, "warmth": True, "pus": True, "fever": True, "bowel content": False}
_QUIET = {"spreading redness": False, "fever": False, "pus": True, "exposed organ": False, "bowel content": False}

_CULTURE = Culture(ordered=True, before_antibiotics=True, viable_tissue=True, after_cleansing=True, taken=True)


def _left(*numbers: int) -> tuple[bool, ...]:
    return tuple(number in numbers for number in range(_STAPLES))


_ALL, _EVERY_OTHER, _FOUR = _left(*range(_STAPLES)), _left(*range(1, _STAPLES, 2)), _left(1, 3, 5, 13)
_NONE = _left()


@dataclass(frozen=True)
class _Day:
    """What is seen on a day after the operation; size in mm, redness and its reach along the line."""

    day: int
    clock: str
    staples: tuple[bool, ...]
    size: tuple[float, float] | None = None
    slough: float = 0.0
    redness: float = 0.25
    reach_mm: float = 2.5


_DAYS = (
    _Day(2, "09:30", _ALL, redness=0.35),
    _Day(4, "09:10", _ALL),
    _Day(6, "09:25", _ALL, redness=0.2),
    _Day(8, "10:40", _EVERY_OTHER, redness=0.25),
    _Day(11, "10:10", _FOUR, (17, 5), 0.05, 0.4, 4.0),
    _Day(12, "14:50", _FOUR, (21, 7), 0.20, 0.9, 11.0),
    _Day(14, "09:35", _FOUR, (31, 12), 0.45, 0.8, 10.0),
    _Day(17, "09:15", _NONE, (42, 17), 0.50, 0.55, 7.0),
    _Day(20, "09:45", _NONE, (47, 20), 0.42, 0.4, 5.0),
    _Day(24, "09:20", _NONE, (50, 22), 0.34, 0.3, 4.0),
)

_READINGS = (
    (1, "22:10", 80, "sanguineous"),
    (2, "06:05", 65, "serosanguineous"),
    (2, "09:30", 20, "serosanguineous"),
    (2, "21:50", 55, "serosanguineous"),
    (3, "06:20", 35, "serosanguineous"),
    (3, "14:05", 30, "serosanguineous"),
    (3, "22:00", 25, "serosanguineous"),
    (4, "09:10", 30, "serous"),
    (5, "07:00", 40, "serous"),
    (6, "09:25", 30, "serous"),
    (8, "10:40", 25, "serous"),
    (10, "06:45", 20, "serous"),
    (11, "10:10", 35, "serous"),
    (11, "22:15", 45, "cloudy"),
    (12, "06:10", 55, "cloudy"),
    (12, "14:50", 70, "purulent"),
    (12, "22:05", 60, "purulent"),
    (13, "06:15", 65, "purulent"),
    (13, "14:10", 55, "purulent"),
    (14, "09:35", 90, "cloudy"),
    (17, "09:15", 95, "cloudy"),
)
"""When the drain was emptied, mL, and what the fluid looked like."""

_NOTES = {
    2: "Line dry. Drain in the left flank, bulb squeezed flat after each emptying.",
    6: "Line dry and closed. Output of the drain is falling.",
    8: "Order in the chart: every other staple today, the rest on day 11. Line holds; strips put on between.",
    11: "The line came apart at a place as the third staple was taken out: stopped, four left in. Covered with moist "
    "gauze.",
    12: "38.7 degrees, chills. Redness has spread since this morning, its edge marked with a pen; pus from the wound, "
    "drain cloudy since last night.",
    14: "Opened further by the surgical team at the bedside last night. Fever down since noon yesterday.",
    17: "Last staples taken out by the surgical team. Larger than on day 14; they saw it.",
    20: "Redness inside the marked edge. Still larger; drain taken out yesterday. Negative pressure discussed.",
    24: "Less slough, edge not yet moving in. Negative pressure from tomorrow, as ordered.",
}

_TOLD = {
    11: "Told the surgical team at 10:25; came to look at 11:00. Moist packing ordered, look again tomorrow.",
    12: "Told the surgical team at 15:05. Culture and bloods ordered, swab taken before the first dose of antibiotics, "
    "scan tonight.",
    14: "The surgical team looked at 10:30 and knows; antibiotics go on as the culture said.",
}
"""What was said when the provider was told."""


def abdomen(today: date) -> Course:
    """Return the course of the incision, its last visit the day before a day."""
    operated = today - timedelta(days=_OPERATED_DAYS)
    seen = [*(_look(operated, day) for day in _DAYS), *_shifts(operated)]
    return Course(
        "P103",
        Site(Side.MIDLINE, "abdomen", "below the navel"),
        Kind.SURGICAL,
        "Ward 7",
        operated,
        Skin(ita_deg=50, body="trunk", relief=0.8, veins=0.15, hair=0.05),
        ("strip", "tile"),
        tuple(sorted(seen, key=lambda each: each.at)),
        aim_mm=(-15.0, -9.0),
        gap_mm=9.0,
        seed=3307,
    )


def _look(operated: date, day: _Day) -> Seen:
    wound = None
    if day.size:
        length, width = day.size
        wound = Wound(
            "blob",
            length,
            width,
            tissue={"granulation": 1 - day.slough, "slough": day.slough},
            redness=day.redness,
            maceration=0.3,
            moisture=0.8,
            shape_seed=11,
        )
    seam = Seam((-80.0, 0.0), (40.0, 0.0), day.staples, day.redness, day.reach_mm, seed=5)
    at = moment(operated, day.day, day.clock)
    return Seen(
        at,
        _OTHER if day.day in {6, 14} else _NURSE,
        Look(wound, seam, measured=wound is not None),
        replace(_findings(day, at), drains=_drains(operated, at)),
        _NOTES.get(day.day, ""),
        _TOLD.get(day.day, ""),
        culture=day.day == 12,
    )


def _findings(day: _Day, at: datetime) -> Findings:
    """Return what was found on a day, but for the drain."""
    tomorrow = at.date() + timedelta(days=1)
    if day.day <= 8:
        return Findings(
            exudate=Exudate("scant", "serosanguineous") if day.day == 2 else Exudate("none"),
            odour="none",
            skin=("healthy",),
            pain={2: 5, 4: 4, 6: 3, 8: 2}[day.day],
            signs=_WELL,
            closures=_CLOSURES[day.day],
            dressing=Dressing("gauze", "gauze", "sterile", at.date() + timedelta(days=2 if day.day < 8 else 3)),
        )
    ill = day.day == 12
    return Findings(
        depth_cm={11: 0.8, 12: 1.2, 14: 2.0, 17: 2.4, 20: 2.3, 24: 2.1}[day.day],
        tunnels=(Tunnel(6, 2.5),) if day.day in {14, 17, 20} else (),
        exudate=_EXUDATE[day.day],
        odour={11: "none", 12: "moderate", 14: "moderate", 17: "slight"}.get(day.day, "none"),
        edges=("distinct", "not attached"),
        skin=("reddened", "warm", "hard") if ill else ("reddened",),
        pain={11: 4, 12: 7, 14: 6, 17: 5, 20: 4, 24: 4}[day.day],
        signs=_ILL if ill else {**_QUIET, "pus": day.day == 14},
        closures=_CLOSURES.get(day.day),
        culture=_CULTURE if ill else None,
        irrigation=Irrigation("saline", 200, "syringe 19 gauge") if day.day >= 12 else None,
        dressing=Dressing(
            "gauze" if day.day == 11 else "moist gauze, absorbent pad",
            "moist gauze, absorbent pad",
            "sterile",
            tomorrow,
        ),
    )


_CLOSURES: Mapping[int, Closures] = {
    2: Closures("staples", 14, 0, line="closed"),
    4: Closures("staples", 14, 0, line="closed"),
    6: Closures("staples", 14, 0, line="closed"),
    8: Closures("staples", 14, 7, alternate=True, line="closed", order_recorded=True),
    11: Closures("staples", 7, 3, alternate=True, line="separated", order_recorded=True),
    12: Closures("staples", 4, 0, line="separated"),
    14: Closures("staples", 4, 0, line="separated"),
    17: Closures("staples", 4, 4, alternate=False, line="separated", order_recorded=True),
}

_EXUDATE: Mapping[int, Exudate] = {
    11: Exudate("small", "serosanguineous"),
    12: Exudate("large", "purulent"),
    14: Exudate("large", "seropurulent"),
    17: Exudate("moderate", "seropurulent"),
    20: Exudate("moderate", "serosanguineous"),
    24: Exudate("moderate", "serosanguineous"),
}


def _shifts(operated: date) -> list[Seen]:
    """Return the visits at which the drain was emptied and nothing else was done."""
    shown = {moment(operated, day.day, day.clock) for day in _DAYS}
    times = [moment(operated, day, clock) for day, clock, _, _ in _READINGS]
    return [Seen(at, _NIGHT, findings=Findings(drains=_drains(operated, at))) for at in times if at not in shown]


def _drains(operated: date, at: datetime) -> tuple[Drain, ...] | None:
    """Return the drain as emptied at a time; None where it was not."""
    since = None
    for day, clock, output_ml, appearance in _READINGS:
        emptied_at = moment(operated, day, clock)
        if emptied_at == at:
            site = "reddened" if day in {12, 13, 14} else "clean"
            return (Drain("1", "bulb", output_ml, since, at, suction_restored=True, appearance=appearance, site=site),)
        since = emptied_at
    return None
