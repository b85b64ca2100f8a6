"""Agreement studies in the record: what goes in comes out the same, once a photo and trial, and only what is asked."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier

import pytest
from filled import numbers, outline
from sqlalchemy import event
from studied import photos, plan, traced

from measure.record.errors import ChangedError, RecordError, UnknownStudyError
from measure.record.store import open_record
from measure.record.study_entries import DrawnBy, StudyWhat


@pytest.fixture
def drawn(record):
    return photos(record)


@pytest.fixture
def study(record, drawn):
    return record.studies.add("Heels", plan(drawn), "QA")


def rings(outline):
    return [ring.tolist() for ring in (outline.exterior, *outline.holes)]


def test_a_study_is_read_as_it_was_planned(record_url, record, drawn):
    begun = record.studies.add(" Heels, spring ", plan(drawn, proposal=True), "QA")
    with open_record(record_url) as again:
        (found,) = again.studies.all()
    assert (found.id, found.name, found.by, found.at) == (begun.id, "Heels, spring", "QA", begun.at)
    kept, given = found.plan, plan(drawn, proposal=True)
    assert (kept.seed, kept.drawn_by, kept.raters, kept.trials) == (7, DrawnBy.SITE, ("AB", "CD"), 2)
    assert (kept.proposal, kept.convention, kept.tracings) == (True, "longest-perpendicular", 8)
    for one, other in zip(kept.photos, given.photos, strict=True):
        assert replace(one, proposal=None).__dict__ == replace(other, proposal=None).__dict__
        assert rings(one.proposal) == rings(other.proposal)
    assert (found.tracings, found.closed, found.done) == ((), None, frozenset())


def test_a_photo_without_a_proposal_stays_without(record, drawn):
    bare = tuple(replace(photo, proposal=None, method="") for photo in drawn)
    assert [photo.proposal for photo in record.studies.add("Heels", plan(bare), "QA").plan.photos] == [None, None]


def test_a_tracing_is_read_as_it_was_drawn(record, study):
    given = traced(2, outline=outline(33, holes=(outline(5).exterior,)), document=numbers(11.5))
    head = record.studies.add_tracing(study.id, given, "AB")
    assert head.done == {("AB", 1, 2)}
    (kept,) = record.studies.one(study.id).tracings
    assert (kept.photo, kept.rater, kept.trial, kept.seconds, kept.by) == (2, "AB", 1, 31.25, "AB")
    assert rings(kept.outline) == rings(given.outline)
    assert kept.document == given.document
    assert kept.wound["area_cm2"]["value"] == 11.5
    assert kept.at >= study.at


def test_studies_are_kept_apart(record, drawn, study):
    other = record.studies.add("Others", plan(drawn[:1], raters=("EF",)), "QA")
    record.studies.add_tracing(study.id, traced(1), "AB")
    record.studies.add_tracing(other.id, traced(1, "EF"), "EF")
    record.studies.close(other.id, "Too few photos", "QA")
    assert [(head.name, head.done, bool(head.closed)) for head in record.studies.heads()] == [
        ("Heels", {("AB", 1, 1)}, False),
        ("Others", {("EF", 1, 1)}, True),
    ]
    assert [[tracing.rater for tracing in one.tracings] for one in record.studies.all()] == [["AB"], ["EF"]]


def test_a_rater_is_known_in_capitals_or_not(study):
    assert [study.plan.rater(by) for by in ("ab", " AB", "Cd", "EF")] == ["AB", "AB", "CD", None]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"photos": ()}, "no photos"),
        ({"raters": ()}, "no raters"),
        ({"raters": ("AB", "ab")}, "named twice"),
        ({"raters": ("AB", " ")}, "initials"),
        ({"raters": ("AB",), "trials": 1}, "agrees with nobody"),
        ({"trials": 0}, "0 times"),
        ({"trials": 10}, "from 1 to 9"),
    ],
)
def test_a_plan_that_can_not_be_followed_is_refused(record, drawn, changes, said):
    with pytest.raises(RecordError, match=said):
        record.studies.add("Heels", plan(drawn, **changes), "QA")
    assert record.studies.heads() == []


def test_a_study_needs_a_name_and_each_photo_once(record, drawn):
    with pytest.raises(RecordError, match="no name"):
        record.studies.add(" ", plan(drawn), "QA")
    with pytest.raises(RecordError, match="twice"):
        record.studies.add("Heels", plan((drawn[0], replace(drawn[0], number=2))), "QA")
    with pytest.raises(RecordError, match="without gaps"):
        record.studies.add("Heels", plan((drawn[1],)), "QA")


@pytest.mark.parametrize(
    ("draft", "said"),
    [
        (traced(1, "EF"), "EF is no rater"),
        (traced(3), "no photo 3"),
        (traced(1, trial=3), "in trial 3"),
        (traced(1, trial=2), "In trial 1 0 of 2 photos"),
        (traced(1, document={"wounds": []}), "holds 0 wounds"),
        (traced(1, document={"wounds": [{}, {}]}), "holds 2 wounds"),
        (traced(1, area_cm2=math.nan), "isn't finite"),
        (traced(1, seconds=math.nan), "nan seconds"),
        (traced(1, seconds=-1.0), "-1.0 seconds"),
    ],
)
def test_what_a_study_does_not_ask_for_is_refused(record, study, draft, said):
    with pytest.raises(RecordError, match=said):
        record.studies.add_tracing(study.id, draft, "AB")
    assert record.studies.one(study.id).tracings == ()


def test_a_trial_begins_when_the_one_before_is_finished(record, study):
    record.studies.add_tracing(study.id, traced(1), "AB")
    with pytest.raises(RecordError, match="1 of 2 photos are traced, so trial 2 can't begin"):
        record.studies.add_tracing(study.id, traced(1, trial=2), "AB")
    record.studies.add_tracing(study.id, traced(2), "AB")
    head = record.studies.add_tracing(study.id, traced(1, trial=2), "AB")
    assert (head.done_by("AB"), head.done_by("AB", 2), head.done_by("CD")) == (3, 1, 0)


def test_a_photo_is_saved_once_a_trial(record, study):
    record.studies.add_tracing(study.id, traced(1, area_cm2=16.0), "AB")
    with pytest.raises(ChangedError, match=r"saved already, at .* UTC, from another device"):
        record.studies.add_tracing(study.id, traced(1, area_cm2=17.0), "AB")
    record.studies.add_tracing(study.id, traced(1, "CD"), "CD")
    assert [tracing.wound["area_cm2"]["value"] for tracing in record.studies.one(study.id).tracings] == [16.0, 16.0]


def test_a_closed_study_takes_nothing_until_it_is_opened_again(record, study):
    with pytest.raises(RecordError, match="why the study is closed"):
        record.studies.close(study.id, " ", "QA")
    closed = record.studies.close(study.id, "A rater has left", "QA").closed
    assert (closed.what, closed.reason, closed.by) == (StudyWhat.CLOSED, "A rater has left", "QA")
    with pytest.raises(ChangedError, match=r"QA has closed the study 'Heels' .*A rater has left"):
        record.studies.add_tracing(study.id, traced(1), "AB")
    with pytest.raises(ChangedError, match="has closed"):
        record.studies.close(study.id, "Twice", "QA")
    opened = record.studies.reopen(study.id, "The rater is back", "QB")
    assert (opened.closed, [event.by for event in opened.events]) == (None, ["QA", "QB"])
    with pytest.raises(ChangedError, match="is open already"):
        record.studies.reopen(study.id, "Twice", "QB")
    assert record.studies.add_tracing(study.id, traced(1), "AB").done == {("AB", 1, 1)}


def test_a_study_that_is_not_there_is_told(record):
    for ask in (record.studies.one, record.studies.head):
        with pytest.raises(UnknownStudyError, match="no study that it numbers 5"):
            ask(5)
    for act in (record.studies.close, record.studies.reopen):
        with pytest.raises(UnknownStudyError):
            act(5, "No reason", "QA")
    with pytest.raises(UnknownStudyError):
        record.studies.add_tracing(5, traced(1), "AB")


def test_studies_are_only_added_to(record, drawn):
    said = []
    event.listen(record._database.engine, "before_cursor_execute", lambda *words: said.append(words[2]))
    study = record.studies.add("Heels", plan(drawn), "QA")
    record.studies.add_tracing(study.id, traced(1), "AB")
    record.studies.close(study.id, "Enough", "QA")
    record.studies.reopen(study.id, "Not enough", "QA")
    verbs = {statement.split()[0].upper() for statement in said}
    assert "INSERT" in verbs
    assert not verbs & {"UPDATE", "DELETE"}


def test_of_two_devices_of_a_rater_one_saves_each_photo_and_another_rater_is_kept_too(record_url, record, study):
    start = Barrier(3)
    with ThreadPoolExecutor(3) as devices:
        *same, other = devices.map(lambda rater: traces(record_url, rater, start), ("AB", "AB", "CD"))
    assert other == [(1, "saved"), (2, "saved")]
    told = sorted(pair for one in same for pair in one)
    assert told == [(1, "ChangedError"), (1, "saved"), (2, "ChangedError"), (2, "saved")]
    kept = record.studies.one(study.id)
    assert kept.done == {(rater, 1, photo) for rater in ("AB", "CD") for photo in (1, 2)}
    assert len(kept.tracings) == 4


def traces(where, rater, start):
    """Save the photos of the first study over a connection of its own; return what came of each."""
    with open_record(where) as device:
        study, told = device.studies.heads()[0], []
        start.wait(60)
        for photo in (1, 2):
            try:
                device.studies.add_tracing(study.id, traced(photo, rater), rater)
                told.append((photo, "saved"))
            except ChangedError as error:
                told.append((photo, type(error).__name__))
    return told
