"""The line for the chart: all that was said, nothing else, on one line."""

from datetime import UTC, datetime

import numpy as np
from found import FOUND
from hypothesis import given, settings

from measure.findings.findings import Findings, parse_findings
from measure.findings.one_line import one_line
from measure.outline import Outline
from measure.record.entries import Event, Kind, MeasurementEntry, OutlineEntry, Side, Site, What, WoundEntry

OPENED = (Event(What.OPENED, datetime(2026, 3, 5, 12, tzinfo=UTC), "AB"),)
HEEL = WoundEntry(1, "P014", 2, Site(Side.LEFT, "heel"), Kind.PRESSURE, OPENED)
SHIN = WoundEntry(1, "P014", 3, Site(Side.RIGHT, "lower leg", "medial"), Kind.VENOUS_LEG, OPENED)

OUTLINE = Outline(np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 40.0)]))
MEASURED = {
    "source": "given",
    "length_cm": {"value": 3.2, "standard_uncertainty": 0.05},
    "width_cm": {"value": 2.1, "standard_uncertainty": 0.05},
    "area_cm2": {"value": 4.56, "standard_uncertainty": 0.112},
}


def measurement(editing=None, **other):
    drawn = OutlineEntry(1, "0" * 64, "given", "given", OUTLINE, OPENED[0].at, "AB")
    return MeasurementEntry(
        1, drawn, "head-to-toe", {"wounds": [MEASURED | other], "editing": editing}, OPENED[0].at, "AB"
    )


SAID = {
    "depth_cm": 0.4,
    "undermining": [{"start": 11, "end": 2, "depth_cm": 1.5}],
    "tunnels": [],
    "exudate": {"amount": "moderate", "kind": "serous"},
    "edges": ["rolled"],
    "pain": 3,
    "signs": {"fever": False, "pus": True},
}


def test_measured_and_found_stand_in_one_line():
    assert one_line(HEEL, parse_findings(SAID), measurement()) == (
        "Wound 2, left heel: 3.20 x 2.10 cm (head-to-toe); 4.56 +- 0.22 cm2 traced (k = 2); depth 0.4 cm; "
        "undermining 11 to 2 o'clock, deepest 1.5 cm (12 o'clock is towards the heel); tunnels none; "
        "exudate moderate serous; edges rolled (epibole); pain 3/10; yes to pus; no to fever."
    )


def test_a_ruler_stands_beside_the_photo_by_its_name():
    ruled = {"ruler_length_cm": 3.4, "ruler_width_cm": 2.0, "depth_cm": 0.4}
    assert "cm2 traced (k = 2); by ruler 3.4 x 2 cm; depth" in one_line(HEEL, parse_findings(ruled), measurement())
    assert one_line(HEEL, parse_findings({"ruler_width_cm": 2.0})) == "Wound 2, left heel: by ruler width 2 cm."


def test_off_the_foot_the_clock_needs_no_word():
    told = one_line(SHIN, parse_findings({"undermining": SAID["undermining"]}))
    assert told == "Wound 3, right lower leg, medial: undermining 11 to 2 o'clock, deepest 1.5 cm."


def test_an_outline_that_nobody_corrected_is_not_called_traced():
    told = one_line(HEEL, Findings(), measurement(source="proposed"))
    assert "4.56 +- 0.22 cm2 by the computer's outline (k = 2)" in told
    told = one_line(HEEL, Findings(), measurement(source="proposed", editing={"checked": True}))
    assert "4.56 +- 0.22 cm2 by the computer's outline, checked (k = 2)" in told


def test_what_is_not_known_is_left_out():
    unknown = {"length_cm": {"value": None}, "area_cm2": {"value": 4.5, "standard_uncertainty": None}}
    assert one_line(HEEL, Findings(), measurement(**unknown)) == "Wound 2, left heel: 4.50 cm2 traced."
    assert one_line(HEEL, Findings()) == "Wound 2, left heel: nothing recorded."


def test_what_was_done_stands_at_the_end():
    found = {
        "closures": {"kind": "staples", "present": 12, "removed": 6, "alternate": True, "line": "closed"},
        "dressing": {"applied": "foam", "technique": "clean", "next_due": "2026-03-08"},
        "foot": {},
    }
    staples = "6 of 12 staples removed, every other one, line closed"
    dressing = "foam applied, clean technique, next change 8 March 2026"
    assert one_line(HEEL, parse_findings(found)) == f"Wound 2, left heel: {staples}; {dressing}."


@settings(deadline=None, max_examples=50)
@given(FOUND)
def test_it_is_one_line_whatever_was_found(found):
    told = one_line(HEEL, found, measurement())
    assert told.isprintable()
    assert told.endswith(".")
    assert "None" not in told
    assert (found.pain is not None) == (f"pain {found.pain}/10" in told)
