"""What a person has drawn on a photo, as the session keeps it and the page measures it."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from streamlit.delta_generator import DeltaGenerator
from streamlit.testing.v1 import AppTest
from test_pages import APP, _buttons, _texts

from measure.editing import Editing
from measure.outline import document, parse_outlines, polygon
from measure.pages import outline_editor
from measure.pages.edited import Edited
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.snap import SNAP_REACH

SQUARE = {"outline": [[100.0, 100.0], [300.0, 100.0], [300.0, 300.0], [100.0, 300.0]], "holes": []}


@pytest.fixture(scope="module")
def prepared(first_sample):
    return prepare(read_photo(first_sample.photo))


@pytest.fixture
def page(first_sample):
    opened = AppTest.from_file(str(APP), default_timeout=90).run()
    opened.file_uploader(key="photo").upload("W01.jpg", first_sample.photo.read_bytes(), "image/jpeg")
    return opened.run()


def _drawn(page):
    (drawn,) = page.session_state["edited"].values()
    return drawn


def _step(wounds, seq=1, edits=1):
    return {"wounds": wounds, "seq": seq, "edits": edits, "rev": 1}


def _shifted(outlines, step):
    wounds = document(outlines)["wounds"]
    return [{**wound, "outline": (np.array(wound["outline"]) + step).tolist()} for wound in wounds]


# Steps and requests


def test_the_proposal_stands_until_somebody_edits(prepared):
    drawn = Edited([SQUARE])
    assert drawn.outlines(checked=False) is None
    assert drawn.editing("KL", prepared, checked=False) is None


def test_a_step_is_kept_and_an_older_one_is_not():
    drawn = Edited([])
    drawn.take(_step([SQUARE], seq=3, edits=2))
    drawn.take(_step([], seq=2))
    drawn.take(_step([], seq=3))
    assert (drawn.wounds, drawn.seq, drawn.edits) == ([SQUARE], 3, 2)


def test_an_edited_outline_carries_who_edited_and_what_was_proposed(prepared):
    drawn = Edited([])
    drawn.take(_step([SQUARE], edits=4))
    editing = drawn.editing("KL", prepared, checked=False)
    assert isinstance(editing, Editing)
    assert (editing.by, editing.edits, editing.proposed) == ("KL", 4, prepared.outlines)
    assert polygon(drawn.outlines(checked=False)[0]).area == 200 * 200


@pytest.mark.parametrize(("kind", "sign"), [("add", 1), ("remove", -1)])
def test_a_sweep_is_answered_and_kept_at_once(prepared, kind, sign):
    """A disc half inside the square: half of pi 50**2 is added or removed, less what the brush's corners take."""
    drawn = Edited([])
    request = {"kind": kind, "wounds": [SQUARE], "stroke": [[300.0, 200.0]], "radius": 50.0, "edits": 1, "seq": 7}
    drawn.answer(prepared.photo, request)
    assert drawn.reply["seq"] == drawn.seq == 7
    assert drawn.reply["wounds"] == drawn.wounds
    assert polygon(drawn.outlines(checked=False)[0]).area == pytest.approx(
        200 * 200 + sign * np.pi * 50**2 / 2, abs=250
    )


def test_a_sweep_beside_the_wound_says_that_nothing_changed(prepared):
    drawn = Edited([])
    request = {"kind": "remove", "wounds": [SQUARE], "stroke": [[900.0, 900.0]], "radius": 50.0, "edits": 1, "seq": 7}
    drawn.answer(prepared.photo, request)
    assert "changed nothing" in drawn.reply["trouble"]
    assert drawn.seq == 0


def test_a_sweep_that_can_not_be_drawn_is_a_sentence(prepared):
    drawn = Edited([])
    request = {"kind": "add", "wounds": [SQUARE], "stroke": [], "radius": 50.0, "edits": 1, "seq": 7}
    drawn.answer(prepared.photo, request)
    assert drawn.reply["trouble"].endswith("draw it again.")
    assert "wounds" not in drawn.reply


def test_a_request_sent_again_is_answered_once(prepared):
    drawn = Edited([])
    request = {"kind": "add", "wounds": [SQUARE], "stroke": [[300.0, 200.0]], "radius": 50.0, "edits": 1, "seq": 7}
    drawn.answer(prepared.photo, request)
    first = drawn.reply
    drawn.answer(prepared.photo, request)
    assert drawn.reply is first


def test_a_path_along_the_edge_begins_and_ends_near_the_taps(prepared):
    ring = prepared.outlines[0].exterior
    drawn = Edited([])
    ends = ring[0].tolist(), ring[len(ring) // 8].tolist()
    drawn.answer(prepared.photo, {"kind": "follow", "from": ends[0], "to": ends[1], "seq": 2})
    path = drawn.reply["path"]
    reach = 2 * SNAP_REACH * math.dist(*ends)
    assert math.dist(path[0], ends[0]) < reach
    assert math.dist(path[-1], ends[1]) < reach
    assert len(path) > 2
    json.dumps(drawn.reply, allow_nan=False)


# On the page


def _told(page):
    """Give what the page tells the editor."""
    return json.loads(page.get("bidi_component")[0].proto.json)


def test_the_editor_is_told_numbers_lines_and_what_is_kept(page, prepared):
    assert _told(page)["proposal"] == _told(page)["wounds"] == document(prepared.outlines)["wounds"]
    _drawn(page).take(_step(_shifted(prepared.outlines, (0.0, 40.0)), seq=3))
    page.run()
    told = _told(page)
    assert told["saved"] == 3
    assert told["numbers"][0].startswith(page.metric[0].value.split()[0] + " ± ")
    assert [line["name"] for line in told["lines"]] == ["L", "W"]
    length = math.dist(*told["lines"][0]["ends"]) * prepared.calibration.plane.mm_per_px(
        np.mean(told["lines"][0]["ends"], axis=0)
    )
    assert length / 10 == pytest.approx(float(page.metric[1].value.split(" x ")[0]), rel=0.03)


def test_leaving_would_lose_edits_or_a_kept_reason(page, prepared, tilted):
    assert not _told(page)["unsaved"]
    _drawn(page).take(_step(_shifted(prepared.outlines, (0.0, 40.0))))
    page.run()
    assert _told(page)["unsaved"]
    _drawn(page).take(_step(document(prepared.outlines)["wounds"], seq=2, edits=0))
    page.run()
    assert not _told(page)["unsaved"]
    page.file_uploader(key="photo").upload("tilted.jpg", tilted.read_bytes(), "image/jpeg")
    page.run()
    assert not _told(page)["unsaved"]
    page.pills[0].set_value("Best of several").run()
    assert _told(page)["unsaved"]


def test_every_file_of_the_script_is_joined_once():
    files = {path.stem for path in Path(outline_editor.__file__).parent.glob("*.js")}
    assert sorted(outline_editor._ORDER) == sorted(files)


def test_the_editor_stands_on_the_page(page):
    (component,) = page.get("bidi_component")
    assert component.proto.component_name == "outline_editor"


def test_the_numbers_are_those_of_what_is_drawn(page, prepared):
    moved = _shifted(prepared.outlines, (0.0, 40.0))
    _drawn(page).take(_step(moved))
    page.run()
    assert not page.exception
    (wound,) = complete(prepared, parse_outlines({"wounds": moved}, 10**5, 10**5)).wounds
    assert page.metric[0].value == f"{wound.area.scaled(0.01, 'cm2').value:.2f} cm²"


def test_an_outline_that_crosses_itself_is_kept_and_told(page):
    bow = {"outline": [[1000, 1000], [1600, 1600], [1600, 1000], [1000, 1600]], "holes": []}
    _drawn(page).take(_step([bow]))
    page.run()
    assert not page.exception
    assert "The outline crosses itself near (1300, 1300)" in page.error[0].value
    assert not page.metric
    assert _buttons(page) == []
    assert _drawn(page).wounds == [bow]


def test_without_any_wound_the_page_asks_to_draw_one(page):
    _drawn(page).take(_step([]))
    page.run()
    assert not page.exception
    assert "Draw its edge on the photo" in page.warning[0].value
    assert _buttons(page) == []


def test_edits_are_saved_once_it_is_said_who_edited(page, prepared):
    _drawn(page).take(_step(_shifted(prepared.outlines, (0.0, 4.0))))
    page.run()
    assert _buttons(page) == []
    page.text_input(key="who-edits").input("  ")
    page.button[0].click().run()
    assert "give your initials or staff code" in page.error[0].value
    page.text_input(key="who-edits").input(" KL ")
    page.button[0].click().run()
    assert not page.exception
    assert _buttons(page) == ["Save numbers (JSON)", "Save picture", "Save picture of tissue"]
    assert "Outline edited or checked by **KL**" in _texts(page)
    page.switch_page("measure/pages/stickers.py").run()
    page.switch_page("measure/pages/photo.py").run()
    assert "Outline edited or checked by **KL**" in _texts(page)
    page.button[0].click().run()
    assert _buttons(page) == []


def _area_u(page):
    return float(page.metric[0].delta.split()[1])


def test_an_edit_elsewhere_leaves_the_rest_of_the_edge_as_unsure_as_it_was(page, prepared):
    """One point of many is moved a little: nine tenths of the edge are still nobody's but the computer's."""
    before = _area_u(page)
    wounds = document(prepared.outlines)["wounds"]
    wounds[0]["outline"][0][0] += 4.0
    wounds[0]["outline"][0][1] += 4.0
    _drawn(page).take(_step(wounds))
    page.run()
    assert _area_u(page) > 0.8 * before
    assert "is still as the computer proposed it" in _texts(page)


def test_a_person_who_says_that_the_line_is_right_takes_it_over(page):
    before = _area_u(page)
    page.checkbox[0].check().run()
    assert _area_u(page) < 0.7 * before
    assert "proposed by the computer" not in _texts(page)
    assert _buttons(page) == []  # until it is said who
    page.text_input(key="who-edits").input("KL")
    page.button[0].click().run()
    assert _buttons(page) == ["Save numbers (JSON)", "Save picture", "Save picture of tissue"]


def test_a_file_asked_for_holds_the_edit_that_came_a_moment_before(page, prepared, monkeypatch):
    offered = []
    real = DeltaGenerator.download_button

    def download_button(self, label, data, *args, **words):
        offered.append(data)
        return real(self, label, data, *args, **words)

    monkeypatch.setattr(DeltaGenerator, "download_button", download_button)
    page.run()
    _drawn(page).take(_step(_shifted(prepared.outlines, (0.0, 40.0))))  # no run of the page since
    saved = json.loads(offered[0]())
    assert saved["editing"]["edits"] == 1
    assert saved["wounds"][0]["outline"] == _shifted(prepared.outlines, (0.0, 40.0))[0]["outline"]


def test_no_wound_is_left_says_so_and_not_that_none_was_found(page):
    _drawn(page).take(_step([]))
    page.run()
    assert "No wound is drawn any more" in page.warning[0].value
    assert "could be proposed" not in _texts(page)


def test_another_page_and_back_loses_neither_photo_nor_edits_nor_answers(page, prepared):
    _drawn(page).take(_step(_shifted(prepared.outlines, (0.0, 40.0))))
    page.radio(key="convention").set_value("head-to-toe").run()
    before = [metric.value for metric in page.metric]
    page.switch_page("measure/pages/stickers.py").run()
    page.switch_page("measure/pages/photo.py").run()
    assert not page.exception
    assert [metric.value for metric in page.metric] == before


def test_a_photo_is_prepared_once(page, monkeypatch):
    def again(*_):
        pytest.fail("the photo was prepared again")

    monkeypatch.setattr("measure.pages.opened.prepare", again)
    page.radio(key="convention").set_value("head-to-toe").run()
    assert not page.exception
    assert page.metric
