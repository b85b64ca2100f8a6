"""How visits are made: counted from a record, by unit, month and person, and never said surer than it is."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from filled import FIRST_DAY, draft, fill, jpeg, numbers
from hypothesis import given
from hypothesis import strategies as st

from measure.findings.findings import NAMES
from measure.practice.accepted import NO_REASON, accepted
from measure.practice.delay import delay, in_words
from measure.practice.expected import EXPECTED, FINDINGS, expected, missing
from measure.practice.first_look import first_look
from measure.practice.groups import NO_UNIT, by_month, by_person, by_unit
from measure.practice.overdue import overdue, unnamed
from measure.practice.questions import questions
from measure.practice.share import FEWEST, Share
from measure.practice.table import ALL, people_csv, practice_csv
from measure.record.draft import DraftMeasurement, VisitDraft
from measure.record.entries import LEFT_OUT, Kind, Side, Site, What
from measure.record.practice import PracticeVisit, Standing

SHIN = Site(Side.LEFT, "shin")
USUAL = PracticeVisit(
    id=1,
    wound="P1/1",
    at=FIRST_DAY,
    saved_at=FIRST_DAY + timedelta(minutes=20),
    by="AB",
    unit="Ward 4",
    photo=True,
    measured=True,
    found=frozenset(EXPECTED),
    convention="head-to-toe",
    convention_before="head-to-toe",
    scale="sticker",
    failed=(),
    reason="",
    due=FIRST_DAY.date(),
)
ASKED = questions(UTC)


def visits(count, **changes):
    return [replace(USUAL, **changes) for _ in range(count)]


def counted(*several, asked=ASKED):
    return {question.key: question.of(several) for question in asked}


# Shares


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [(81, 263, 25.53, 36.62), (15, 148, 6.24, 16.05), (0, 20, 0.0, 16.11), (1, 29, 0.61, 17.18)],
)
def test_intervals_are_those_that_newcombe_printed(count, total, low, high):
    """Newcombe RG. Stat Med 1998;17:857-872, table I, method 3."""
    assert Share(count, total).interval == pytest.approx((low, high), abs=0.005)


@given(st.integers(1, 10_000).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total))))
def test_an_interval_holds_its_share_and_is_the_mirror_of_its_opposite(told):
    share, opposite = Share(*told), Share(told[1] - told[0], told[1])
    low, high = share.interval
    assert 0 <= low <= share.percent <= high <= 100
    assert low < high
    assert (100 - high, 100 - low) == pytest.approx(opposite.interval, abs=1e-9)


def test_small_numbers_are_shown_and_called_small():
    assert (str(Share(7, 9)), Share(7, 9).words) == ("7 of 9", "too few to judge")
    assert (str(Share(0, 0)), Share(0, 0).words) == ("0 of 0", "none to count")
    assert Share(8, 10).words == "80 % (49 to 94)"


# Questions


def test_a_visit_as_it_should_be_counts_nowhere():
    assert {key: str(share) for key, share in counted(USUAL).items()} == {
        "no_photo": "0 of 1",
        "no_numbers": "0 of 1",
        "no_sticker": "0 of 1",
        "failed_check": "0 of 1",
        "no_reason": "0 of 0",
        "other_convention": "0 of 1",
        "late_visit": "0 of 1",
        "late_entry": "0 of 1",
        "missing_finding": "0 of 1",
    }


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        ({"photo": False, "measured": False, "convention": "", "scale": ""}, {"no_photo"}),
        ({"measured": False, "convention": "", "scale": ""}, {"no_numbers"}),
        ({"scale": "ruler"}, {"no_sticker"}),
        ({"failed": ("tilt",), "reason": "Best of several"}, {"failed_check"}),
        ({"failed": ("tilt",)}, {"failed_check", "no_reason"}),
        ({"convention_before": "longest-perpendicular"}, {"other_convention"}),
        ({"convention_before": ""}, set()),
        ({"due": FIRST_DAY.date() - timedelta(days=1)}, {"late_visit"}),
        ({"due": None}, set()),
        ({"saved_at": FIRST_DAY + timedelta(hours=24)}, set()),
        ({"saved_at": FIRST_DAY + timedelta(hours=24, seconds=1)}, {"late_entry"}),
        ({"found": frozenset(EXPECTED) - {"pain"}}, {"missing_finding"}),
    ],
)
def test_each_question_counts_what_it_says(changes, keys):
    assert {key for key, share in counted(replace(USUAL, **changes)).items() if share.count} == keys


def test_a_day_is_that_of_the_place():
    evening = replace(USUAL, at=datetime(2026, 3, 5, 23, 30, tzinfo=UTC), due=date(2026, 3, 5))
    assert not counted(evening)["late_visit"].count
    assert counted(evening, asked=questions(ZoneInfo("Europe/Berlin")))["late_visit"].count


def test_a_setting_that_names_nothing_known_is_not_used():
    assert expected(["pain", "odour"]) == ("odour", "pain")
    assert [expected(said) for said in (None, [], ["weather"], 3, "pain")] == [EXPECTED] * 5
    assert set(EXPECTED) <= set(FINDINGS) <= set(NAMES)


def test_a_facility_says_what_it_expects():
    bare = replace(USUAL, found=frozenset({"pain"}))
    assert not counted(bare, asked=questions(UTC, ("pain",)))["missing_finding"].count
    assert missing([USUAL, bare], ("pain", "odour")) == {"pain": Share(0, 2), "odour": Share(1, 2)}


# Groups


def test_units_months_and_people_come_in_an_order_that_ranks_nobody():
    told = [
        *visits(1, unit=""),
        *visits(2, unit="b", by="ZZ"),
        *visits(1, unit="A", by="ab", at=datetime(2026, 4, 1, tzinfo=UTC)),
    ]
    assert {unit: len(several) for unit, several in by_unit(told).items()} == {"A": 1, "b": 2, NO_UNIT: 1}
    months = {month: len(several) for month, several in by_month(told, UTC).items()}
    assert months == {"2026-01": 3, "2026-02": 0, "2026-03": 0, "2026-04": 1}
    assert {person: len(several) for person, several in by_person(told).items()} == {"ab": 2, "ZZ": 2}
    assert by_month([], UTC) == {}


def test_failed_checks_come_with_what_people_said():
    told = [
        *visits(2, failed=("tilt",), reason="Best of several"),
        *visits(1, failed=("light", "tilt"), reason=""),
        USUAL,
    ]
    first, second = accepted(told)
    assert (first.check, first.count, first.reasons) == ("tilt", 3, (("Best of several", 2), (NO_REASON, 1)))
    assert (second.check, second.count) == ("light", 1)


def test_the_delay_is_told_in_words_and_not_of_a_few():
    hours = [0.5] * 9 + [30.0] * 11
    told = delay([replace(USUAL, saved_at=FIRST_DAY + timedelta(hours=each)) for each in hours])
    assert (told.visits, told.median_h, told.nine_tenths_h) == (20, 30.0, 30.0)
    assert told.words == "half within 30 hours, nine of ten within 30 hours"
    assert delay(visits(9)).words == "9 visits: too few to judge"
    assert delay([]) is None
    assert delay(visits(1, saved_at=FIRST_DAY - timedelta(hours=1))).median_h == 0
    assert [in_words(each) for each in (0.001, 0.7, 1.6, 47, 60)] == [
        "1 minute",
        "42 minutes",
        "2 hours",
        "47 hours",
        "2 days",
    ]


def test_overdue_wounds_are_counted_among_those_with_a_day():
    today = date(2026, 3, 5)
    standings = [
        Standing("P1/1", "Ward 4", date(2026, 3, 4)),
        Standing("P1/2", "Ward 4", today),
        Standing("P2/1", "", date(2026, 1, 1)),
        Standing("P3/1", "Ward 4", None),
    ]
    assert overdue(standings, today) == {"Ward 4": Share(1, 2), NO_UNIT: Share(1, 1)}
    assert unnamed(standings) == 1


# The first look


def test_a_unit_that_surely_differs_is_named_first():
    told = [
        *visits(5, unit="Ward 7"),
        *visits(15, unit="Ward 7", scale="ruler"),
        *visits(60),
        *visits(30, found=frozenset()),
        *visits(3, scale="ruler"),
    ]
    assert first_look(told, ASKED) == (
        "Look first at Ward 7: measurements without a sticker, 15 of 20 (75 %), elsewhere 3 of 93 (3 %)."
    )


def test_where_no_unit_differs_the_most_frequent_is_named():
    told = [*visits(12, photo=False), *visits(28), *visits(12, unit="Ward 7", photo=False), *visits(28, unit="Ward 7")]
    assert first_look(told, ASKED) == (
        "No unit differs surely from the others. Look first at visits without a photo: 24 of 80, 30 % (21 to 41)."
    )


def test_nothing_is_made_of_a_few_or_of_what_is_rare():
    assert first_look([], ASKED).startswith("No visit in this time: too few to judge")
    assert first_look(visits(1, photo=False), ASKED).startswith("1 visit in this time: too few")
    assert first_look(visits(FEWEST - 1, photo=False), ASKED).startswith("9 visits in this time: too few")
    assert first_look(visits(50), ASKED) == "Nothing here is frequent enough to ask for a first look."
    few = [*visits(40), *visits(9, unit="Ward 7", scale="ruler")]
    assert "Ward 7" not in first_look(few, ASKED)


# The file


def test_the_file_holds_each_question_by_unit_and_month():
    told = [*visits(12), *visits(3, unit="=SUM(A1)", at=datetime(2026, 3, 2, tzinfo=UTC))]
    rows = list(csv.DictReader(io.StringIO(practice_csv(told, ASKED, UTC))))
    found = {(row["question"], row["unit"], row["month"]): row for row in rows}
    assert len(rows) == len(found) == len(ASKED) * (4 + 2 + 2)
    whole, few, none = (found["no_photo", *which] for which in ((ALL, ALL), ("'=SUM(A1)", "2026-03"), (ALL, "2026-02")))
    assert (whole["count"], whole["of"], whole["too_few_to_judge"]) == ("0", "15", "no")
    assert (whole["percent"], whole["wilson_low_percent"], whole["wilson_high_percent"]) == ("0.0", "0.0", "20.4")
    assert (few["of"], few["too_few_to_judge"]) == ("3", "yes")
    assert (none["of"], none["percent"], none["wilson_high_percent"]) == ("0", "", "")
    assert "AB" not in practice_csv(told, ASKED, UTC)
    (row, *_) = csv.DictReader(io.StringIO(people_csv(told, ASKED)))
    assert (row["person"], row["of"]) == ("AB", "15")


# From the record


@pytest.fixture
def shin(record):
    return record.open_wound("P1", SHIN, Kind.VENOUS_LEG, "AB", at=FIRST_DAY)


def kept(area, *, reason="", failed=(), source="sticker"):
    """Return a document as of a photo that was kept."""
    checks = [{"check": name, "ok": name not in failed, "value": 1.0, "limit": 2.0} for name in ("tilt", "light")]
    acceptance = {"reason": reason, "failed_checks": list(failed)} if reason else None
    return numbers(area) | {"calibration": {"source": source}, "checks": checks, "acceptance": acceptance}


def measured(wound, photo, day, document, convention="head-to-toe", **changes):
    return draft(wound, photo, day, measured=DraftMeasurement(1, convention, document), **changes)


def test_the_record_tells_how_a_visit_was_made(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    record.save_visit(measured(shin, photo, 0, kept(16.0)))
    record.save_visit(
        measured(
            shin,
            photo,
            5,
            kept(15.0, reason="Best", failed=("tilt",), source="ruler"),
            convention="longest-perpendicular",
        )
    )
    record.save_visit(VisitDraft(shin.id, FIRST_DAY + timedelta(days=6), "CD", note="Seen.", findings={"pain": 2}))
    first, second, third = record.survey.practice().visits
    assert (first.wound, first.at, first.by, first.unit) == ("P1/1", FIRST_DAY, "AB", "Ward 4")
    assert (first.photo, first.measured, first.found) == (True, True, {"depth_cm", "pain", "dressing"})
    assert (first.convention, first.convention_before, first.due) == ("head-to-toe", "", None)
    assert (first.scale, first.failed, first.reason) == ("sticker", (), "")
    assert (second.convention, second.convention_before) == ("longest-perpendicular", "head-to-toe")
    assert (second.scale, second.failed, second.reason) == ("ruler", ("tilt",), "Best")
    assert second.due == FIRST_DAY.date() + timedelta(days=3)
    assert (third.photo, third.measured, third.convention_before) == (False, False, "longest-perpendicular")
    assert third.due == FIRST_DAY.date() + timedelta(days=8)
    assert third.saved_at > third.at


def test_a_period_knows_what_went_before_it(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    record.save_visit(measured(shin, photo, 0, kept(16.0)))
    record.save_visit(measured(shin, photo, 7, kept(15.0), convention="longest-perpendicular"))
    (only,) = record.survey.practice(FIRST_DAY + timedelta(days=7)).visits
    assert (only.convention_before, only.due) == ("head-to-toe", FIRST_DAY.date() + timedelta(days=3))
    assert only == record.survey.practice().visits[1]


def test_what_was_taken_back_left_out_or_healed_does_not_count(record, shin):
    photo = record.put_photo(jpeg(), "shin.jpg")
    record.save_visit(measured(shin, photo, 0, kept(16.0)))
    wrong = record.save_visit(measured(shin, photo, 2, kept(1.0), convention="longest-perpendicular")).visit
    record.add_findings(wrong.id, {LEFT_OUT: "of another wound"}, "AB")
    record.mark(shin.id, What.HEALED, "AB", at=FIRST_DAY + timedelta(days=4))
    record.mark(shin.id, What.REOPENED, "AB", at=FIRST_DAY + timedelta(days=30))
    last = record.save_visit(measured(shin, photo, 30, kept(3.0))).visit
    record.add_findings(last.id, {"pain": None}, "AB")
    told = record.survey.practice()
    first, second = told.visits
    assert told.left_out == 1
    assert first.id < wrong.id < second.id
    assert second.convention_before == "head-to-toe"
    assert second.due is None
    assert second.found == {"depth_cm", "dressing"}
    assert record.survey.practice(FIRST_DAY + timedelta(days=3)).left_out == 0


def test_open_wounds_stand_with_their_unit_and_day(record):
    fill(record)
    standings = {each.wound: each for each in record.survey.practice().standings}
    assert set(standings) == {"P014/1", "P014/3", "Q-2/1"}
    assert standings["P014/1"] == Standing("P014/1", "Ward 4", FIRST_DAY.date() + timedelta(days=24))
    assert standings["P014/3"] == Standing("P014/3", "", None)


def test_the_stand_changes_with_whatever_is_added(record, shin):
    before = record.survey.stand()
    visit = record.save_visit(VisitDraft(shin.id, FIRST_DAY, "AB", note="Seen.")).visit
    saved = record.survey.stand()
    record.add_findings(visit.id, {"pain": 2}, "AB")
    assert len({before, saved, record.survey.stand()}) == 3
