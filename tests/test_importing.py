"""A folder of photos becomes visits to a wound; rendered photos, whose truth is known."""

import hashlib
import os
import re
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import Prepared, complete, prepare
from measure.record import importing
from measure.record.entries import Kind, Side, Site
from measure.record.errors import RecordError, UnknownWoundError
from measure.record.importing import ImportingError, Manner, Opening, import_folder
from measure.record.store import open_record
from measure.rendering import ExifFacts, jpeg

HEEL = Site(Side.LEFT, "heel", "plantar")
SAMPLE = Path(__file__).parent.parent / "sample_images" / "W01-shin-corner.jpg"
AREA_CM2 = 9.6915  # of its wound: truth.csv beside it
FIRST = "2024:03:04 10:15:00"


@cache
def pixels() -> np.ndarray:
    """Return a rendered photo, made smaller."""
    return cv2.resize(read_photo(SAMPLE).pixels, (1200, 900), interpolation=cv2.INTER_AREA)


@cache
def photo(taken_at: str | None = FIRST, offset: str | None = "+01:00") -> bytes:
    """Return the rendered photo; each capture time makes a file of its own."""
    return jpeg(pixels(), facts=ExifFacts(27, taken_at=taken_at, offset=offset))


def weekly(week: int) -> str:
    return f"2024:03:{4 + 7 * week:02} 10:15:00"


@cache
def prepared_once(method: str) -> Prepared:
    return prepare(read_photo(photo()), method=method)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """Look for sticker and wound once: the pixels of all these photos are the same."""
    same = read_photo(photo()).pixels

    def prepared(photo, *, method):
        if not np.array_equal(photo.pixels, same):
            return prepare(photo, method=method)
        return replace(prepared_once(method), photo=photo)

    monkeypatch.setattr(importing, "prepare", prepared)


@pytest.fixture
def folder(tmp_path) -> Path:
    """Return a folder for photos that is still empty."""
    path = tmp_path / "Invented Owner"
    path.mkdir()
    return path


@pytest.fixture
def record(tmp_path):
    """Open an empty record in a folder."""
    opened = open_record(tmp_path / "data")
    yield opened
    opened.close()


@pytest.fixture
def wound(record):
    return record.open_wound("P014", HEEL, Kind.DIABETIC_FOOT, "AB")


def run(record, folder, wound="P014/1", **manner):
    """Import by colour, which needs no network, and return what came of it and the lines that were told."""
    lines, manner = [], Manner(**{"method": "colour"} | manner)
    return import_folder(record, wound, folder, "AB", lines.append, manner=manner), lines


def fill(folder: Path, count: int) -> None:
    for week in range(count):
        (folder / f"Invented Owner {week}.jpg").write_bytes(photo(weekly(week)))


def sources(record, wound) -> list[str]:
    return [photo.source_sha256 for visit in record.visits(wound.id) for photo in visit.photos]


def test_each_photo_becomes_a_measured_visit_at_its_capture_time(record, wound, folder):
    fill(folder, 3)
    imported, lines = run(record, folder, unit="Ward 4")
    visits = record.visits(wound.id)
    first = datetime(2024, 3, 4, 9, 15, tzinfo=UTC)
    by_itself = complete(prepare(read_photo(photo()), method="colour"))
    assert [visit.at for visit in visits] == [first + timedelta(weeks=week) for week in range(3)]
    assert [visit.id for visit in imported.visits] == [visit.id for visit in visits]
    assert {(visit.by, visit.unit) for visit in visits} == {("AB", "Ward 4")}
    for visit in visits:
        measured = visit.measurement
        assert measured.wound["area_cm2"]["value"] == pytest.approx(by_itself.wounds[0].area.value / 100, rel=1e-5)
        assert measured.wound["area_cm2"]["value"] == pytest.approx(AREA_CM2, rel=0.25)  # colour alone, unchecked
        assert measured.outline in visit.outlines
        assert (measured.outline.kind, measured.outline.method, measured.outline.by) == ("proposed", "colour 1", "")
        assert measured.document["photo"]["sha256"] == visit.photos[0].sha256
        assert [note.text.splitlines()[0] for note in visit.notes] == [
            "Imported from a photo: the outline is as proposed, and nobody has checked it."
        ]
    area = visits[0].measurement.wound["area_cm2"]
    told = f"area {area['value']:.2f} +- {2 * area['standard_uncertainty']:.2f} cm2 (k = 2)"
    assert re.fullmatch(rf"\[1/3\] Invented Owner 0.jpg: visit of 2024-03-04 \d\d:15, {re.escape(told)}.*", lines[0])
    assert [line[:5] for line in lines] == ["[1/3]", "[2/3]", "[3/3]"]


def test_the_photos_are_kept_without_what_they_tell(record, wound, folder):
    fill(folder, 1)
    run(record, folder)
    entry = record.visits(wound.id)[0].photos[0]
    kept = record.photo_bytes(entry.sha256)
    assert entry.source_sha256 == hashlib.sha256(photo()).hexdigest()
    assert np.array_equal(read_photo(kept).pixels, read_photo(photo()).pixels)


def test_the_name_of_a_file_stays_out_of_the_record(record, wound, folder, tmp_path):
    fill(folder, 2)
    run(record, folder)
    told = repr(record.visits(wound.id)) + repr([visit.measurement.document for visit in record.visits(wound.id)])
    assert "Invented" not in told + repr([visit.notes for visit in record.visits(wound.id)])
    files = [file for file in (tmp_path / "data").rglob("*") if file.is_file()]
    assert len(files) >= 3
    for file in files:
        assert b"Invented" not in file.read_bytes()
        assert "Invented" not in file.name


def test_what_the_wound_has_already_is_skipped(record, wound, folder):
    fill(folder, 2)
    run(record, folder)
    (folder / "a copy.jpg").write_bytes(photo(weekly(1)))
    (folder / "new.jpg").write_bytes(photo(weekly(2)))
    kept = record.photo_bytes(record.visits(wound.id)[0].photos[0].sha256)
    (folder / "out of the record.jpg").write_bytes(kept)
    imported, lines = run(record, folder)
    assert [path.name for path in imported.already] == [
        "Invented Owner 0.jpg",
        "Invented Owner 1.jpg",
        "a copy.jpg",
        "out of the record.jpg",
    ]
    assert lines[0] == "[1/5] Invented Owner 0.jpg: is in the record already"
    assert len(imported.visits) == 1
    assert len(record.visits(wound.id)) == 3


def test_a_photo_of_two_wounds_can_be_imported_for_both(record, wound, folder):
    other = record.open_wound("P014", HEEL, Kind.PRESSURE, "AB")
    fill(folder, 1)
    run(record, folder)
    run(record, folder, other.key)
    assert sources(record, wound) == sources(record, other)


def test_one_bad_photo_does_not_stop_the_rest(record, wound, folder):
    fill(folder, 1)
    (folder / "a.jpg").write_bytes(photo()[:5000])
    (folder / "b.jpg").write_bytes(jpeg(np.full((900, 1200, 3), 120, np.uint8)))
    (folder / "c.png").write_bytes(b"")
    imported, lines = run(record, folder)
    assert [left.file.name for left in imported.left_out] == ["a.jpg", "b.jpg", "c.png"]
    assert [left.sentence.split(";")[0] for left in imported.left_out][::2] == [
        "a.jpg starts like a JPEG photo but can't be read to its end, so it is damaged or was not copied completely",
        "c.png is empty (0 bytes)",
    ]
    assert "sticker" in imported.left_out[1].sentence
    assert lines[2] == f"[3/4] b.jpg: left out. {imported.left_out[1].sentence}"
    assert len(record.visits(wound.id)) == 1


@pytest.mark.usefixtures("wound")
def test_what_nobody_foresaw_does_not_stop_the_rest(record, folder, monkeypatch):
    fill(folder, 2)
    good = importing.complete

    def breaks(prepared, **said):
        if prepared.photo.taken_at.day == 4:
            raise ZeroDivisionError
        return good(prepared, **said)

    monkeypatch.setattr(importing, "complete", breaks)
    imported, _ = run(record, folder)
    assert imported.left_out[0].sentence == (
        "Something went wrong inside ebbline (ZeroDivisionError): run it again with EBBLINE_DEBUG=1 and report that."
    )
    assert len(imported.visits) == 1
    monkeypatch.setenv("EBBLINE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(record, folder)


def test_of_several_wounds_the_largest_is_measured(record, wound, folder, monkeypatch):
    fill(folder, 1)
    whole = prepared_once("colour")
    large = whole.outlines[0]
    small = Outline(large.exterior.mean(axis=0) + 0.2 * (large.exterior - large.exterior.mean(axis=0)) + (0, 260))
    both = replace(whole, proposal=replace(whole.proposal, outlines=(small, large)))
    monkeypatch.setattr(importing, "prepare", lambda photo, **_: replace(both, photo=photo))
    run(record, folder)
    visit = record.visits(wound.id)[0]
    assert len(visit.outlines) == 2
    assert np.array_equal(visit.measurement.outline.outline.exterior, large.exterior)
    assert "2 wounds were found in the photo, and the largest was measured: check that it is this one." in (
        visit.notes[0].text.splitlines()
    )


def test_a_photo_without_a_proposal_is_kept_to_be_traced(record, wound, folder, monkeypatch):
    fill(folder, 1)
    whole = prepared_once("colour")
    none = replace(whole, proposal=replace(whole.proposal, outlines=()))
    monkeypatch.setattr(importing, "prepare", lambda photo, **_: replace(none, photo=photo))
    _, lines = run(record, folder)
    visit = record.visits(wound.id)[0]
    assert (visit.measurement, visit.outlines, len(visit.photos)) == (None, (), 1)
    assert visit.notes[0].text.splitlines()[0] == (
        "Imported from a photo in which no wound was found: trace it by hand, so that it can be measured."
    )
    assert lines[0].endswith(", no wound found")


def test_failed_checks_are_told_and_can_be_accepted(record, wound, folder, monkeypatch):
    fill(folder, 1)
    whole = prepared_once("colour")
    failing = replace(whole, checks=tuple(replace(check, ok=check.name != "tilt") for check in whole.checks))
    monkeypatch.setattr(importing, "prepare", lambda photo, **_: replace(failing, photo=photo))
    _, lines = run(record, folder, accept="Photos of the old camera")
    visit = record.visits(wound.id)[0]
    sentence = next(check.sentence for check in failing.checks if check.name == "tilt")
    assert sentence in visit.notes[0].text.splitlines()
    assert "; failed checks: tilt" in lines[0]
    assert visit.measurement.document["acceptance"]["reason"] == "Photos of the old camera"


# The time of the visit


def test_a_capture_time_without_a_zone_is_of_the_zone_given(record, wound, folder):
    (folder / "a.jpg").write_bytes(photo(FIRST, None))
    run(record, folder, zone=timezone(timedelta(hours=-5)))
    visit = record.visits(wound.id)[0]
    assert visit.at == datetime(2024, 3, 4, 15, 15, tzinfo=UTC)
    assert visit.photos[0].taken_at == "2024-03-04T10:15:00"


def test_a_capture_time_without_a_zone_is_of_this_computer(record, wound, folder):
    (folder / "a.jpg").write_bytes(photo(FIRST, None))
    run(record, folder)
    assert record.visits(wound.id)[0].at == datetime(2024, 3, 4, 10, 15).astimezone()


AHEAD = (datetime.now(UTC) + timedelta(days=3)).strftime("%Y:%m:%d %H:%M:%S")


@pytest.mark.parametrize(
    "taken_at",
    [None, AHEAD, "1980:01:01 00:00:00", "0001:01:01 00:00:00"],
    ids=["none", "ahead", "clock not set", "first year"],
)
def test_without_a_usable_capture_time_somebody_must_say_when(record, wound, folder, taken_at):
    (folder / "a.jpg").write_bytes(photo(taken_at, None))
    imported, _ = run(record, folder)
    date_and_time = taken_at and taken_at[:16].replace(":", "-", 2)
    noted = f"{date_and_time} as its capture time, which can't be" if taken_at else "no capture time"
    assert imported.left_out[0].sentence == (
        f"a.jpg notes {noted}; give the time of the visit, or let the time count at which the file was last changed."
    )
    assert record.visits(wound.id) == []

    at = datetime(2024, 5, 6, 8, 30, tzinfo=UTC)
    run(record, folder, at=at, file_time=True)
    visit = record.visits(wound.id)[0]
    assert visit.at == at
    assert visit.notes[0].text.splitlines()[-1] == (
        "The photo notes no usable capture time: the visit has the time that was given for the import."
    )


def test_the_time_of_the_file_counts_if_asked_for(record, wound, folder):
    fill(folder, 1)
    (folder / "z.jpg").write_bytes(photo(None, None))
    os.utime(folder / "z.jpg", (1_709_543_700, 1_709_543_700))  # 2024-03-04 09:15 UTC
    run(record, folder, file_time=True)
    first, second = record.visits(wound.id)
    assert first.at == second.at
    assert sorted(visit.notes[0].text.count("its file was last changed") for visit in (first, second)) == [0, 1]


# Which wound


def test_a_wound_is_opened_once(record, folder):
    fill(folder, 2)
    opening = Opening("P020", Site(Side.RIGHT, "lower leg", "medial"), Kind.VENOUS_LEG, date(2023, 12, 1))
    imported, _ = run(record, folder, opening)
    assert (imported.wound.key, imported.wound.site, imported.wound.onset) == ("P020/1", opening.site, opening.onset)
    assert imported.wound.events[0].at == datetime(2024, 3, 4, 9, 15, tzinfo=UTC)
    again, _ = run(record, folder, replace(opening, site=Site(Side.RIGHT, " Lower leg", "medial ")))
    assert len(again.already) == 2
    assert [wound.key for wound in record.wounds("P020")] == ["P020/1"]


def test_no_wound_is_opened_for_nothing(record, folder):
    (folder / "a.jpg").write_bytes(b"")
    imported, _ = run(record, folder, Opening("P020", HEEL, Kind.BURN))
    assert imported.wound is None
    assert record.people() == []


@pytest.mark.usefixtures("wound")
def test_two_wounds_alike_ask_for_a_number(record, folder):
    record.open_wound("P014", HEEL, Kind.DIABETIC_FOOT, "AB")
    fill(folder, 1)
    with pytest.raises(ImportingError, match=r"several wounds of this kind at this site, P014/1, P014/2; say by its"):
        run(record, folder, Opening("P014", HEEL, Kind.DIABETIC_FOOT))


def test_an_unknown_wound(record, folder):
    fill(folder, 1)
    with pytest.raises(UnknownWoundError, match=r"There is no wound 'P014/1' in the record"):
        run(record, folder)


# Which files


@pytest.mark.usefixtures("wound")
def test_only_photos_are_looked_at_in_all_folders(record, folder):
    (folder / "100APPLE").mkdir()
    (folder / ".thumbnails").mkdir()
    (folder / "100APPLE" / "IMG.JPG").write_bytes(photo())
    for hidden in ("._IMG.jpg", ".thumbnails/IMG.jpg", "notes.txt", "IMG.mov"):
        (folder / hidden).write_bytes(photo(weekly(1)))
    imported, lines = run(record, folder)
    assert (len(lines), len(imported.visits)) == (1, 1)


@pytest.mark.usefixtures("wound")
def test_a_single_photo(record, folder):
    fill(folder, 2)
    imported, _ = run(record, folder / "Invented Owner 1.jpg")
    assert imported.visits[0].at == datetime(2024, 3, 11, 9, 15, tzinfo=UTC)


@pytest.mark.usefixtures("wound")
@pytest.mark.parametrize("name", ["", "not there"])
def test_a_folder_without_photos(record, folder, name):
    with pytest.raises(ImportingError, match=r"^There is no photo in .*; name a folder with JPEG, PNG"):
        run(record, folder / name)


def test_a_record_that_fails_stops_the_import(record, wound, folder, monkeypatch):
    fill(folder, 3)
    save, drafts = record.save_visit, []

    def fails(draft):
        drafts.append(draft)
        if len(drafts) == 2:
            raise RecordError("The disk is full; make room.")
        return save(draft)

    monkeypatch.setattr(record, "save_visit", fails)
    with pytest.raises(RecordError, match="disk is full"):
        run(record, folder)
    monkeypatch.undo()
    assert len(record.visits(wound.id)) == 1


# Stopped at any moment

KILLED = """
import os, signal, sys
from dataclasses import replace
from pathlib import Path
from measure.pipeline import prepare
from measure.outline import Outline
from measure.record import importing
from measure.record.store import open_record

url, folder, moment = sys.argv[1:]
corners = Outline([[500, 400], [700, 400], [700, 500], [500, 500]])

def quick(photo, *, method):
    prepared = prepare(photo, scale=(0.0, 0.0, 100.0, 0.0, 20.0), propose=False)
    return replace(prepared, proposal=replace(prepared.proposal, outlines=(corners,)))

def killing(act):
    done = []
    def once(*given):
        if done:
            os.kill(os.getpid(), signal.SIGKILL)
        done.append(act(*given))
        return done[0]
    return once

importing.prepare = quick
record = open_record(url)
tell = print
if moment == "told":
    tell = killing(print)
else:
    record.save_visit = killing(record.save_visit)
importing.import_folder(record, "P014/1", Path(folder), "AB", tell, manner=importing.Manner(method="colour"))
"""


def test_killed_again_and_again_no_visit_is_lost_or_there_twice(record, wound, folder, tmp_path):
    fill(folder, 4)
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
    for moment in ("save_visit", "told"):  # with a photo kept and no visit yet; with a visit and nobody told
        command = [sys.executable, "-c", KILLED, str(tmp_path / "data"), str(folder), moment]
        done = subprocess.run(command, env=here, capture_output=True, check=False, timeout=120)
        assert done.returncode == -signal.SIGKILL, done.stderr
    imported, _ = run(record, folder)
    assert (len(imported.already), len(imported.visits)) == (2, 2)
    assert sources(record, wound) == [hashlib.sha256(photo(weekly(week))).hexdigest() for week in range(4)]
    for visit in record.visits(wound.id):
        assert visit.measurement is not None
        assert record.photo_bytes(visit.photos[0].sha256)
