"""Who edited the outlines, how often, and what was proposed: kept through measuring, storing and reading."""

import json
from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from click.testing import CliRunner

from measure.cli import commands
from measure.editing import Editing, EditingError, editing_document, parse_editing, usable_by
from measure.outline import Outline, OutlineError, polygon
from measure.photo import Photo
from measure.pipeline import complete, prepare
from measure.report import document, summary

WIDTH, HEIGHT = 800, 600
SQUARE = [(100.0, 100.0), (300.0, 100.0), (300.0, 300.0), (100.0, 300.0)]
LARGER = [(100.0, 100.0), (320.0, 100.0), (320.0, 300.0), (100.0, 300.0)]


PROPOSED = (Outline(SQUARE),)


def editing(by="AB", edits=3, proposed=PROPOSED, method="shape 1"):
    return Editing(by, edits, proposed, method)


@pytest.fixture(scope="module")
def prepared():
    photo = Photo("square.png", np.full((HEIGHT, WIDTH, 3), 150, dtype=np.uint8), "ab" * 32, None, None)
    return prepare(photo, scale=(100, 500, 600, 500, 50.0), propose=False)


def test_it_is_frozen():
    with pytest.raises(FrozenInstanceError):
        editing().by = "CD"


def test_it_goes_with_the_measurement_and_into_the_document(prepared):
    measurement = complete(prepared, [Outline(LARGER)], editing=editing())
    assert measurement.editing.edits == 3
    found = document(measurement)
    assert found["editing"] == {
        "by": "AB",
        "edits": 3,
        "checked": False,
        "method": "shape 1",
        "edge_sigma_px": [],
        "proposed": [{"outline": [list(point) for point in SQUARE], "holes": []}],
    }
    assert found["wounds"][0]["source"] == "given"
    assert found["wounds"][0]["outline"] == [list(point) for point in LARGER]
    assert "outline edited by AB: 3 edits" in summary(measurement)


def test_without_an_editor_the_key_is_null(prepared):
    assert document(complete(prepared, [Outline(SQUARE)]))["editing"] is None


def test_nobody_need_be_named_to_measure(prepared):
    measurement = complete(prepared, [Outline(SQUARE)], editing=editing(by="", edits=1))
    assert document(measurement)["editing"]["by"] == ""
    assert "edited by a person: 1 edit\n" in summary(measurement) + "\n"


def test_a_wound_that_was_removed_is_still_among_the_proposed(prepared):
    found = document(complete(prepared, [], editing=editing()))
    assert found["wounds"] == []
    assert len(found["editing"]["proposed"]) == 1


# Who


@pytest.mark.parametrize(("said", "kept"), [("AB", "AB"), ("  ward-7/0412 ", "ward-7/0412"), ("Ä.Ö.", "Ä.Ö.")])
def test_initials_and_codes_are_kept_without_the_space_round_them(said, kept):
    assert usable_by(said) == kept
    assert editing(by=said).by == kept


def test_spaces_are_nobody():
    assert editing(by="  ").by == ""


@pytest.mark.parametrize(
    ("by", "sentence"),
    [
        ("", "Nobody is named who edited the outline: give your initials or staff code"),
        ("a" * 21, "takes 21 characters, at most 20 are kept"),
        ("A\nB", "line break or a control character"),
        ("A\u202eB", "line break or a control character"),
    ],
)
def test_what_cannot_be_recorded_is_refused(by, sentence):
    with pytest.raises(EditingError, match=sentence):
        usable_by(by)


def test_the_record_refuses_it_too():
    with pytest.raises(EditingError, match="21 characters"):
        editing(by="a" * 21)


def test_fewer_than_no_edits_are_refused():
    with pytest.raises(EditingError, match="-1 times"):
        editing(edits=-1)


# Storing and reading


@pytest.mark.parametrize(
    "proposed", [(), (Outline(SQUARE),), (Outline(SQUARE, ([(150, 150), (160, 150), (160, 170)],)),)]
)
def test_stored_and_read_it_is_the_same(proposed):
    stored = json.loads(json.dumps({"editing": editing_document(editing(proposed=proposed))}))
    read = parse_editing(stored, WIDTH, HEIGHT)
    assert (read.by, read.edits, read.method) == ("AB", 3, "shape 1")
    assert [polygon(outline) for outline in read.proposed] == [polygon(outline) for outline in proposed]


@pytest.mark.parametrize("loaded", [{}, {"editing": None}, [], None])
def test_a_file_need_not_speak_of_it(loaded):
    assert parse_editing(loaded, WIDTH, HEIGHT) is None


@pytest.mark.parametrize(
    "note",
    [
        "AB",
        {},
        {"by": "AB"},
        *(
            {"by": "AB", "edits": 1, "checked": True, "method": "", "edge_sigma_px": [], "proposed": []} | wrong
            for wrong in (
                {"by": 1},
                {"edits": "3"},
                {"edits": True},
                {"checked": "yes"},
                {"proposed": None},
                {"edge_sigma_px": None},
                {"edge_sigma_px": [1.0]},
            )
        ),
    ],
)
def test_another_form_is_refused(note):
    with pytest.raises(EditingError, match="says under 'editing' is not in the form"):
        parse_editing({"editing": note}, WIDTH, HEIGHT)


def test_a_proposed_outline_that_is_none_is_refused():
    note = editing_document(editing()) | {"proposed": [{"outline": [[1, 1], [2, 2]]}]}
    with pytest.raises(OutlineError, match="2 distinct points"):
        parse_editing({"editing": note}, WIDTH, HEIGHT)


def test_the_command_takes_a_saved_document_back(first_sample, tmp_path):
    """Outline, editor and number of edits come out as they went in."""
    outline = json.loads(first_sample.outline.read_text(encoding="utf-8"))
    saved = tmp_path / "saved.json"
    saved.write_text(json.dumps(outline | {"editing": editing_document(editing())}), encoding="utf-8")
    words = ["measure", str(first_sample.photo), "--outline", str(saved), "--json"]
    result = CliRunner().invoke(commands, words)
    assert result.exit_code == 0, result.output
    first = json.loads(result.stdout)
    assert first["editing"] == editing_document(editing())
    saved.write_text(result.stdout, encoding="utf-8")
    again = json.loads(CliRunner().invoke(commands, words).stdout)
    assert again == first
