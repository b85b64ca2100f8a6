"""Agreement from what a record holds anyway: proposals, length x width, rulers; truth is known by construction."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from filled import FIRST_DAY, draft, jpeg, numbers, outline

from measure.agreement.errors import AgreementError
from measure.outline import Outline
from measure.practice.share import Share
from measure.record.at_hand import AcceptedEntry, SizesEntry
from measure.record.draft import DraftMeasurement, DraftOutline
from measure.record.entries import LEFT_OUT, Kind, Side, Site
from measure.study.at_hand import (
    ACCEPTED,
    ELLIPSE,
    LENGTH_X_WIDTH,
    PHOTO,
    PROPOSAL,
    RULER,
    TRACED,
    against_proposal,
    compared,
    conventions,
    length_x_width_against_area,
    ruler_against_photo,
    taken_by_person,
)

AT = datetime(2026, 3, 5, 9, tzinfo=UTC)


def square(side, left=100.0, top=100.0):
    corners = [(left, top), (left + side, top), (left + side, top + side), (left, top + side)]
    return Outline(np.array(corners, dtype=np.float64))


def accepted(edited, proposed, wound="P1/1", **changes):
    entry = AcceptedEntry(wound, AT, "AB", 9.0, gone_over=True, edits=2, edited=edited, proposed=proposed)
    return replace(entry, **changes)


def sizes(wound="P1/1", convention="head-to-toe", **values):
    names = ("area_cm2", "length_cm", "width_cm", "length_x_width_cm2", "ruler_length_cm", "ruler_width_cm")
    return SizesEntry(wound, AT, "AB", convention, **{name: values.get(name) for name in names})


# Proposals


def test_a_proposal_has_the_accepted_area_times_the_ratio_of_pixels():
    told = against_proposal([accepted(square(30), (square(20),)), accepted(square(30), (square(30),), "P2/1", edits=0)])
    area = {method: told.observations.by_method(method).value.tolist() for method in (PROPOSAL, ACCEPTED)}
    assert area == {PROPOSAL: pytest.approx([4.0, 9.0]), ACCEPTED: [9.0, 9.0]}
    assert told.dice == pytest.approx([2 * 400 / (400 + 900), 1.0])
    assert (told.gone_over, told.unchanged, told.missed, told.taken) == (2, 1, 0, 0)


def test_of_several_proposals_the_one_on_the_wound_counts():
    far, near = square(90, left=400), square(20)
    assert against_proposal([accepted(square(30), (far, near))]).dice == pytest.approx([2 * 400 / 1300])


def test_what_met_no_wound_or_nobody_checked_is_counted_apart():
    entries = [
        accepted(square(30), (square(30, left=500),)),
        accepted(square(30), ()),
        AcceptedEntry("P2/1", AT, "CD", 5.0),
        AcceptedEntry("P3/1", AT, "cd", 5.0),
        accepted(square(30), (square(20),), by="cd"),
    ]
    told = against_proposal(entries)
    assert (told.missed, told.taken, told.gone_over, len(told.dice)) == (2, 2, 3, 1)
    assert taken_by_person(entries) == {"AB": Share(0, 2), "cd": Share(2, 3)}
    assert against_proposal(entries[:4]).observations is None


def test_an_outline_that_crosses_itself_is_compared_all_the_same():
    bow = Outline(np.array([(100.0, 100.0), (130.0, 130.0), (130.0, 100.0), (100.0, 130.0)]))
    assert against_proposal([accepted(square(30), (bow,))]).dice == pytest.approx([2 * 450 / (450 + 900)])


def seen_from(points_mm, tilt_deg, away_mm=250.0, focal_px=1500.0):
    """Project points of a plane by a pinhole camera that is turned about the x axis."""
    tilt = math.radians(tilt_deg)
    x, y = points_mm.T
    depth = away_mm + y * math.sin(tilt)
    return 2000 + focal_px * np.column_stack([x, y * math.cos(tilt)]) / depth[:, np.newaxis]


def circle(radius_mm, shift_mm=0.0):
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    return np.column_stack([radius_mm * np.cos(turn), shift_mm + radius_mm * np.sin(turn)])


@pytest.mark.parametrize("tilt_deg", [0, 15, 30])
def test_perspective_hardly_changes_the_ratio_of_areas(tilt_deg):
    """A proposal 1.5 mm off and a tenth larger: the ratio on the plane is 1.21, whatever the camera does."""
    edited, proposed = (Outline(seen_from(points, tilt_deg)) for points in (circle(15), circle(16.5, 1.5)))
    told = against_proposal([accepted(edited, (proposed,), area_cm2=1.0)])
    assert told.observations.by_method(PROPOSAL).value == pytest.approx([1.21], rel=0.011)


# Limits


def test_each_wound_counts_once():
    entries = [accepted(square(30), (square(side),), wound) for wound in ("P1/1", "P2/1") for side in (30, 15, 10)]
    found = compared(against_proposal(entries).observations, PROPOSAL, ACCEPTED)
    assert (found.visits, found.wounds, found.few) == (6, 2, True)
    assert found.limits.bias.value == pytest.approx(1.0)


def test_one_wound_has_no_limits():
    observations = against_proposal([accepted(square(30), (square(20),))] * 3).observations
    with pytest.raises(AgreementError, match=r"^Only 1 wound was measured both ways; limits need at least two"):
        compared(observations, PROPOSAL, ACCEPTED)


def test_length_x_width_of_ellipses_is_their_area_times_what_geometry_says():
    entries = [
        sizes(f"P{number}/1", area_cm2=math.pi * number / 4, length_x_width_cm2=float(number))
        for number in range(1, 13)
    ]
    other = sizes("P20/1", "longest-perpendicular", area_cm2=1.0, length_x_width_cm2=5.0)
    found = compared(length_x_width_against_area([*entries, other], "head-to-toe"), LENGTH_X_WIDTH, TRACED)
    assert (found.wounds, found.few) == (12, False)
    assert found.limits.bias.value == pytest.approx(ELLIPSE)
    assert found.limits.upper.value == pytest.approx(ELLIPSE)
    assert conventions([other, *entries]) == ("head-to-toe", "longest-perpendicular")


def test_a_ruler_is_compared_where_both_were_taken():
    entries = [
        sizes("P1/1", ruler_length_cm=3.3, length_cm=3.0, width_cm=2.0),
        sizes("P2/1", ruler_length_cm=2.2, length_cm=2.0),
        sizes("P3/1", ruler_length_cm=2.2),
    ]
    found = compared(ruler_against_photo(entries, "length"), RULER, PHOTO)
    assert (found.wounds, found.limits.bias.value) == (2, pytest.approx(1.1))
    with pytest.raises(AgreementError, match=r"^No visit in this time has both ruler and photo\.$"):
        ruler_against_photo(entries, "width")


# From the record


@pytest.fixture
def shin(record):
    return record.open_wound("P1", Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB", at=FIRST_DAY)


def test_the_record_tells_what_was_proposed_and_what_was_measured(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    record.save_visit(draft(shin, photo, 0))
    record.save_visit(draft(shin, photo, 7, measured=DraftMeasurement(0, "head-to-toe", numbers(12.0)), by="CD"))
    given = (DraftOutline("given", "given", outline(30)),)
    record.save_visit(draft(shin, photo, 9, outlines=given, measured=DraftMeasurement(0, "head-to-toe", numbers(9.0))))
    wrong = record.save_visit(draft(shin, photo, 10)).visit
    record.add_findings(wrong.id, {LEFT_OUT: "of another wound"}, "AB")
    edited, taken = record.survey.accepted()
    assert (edited.wound, edited.at, edited.by, edited.area_cm2) == ("P1/1", FIRST_DAY, "AB", 16.0)
    assert [len(ring) for ring in (edited.edited.exterior, *edited.edited.holes)] == [36, 36]
    assert (edited.gone_over, edited.edits, len(edited.proposed)) == (True, None, 1)
    assert edited.proposed[0].exterior.tolist() == outline(42).exterior.tolist()
    assert (taken.by, taken.area_cm2, taken.gone_over, taken.edited, taken.proposed) == ("CD", 12.0, False, None, ())
    told = against_proposal(record.survey.accepted())
    assert told.observations.by_method(PROPOSAL).value == pytest.approx([16.0 * 42**2 / (40**2 - 5**2)])
    (later,) = record.survey.accepted(FIRST_DAY + timedelta(days=1))
    assert later.area_cm2 == 12.0
    first = record.visits(shin.id)[0].id
    record.add_measurement(first, outline(20), numbers(4.0), "EF", convention="head-to-toe")
    assert record.survey.accepted()[0].area_cm2 == 16.0


def test_outlines_are_read_of_each_wounds_first_visit(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    document = numbers(9.0) | {"editing": {"by": "AB", "edits": 0, "checked": True}}
    for day in (7, 0):
        record.save_visit(draft(shin, photo, day, measured=DraftMeasurement(1, "head-to-toe", document)))
    told = record.survey.accepted()
    assert [(entry.edited is None, len(entry.proposed), entry.edits) for entry in told] == [(False, 1, 0), (True, 0, 0)]
    assert (against_proposal(told).gone_over, against_proposal(told).unchanged) == (2, 2)


def test_the_record_tells_the_newest_sizes_by_photo_and_by_ruler(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    found = {"ruler_length_cm": 3.4, "ruler_width_cm": 2.0}
    visit = record.save_visit(draft(shin, photo, 0, findings=found)).visit
    record.add_findings(visit.id, {"ruler_width_cm": None, "ruler_length_cm": 3.3}, "AB")
    document = numbers(11.0)
    document["wounds"][0] |= {name: {"value": value} for name, value in (("length_cm", 3.0), ("width_cm", 0.1 + 0.2))}
    record.add_measurement(visit.id, outline(33), document, "EF", convention="head-to-toe")
    (told,) = record.survey.sizes()
    assert (told.wound, told.at, told.by, told.convention) == ("P1/1", FIRST_DAY, "EF", "head-to-toe")
    assert (told.area_cm2, told.length_cm, told.length_x_width_cm2) == (11.0, 3.0, None)
    assert told.width_cm == pytest.approx(0.3, rel=1e-15)
    assert (told.ruler_length_cm, told.ruler_width_cm) == (3.3, None)
    assert record.survey.sizes(FIRST_DAY + timedelta(seconds=1)) == ()
