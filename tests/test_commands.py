"""The commands about a record: what they print where, how they end, and a sentence for everything that goes wrong."""

import json
import shutil
from datetime import datetime

import cv2
import pytest
from conftest import SAMPLES

from measure.photo import read_photo
from measure.record.entries import Kind, Side, Site
from measure.record.store import open_record
from measure.rendering import ExifFacts, jpeg

WOUND = "P101/1"


@pytest.fixture
def run(run_here):
    """Run commands as `run_here` does."""
    return run_here


def refused(done):
    """Return the one sentence that a command ended with."""
    assert done.returncode == 1
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    (sentence,) = done.stderr.splitlines()
    assert sentence.endswith(".")
    return sentence


# ---------------------------------------------------------------- trend


def test_trend_says_what_the_area_did_and_lists_each_visit(run, demo_folder):
    done = run("trend", WOUND, "--data", demo_folder)
    assert done.returncode == 0
    assert done.stderr == ""
    first, sentence, *_ = done.stdout.splitlines()
    assert first.startswith(f"{WOUND}  wound 1, ")
    assert "cm2" in sentence
    assert done.stdout.isascii()
    with open_record(demo_folder, create=False) as record:
        visits = record.visits(record.wound(WOUND).id)
    areas = [visit.measurement.wound["area_cm2"]["value"] for visit in visits if visit.measurement]
    assert len(areas) > 1
    for area in areas:
        assert f"{area:.2f} +- " in done.stdout


def test_trend_as_json_holds_the_numbers_of_the_record(run, demo_folder):
    done = run("trend", WOUND, "--data", demo_folder, "--json")
    assert done.returncode == 0
    told = json.loads(done.stdout)
    with open_record(demo_folder, create=False) as record:
        visits = record.visits(record.wound(WOUND).id)
    measured = [visit for visit in visits if visit.measurement]
    assert (told["wound"], told["visits"]) == (WOUND, len(visits))
    points = told["points"]
    assert [datetime.fromisoformat(point["at"]) for point in points][: len(measured)] == [
        visit.at for visit in measured
    ]
    for point, visit in zip(points, measured, strict=False):
        assert point["area_cm2"]["value"] == visit.measurement.wound["area_cm2"]["value"]


def test_trend_of_a_wound_that_is_not_there_is_a_sentence(run, demo_folder):
    assert "P101/9" in refused(run("trend", "P101/9", "--data", demo_folder))
    assert "nonsense" in refused(run("trend", "nonsense", "--data", demo_folder))


def test_a_record_that_is_not_there_is_a_sentence_and_is_not_made(run, tmp_path):
    missing = tmp_path / "none"
    assert "none" in refused(run("trend", WOUND, "--data", missing))
    (tmp_path / "photos").mkdir()
    assert "none" in refused(run("import", tmp_path / "photos", "--wound", WOUND, "--by", "AB", "--data", missing))
    assert not missing.exists()


@pytest.mark.parametrize(
    "words",
    [
        ["trend"],
        ["trend", WOUND],
        ["trend", "--data", "ward"],
        ["demo"],
        ["demo", "--data", "ward", "--until", "yesterday"],
        ["import", ".", "--data", "ward", "--by", "AB"],
        ["import", ".", "--data", "ward", "--wound", WOUND],
        ["import", "not-there", "--data", "ward", "--wound", WOUND, "--by", "AB"],
        ["import", ".", "--data", "ward", "--wound", WOUND, "--by", "AB", "--convention", "widest"],
        ["import", ".", "--data", "ward", "--wound", WOUND, "--by", "AB", "--at", "noon"],
    ],
    ids=" ".join,
)
def test_wrong_usage_exits_2(run, words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Usage:" in done.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["trend", "demo", "import"])
def test_help_has_an_example(run, command):
    done = run(command, "--help")
    assert done.returncode == 0
    assert f"Example:\n    ebbline {command} " in done.stdout


# ---------------------------------------------------------------- demo


def test_demo_leaves_a_record_alone_that_holds_anyone(run, demo_folder):
    before = (demo_folder / "record.db").read_bytes()
    assert "holds 3 people already" in refused(run("demo", "--data", demo_folder))
    assert (demo_folder / "record.db").read_bytes() == before


def test_demo_tells_how_to_look_at_what_it_wrote(run, tmp_path, monkeypatch):
    told = []
    monkeypatch.setattr("measure.demo.fill", lambda record, tell, *, today: told.append((record, tell("one"), today)))
    done = run("demo", "--data", tmp_path / "ward", "--until", "2026-03-20")
    assert done.returncode == 0
    assert done.stdout == ""
    assert done.stderr == f"one\nWrote {tmp_path / 'ward'}. Look at it with: ebbline app --data {tmp_path / 'ward'}\n"
    assert told[0][2].isoformat() == "2026-03-20"


# ---------------------------------------------------------------- import


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with two photos of a wound, a week apart, and a file that is none."""
    path = tmp_path_factory.mktemp("photos")
    pixels = cv2.resize(read_photo(SAMPLES / "W01-shin-corner.jpg").pixels, (1200, 900), interpolation=cv2.INTER_AREA)
    for day in (4, 11):
        taken = ExifFacts(27, taken_at=f"2024:03:{day:02} 10:15:00", offset="+01:00")
        (path / f"{day}.jpg").write_bytes(jpeg(pixels, facts=taken))
    (path / "bad.jpg").write_text("This is a note.", encoding="utf-8")
    return path


@pytest.fixture
def ward(empty_file, tmp_path):
    """Return the folder of a record with one wound."""
    where = tmp_path / "ward"
    where.mkdir()
    shutil.copy(empty_file, where / "record.db")
    with open_record(where, create=False) as record:
        record.open_wound("P014", Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB")
    return where


def test_import_goes_on_past_a_bad_photo_and_later_where_it_was(run, folder, ward):
    words = ("import", folder, "--wound", "P014/1", "--by", "AB", "--data", ward, "--method", "colour")
    done = run(*words, "--json")
    assert done.returncode == 1
    told = json.loads(done.stdout)
    assert (told["wound"], told["visits"], told["already"]) == ("P014/1", 2, 0)
    (left,) = told["left_out"]
    assert left["file"] == str(folder / "bad.jpg")
    assert left["sentence"].endswith(".")
    assert [line[:5] for line in done.stderr.splitlines()] == ["[1/3]", "[2/3]", "[3/3]"]
    assert "bad.jpg: left out." in done.stderr
    with open_record(ward, create=False) as record:
        visits = record.visits(record.wound("P014/1").id)
    assert [visit.at.date().isoformat() for visit in visits] == ["2024-03-04", "2024-03-11"]

    again = run(*words)
    assert again.returncode == 1
    assert again.stdout == "Visits added: 0. Photos known already: 2. Left out: 1.\n"
    one = run("import", folder / "4.jpg", *words[2:], "--json")
    assert one.returncode == 0
    assert json.loads(one.stdout) == {"wound": "P014/1", "visits": 0, "already": 1, "left_out": []}


def test_import_for_a_wound_that_is_not_there_is_a_sentence(run, folder, ward):
    words = ("--by", "AB", "--data", ward, "--method", "colour")
    assert "P014/7" in refused(run("import", folder, "--wound", "P014/7", *words))


def test_import_of_a_folder_without_photos_is_a_sentence(run, tmp_path, ward):
    (tmp_path / "empty").mkdir()
    words = ("--wound", "P014/1", "--by", "AB", "--data", ward)
    assert "There is no photo in" in refused(run("import", tmp_path / "empty", *words))


def test_import_by_a_method_that_is_not_there_is_a_sentence(run, folder, ward):
    words = ("--wound", "P014/1", "--by", "AB", "--data", ward, "--method", "guess")
    assert "guess" in refused(run("import", folder, *words))
