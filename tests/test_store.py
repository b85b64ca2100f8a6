"""The record: what goes in comes out the same, is only ever added to, and what can't be kept is told in a sentence."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from filled import FIRST_DAY, draft, fill, jpeg, numbers, outline, told
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from measure.photo import PhotoError
from measure.record import admission
from measure.record.draft import DraftMeasurement, VisitDraft
from measure.record.entries import LEFT_OUT, Kind, PhotoEntry, Side, Site, Status, What
from measure.record.errors import ChangedError, RecordError, UnknownWoundError
from measure.record.photo_files import PhotoFileError
from measure.record.store import Record, open_record
from measure.record.tables import Table

HEEL = Site(Side.LEFT, "heel", "plantar")


@pytest.fixture
def wound(record):
    return record.open_wound("P014", HEEL, Kind.DIABETIC_FOOT, "AB", at=FIRST_DAY)


@pytest.fixture
def photo(record):
    return record.put_photo(jpeg(), "heel.jpg")


@pytest.fixture
def visit(record, wound, photo):
    return record.save_visit(draft(wound, photo)).visit


# People and wounds


def test_wounds_are_numbered_by_person(record):
    opened = [record.open_wound(person, HEEL, Kind.PRESSURE, "AB") for person in ("P2", "P1", "P2", "P2")]
    assert [wound.key for wound in opened] == ["P2/1", "P1/1", "P2/2", "P2/3"]
    assert record.people() == ["P1", "P2"]
    assert [wound.key for wound in record.wounds()] == ["P1/1", "P2/1", "P2/2", "P2/3"]
    assert record.wounds("P2") == [opened[0], *opened[2:]]
    assert record.wounds("P3") == []


def test_a_wound_comes_back_as_it_went_in(record):
    at = datetime(2026, 3, 29, 1, 30, tzinfo=timezone(timedelta(hours=2)))
    opened = record.open_wound("P014", HEEL, Kind.VENOUS_LEG, " ab ", at=at, onset=date(2025, 12, 31))
    assert record.wound("P014/1") == opened
    assert (opened.site, opened.kind, opened.onset) == (HEEL, Kind.VENOUS_LEG, date(2025, 12, 31))
    (event,) = opened.events
    assert (event.what, event.at, event.by) == (What.OPENED, at, "ab")
    assert event.at.utcoffset() == timedelta(0)


def test_a_code_is_the_same_in_small_letters(record, wound):
    assert record.open_wound("p014", HEEL, Kind.PRESSURE, "AB").key == "P014/2"
    assert record.wound(" p014/1 ") == wound
    assert len(record.wounds("p014")) == 2


@pytest.mark.parametrize(
    "person", ["Erika Mustermann", "Mustermann", "Mustermann,E", "P_1", "P1/2", "p" * 20 + "1", "Ä1", "1\n2", "P\uff11"]
)
def test_what_may_be_a_name_is_refused_and_not_repeated(record, person):
    with pytest.raises(RecordError, match="may be a name, and names stay out of the record") as refused:
        record.open_wound(person, HEEL, Kind.PRESSURE, "AB")
    assert person not in str(refused.value)
    assert record.people() == []


@pytest.mark.parametrize("key", ["P014/2", "P014", "P014/01", "P014/1/1", "", "Q1/1"])
def test_an_unknown_wound(record, wound, key):
    assert wound.number == 1
    with pytest.raises(UnknownWoundError, match=r"^There is no wound "):
        record.wound(key)


def test_who_acts_must_be_named(record):
    with pytest.raises(RecordError, match=r"^Nobody is named who does this"):
        record.open_wound("P014", HEEL, Kind.PRESSURE, "  ")
    with pytest.raises(RecordError, match="at most 20 are kept"):
        record.open_wound("P014", HEEL, Kind.PRESSURE, "Erika Maria Mustermann")


def test_a_place_must_be_named(record):
    with pytest.raises(RecordError, match=r"^Nobody said where on the body"):
        record.open_wound("P014", Site(Side.LEFT, " "), Kind.PRESSURE, "AB")


# Events

ALLOWED = {
    (What.OPENED, What.HEALED),
    (What.OPENED, What.MERGED),
    (What.OPENED, What.SPLIT),
    (What.HEALED, What.REOPENED),
    (What.REOPENED, What.HEALED),
    (What.REOPENED, What.MERGED),
    (What.REOPENED, What.SPLIT),
}
WAYS = {
    What.OPENED: [],
    What.HEALED: [What.HEALED],
    What.REOPENED: [What.HEALED, What.REOPENED],
    What.MERGED: [What.MERGED],
    What.SPLIT: [What.SPLIT],
}


@pytest.mark.parametrize("before", What)
def test_what_may_happen_after_what(record, before):
    for number, what in enumerate(What, 1):
        wound = record.open_wound("P014", HEEL, Kind.PRESSURE, "AB")
        for step in WAYS[before]:
            wound = record.mark(wound.id, step, "AB")
        if (before, what) in ALLOWED:
            assert record.mark(wound.id, what, "CD").events[-1].what is what
        else:
            with pytest.raises(RecordError, match=rf"^P014/{number} was marked as {before} by AB on "):
                record.mark(wound.id, what, "CD")
            assert record.wound(wound.key) == wound


def test_open_wounds_alone(record, wound):
    other = record.open_wound("P014", HEEL, Kind.PRESSURE, "AB")
    record.mark(wound.id, What.HEALED, "AB")
    assert record.wounds(open_only=True) == [other]
    again = record.mark(wound.id, What.REOPENED, "AB")
    assert again.status is Status.OPEN
    assert record.wounds("P014", open_only=True) == [again, other]


def test_a_mark_rests_on_what_the_page_showed(record, wound):
    record.mark(wound.id, What.HEALED, "CD", seen=1)
    with pytest.raises(ChangedError, match=r"^In the meantime CD has marked P014/1 as healed "):
        record.mark(wound.id, What.MERGED, "AB", seen=1)
    assert record.mark(wound.id, What.REOPENED, "AB", seen=2).status is Status.OPEN


def test_a_mark_is_not_earlier_than_the_one_before(record, wound):
    with pytest.raises(RecordError, match="for an earlier time"):
        record.mark(wound.id, What.HEALED, "AB", at=FIRST_DAY - timedelta(minutes=1))
    assert record.mark(wound.id, What.HEALED, "AB", at=FIRST_DAY).status is Status.HEALED


def test_a_wound_is_merged_into_another_of_the_same_person(record, wound):
    other = record.open_wound("P014", HEEL, Kind.PRESSURE, "AB")
    record.open_wound("P1", HEEL, Kind.PRESSURE, "AB")
    for number in (wound.number, 3, 0, -1):
        with pytest.raises(RecordError, match=rf"can't be marked as merged into wound {number}; "):
            record.mark(wound.id, What.MERGED, "AB", other=number)
    with pytest.raises(RecordError, match="by itself"):
        record.mark(wound.id, What.HEALED, "AB", other=other.number)
    assert record.mark(wound.id, What.MERGED, "AB", other=other.number).events[-1].other == 2


# Visits


def test_a_visit_comes_back_as_it_went_in(wound, photo, visit):
    wanted = draft(wound, photo)
    assert visit.photos == (photo,)
    assert [(each.kind, each.method, each.by) for each in visit.outlines] == [
        ("proposed", "by-colour 1", ""),
        ("edited", "given", "AB"),
    ]
    for entry, given_outline in zip(visit.outlines, wanted.outlines, strict=True):
        assert entry.photo == photo.sha256
        assert (entry.outline.exterior == given_outline.outline.exterior).all()
        assert len(entry.outline.holes) == len(given_outline.outline.holes)
    assert visit.measurement.outline is visit.outlines[1]
    assert visit.measurement.document == wanted.measured.document
    assert visit.measurement.convention == "longest-perpendicular"
    assert visit.found == wanted.findings
    assert [(note.text, note.by) for note in visit.notes] == [(wanted.note, "AB")]
    assert (visit.at, visit.by, visit.unit, visit.wound) == (wanted.at, "AB", "Ward 4", wound.id)
    assert abs(visit.saved_at - datetime.now(UTC)) < timedelta(minutes=5)


def test_one_visit_and_all_visits_tell_the_same(record, wound, visit):
    (read,) = record.visits(wound.id)
    alone = record.visit(visit.id)
    for one in (read, alone):
        assert (one.photos, one.findings, one.notes, one.at) == (visit.photos, visit.findings, visit.notes, visit.at)
        assert one.measurement.document == visit.measurement.document


def test_a_visit_of_words_alone(record, wound):
    saved = record.save_visit(VisitDraft(wound.id, FIRST_DAY, "AB", note="Dressing not opened.")).visit
    assert (saved.photos, saved.outlines, saved.measurement, saved.found) == ((), (), None, {})
    assert len(record.visits(wound.id)) == 1


def test_visits_stand_in_the_order_in_which_the_wound_was_seen(record, wound):
    days = [5, 1, 3, 1]
    saved = [record.save_visit(draft(wound, None, day, outlines=(), measured=None)).visit.id for day in days]
    assert [visit.id for visit in record.visits(wound.id)] == [saved[1], saved[3], saved[2], saved[0]]


def test_others_are_told(record, wound, photo):
    first = record.save_visit(draft(wound, photo), seen=0)
    second = record.save_visit(draft(wound, photo, by="CD"), seen=0)
    third = record.save_visit(draft(wound, photo), seen=2)
    assert first.others == ()
    assert [other.id for other in second.others] == [first.visit.id]
    assert third.others == ()
    assert len(record.visits(wound.id)) == 3


def test_visits_are_read_in_as_many_queries_however_many_they_are(record, wound, photo):
    asked = []
    event.listen(record._database.engine, "before_cursor_execute", lambda *said: asked.append(said[2]))
    counts = []
    for _ in range(3):
        record.save_visit(draft(wound, photo))
        asked.clear()
        record.visits(wound.id)
        counts.append(len([statement for statement in asked if statement.startswith("SELECT")]))
    assert counts == [7, 7, 7]


def test_findings_notes_numbers_and_answers_are_added(record, visit):
    record.add_findings(visit.id, {"pain": 5, "odour": None}, "CD")
    record.add_note(visit.id, "Later.", "CD")
    record.answer_prompt(visit.id, "fever", "Provider told at 10:05.", "CD")
    added = record.add_measurement(visit.id, outline(33), numbers(11.0), "EF", convention="head-to-toe")
    assert added.found == dict(visit.found) | {"pain": 5, "odour": None}
    assert [(each.name, each.value, each.by) for each in added.findings if each.name == "pain"] == [
        ("pain", 3, "AB"),
        ("pain", 5, "CD"),
    ]
    assert [note.text for note in added.notes] == [visit.notes[0].text, "Later."]
    assert [(each.reason, each.answer, each.by) for each in added.answers] == [
        ("fever", "Provider told at 10:05.", "CD")
    ]
    assert len(added.measurements) == 2
    assert added.measurement.outline.kind == "retraced"
    assert (added.measurement.outline.by, added.measurement.by) == ("EF", "EF")
    assert added.measurement.document == numbers(11.0)


def test_nothing_is_ever_changed(record):
    """All acts together send the database nothing but SELECT and INSERT, and no table has another way in."""
    said = []
    event.listen(record._database.engine, "before_cursor_execute", lambda *told: said.append(told[2].split()[0]))
    fill(record)
    record.answer_prompt(1, "fever", "Provider told.", "AB")
    assert set(said) - {"BEGIN", "SAVEPOINT", "RELEASE"} == {"SELECT", "INSERT"}
    acts = {name for name in vars(Record) if not name.startswith("_")}
    assert not [name for name in acts if name.startswith(("delete", "remove", "update", "edit", "change"))]


def test_a_record_opened_again_tells_the_same(record_url, record):
    fill(record)
    again = open_record(record_url)
    assert told(again) == told(record)
    again.close()


def test_nothing_of_a_refused_visit_is_kept(record, wound, photo):
    refused = draft(wound, photo, findings={"pain": 3, "depth_cm": math.nan})
    with pytest.raises(RecordError, match=r"^The finding depth_cm holds a number that isn't finite"):
        record.save_visit(refused)
    with record._database.look() as connection:
        left = {name: connection.execute(table.select()).all() for name, table in Table.metadata.tables.items()}
    assert {name for name, rows in left.items() if rows} == {"person", "wound", "event"}


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"photo": None}, "^The visit has an outline but no photo"),
        ({"measured": DraftMeasurement(2, "x", numbers(1.0))}, "belong to outline 2 "),
        ({"measured": DraftMeasurement(-1, "x", numbers(1.0))}, "belong to outline -1 "),
        ({"measured": DraftMeasurement(0, "x", {"wounds": []})}, "holds no wound"),
        ({"measured": DraftMeasurement(0, "x", numbers(math.inf))}, "isn't finite"),
        ({"at": datetime(2026, 3, 1, 9)}, "without its time zone"),  # noqa: DTZ001 - that is the point
        ({"by": ""}, "^Nobody is named"),
        ({"unit": "A\nB"}, "line break"),
        ({"note": "a\x00b"}, "control character"),
        ({"note": "\ud800"}, "control character"),
        ({"note": "x" * 10_001}, "at most 10000 are kept"),
        ({"findings": {"": 3}}, "has no name"),
        ({"findings": {"pain": {3, 4}}}, "^The finding pain holds something other than texts"),
        ({"wound": 99}, "no wound that it numbers 99"),
    ],
)
def test_a_visit_that_cannot_be_kept(record, wound, photo, changes, sentence):
    with pytest.raises(RecordError, match=sentence):
        record.save_visit(replace(draft(wound, photo), **changes))
    assert len(record.visits(wound.id)) == 0


def test_a_visit_names_no_photo_that_is_not_there(record, wound):
    missing = PhotoEntry("ab" * 32, "cd" * 32, "image/jpeg", 320, 240)
    with pytest.raises(PhotoFileError, match="is missing"):
        record.save_visit(draft(wound, missing))
    assert len(record.visits(wound.id)) == 0


def test_what_belongs_to_no_visit(record):
    for act in (
        lambda: record.visit(7),
        lambda: record.add_findings(7, {"pain": 1}, "AB"),
        lambda: record.add_note(7, "x", "AB"),
        lambda: record.answer_prompt(7, "x", "x", "AB"),
        lambda: record.add_measurement(7, outline(), numbers(1.0), "AB", convention="x"),
    ):
        with pytest.raises(UnknownWoundError, match="no visit that it numbers 7"):
            act()


def test_empty_words_are_no_note(record, visit):
    with pytest.raises(RecordError, match=r"^The note is empty"):
        record.add_note(visit.id, " \n", "AB")
    with pytest.raises(RecordError, match=r"^Nobody said what was done"):
        record.answer_prompt(visit.id, "fever", "", "AB")


def test_a_visit_without_a_photo_can_not_be_traced_again(record, wound):
    seen = record.save_visit(VisitDraft(wound.id, FIRST_DAY, "AB")).visit
    with pytest.raises(RecordError, match="has no photo"):
        record.add_measurement(seen.id, outline(), numbers(1.0), "AB", convention="x")


# Photos


def test_a_photo_comes_back_by_its_hash(record, photo):
    assert record.put_photo(record.photo_bytes(photo.sha256), "again.jpg").sha256 == photo.sha256
    assert (photo.media_type, photo.width, photo.height) == ("image/jpeg", 320, 240)


def test_what_is_no_photo_is_refused(record):
    with pytest.raises(PhotoError, match=r"^notes\.txt is a text file"):
        record.put_photo(b"Dear diary, " * 20, "notes.txt")


# The list and the settings


def test_the_list_tells_last_visits_and_next_changes(record, wound, photo):
    other = record.open_wound("P2", HEEL, Kind.PRESSURE, "AB")
    for day in (7, 0):
        record.save_visit(draft(wound, photo, day))
    record.save_visit(VisitDraft(other.id, FIRST_DAY, "AB", findings={"dressing": {"next_due": None}}))
    first, second = record.last_visits()
    assert first == (wound, FIRST_DAY + timedelta(days=7), date(2026, 1, 15))
    assert second == (other, FIRST_DAY, None)
    newest = record.visits(wound.id)[-1]
    record.add_findings(newest.id, {"dressing": {"next_due": "2026-02-01"}}, "AB")
    assert record.last_visits()[0].next_due == date(2026, 2, 1)


def test_a_visit_that_is_left_out_counts_in_the_list_once_it_is_taken_in_again(record, wound, photo):
    right, wrong = (record.save_visit(draft(wound, photo, day)).visit for day in (0, 7))
    with_both = record.last_visits()
    record.add_findings(wrong.id, {LEFT_OUT: "Wrong wound."}, "AB")
    assert record.last_visits() == [(wound, right.at, date(2026, 1, 8))]
    record.add_findings(wrong.id, {LEFT_OUT: None}, "AB")
    assert record.last_visits() == with_both


def test_a_wound_without_a_visit_is_in_the_list(record, wound):
    assert record.last_visits() == [(wound, None, None)]


def test_the_newest_value_of_a_setting_counts(record):
    assert record.setting("units") is None
    assert record.setting("units", ["none"]) == ["none"]
    for value in (["Ward 4"], {"a": [1, 2.5, None, "ü", True]}, None):
        record.set("units", value, "AB")
        assert record.setting("units", "default") == value
    with pytest.raises(RecordError, match="isn't finite"):
        record.set("units", -math.inf, "AB")


# What JSON keeps


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    opened = open_record(tmp_path_factory.mktemp("record"))
    yield opened
    opened.close()


@settings(deadline=None)
@given(value=st.floats(allow_nan=False, allow_infinity=False))
def test_floats_stay_exact(kept, value):
    """As IEEE 754 doubles, the sign of zero included."""
    kept.set("value", value, "AB")
    assert kept.setting("value").hex() == value.hex()


@settings(deadline=None)
@given(at=st.datetimes(timezones=st.timezones()))
def test_instants_stay_the_same(at):
    try:
        assert admission.instant(at) == at.astimezone(UTC)
    except OverflowError:
        assert at.year in {1, 9999}


@pytest.mark.parametrize("value", [1e22, -0.0, 5e-324, 0.1 + 0.2, 2**60, 1.0])
def test_numbers_stay_exact_on_both_databases(record, value):
    record.set("value", value, "AB")
    found = record.setting("value")
    assert (type(found), repr(found)) == (type(value), repr(value))
