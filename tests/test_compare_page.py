"""The page *Compare*, by Streamlit's own tester, on a record with two visits."""

import re
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import streamlit as st
from shapely.geometry import Point
from streamlit.testing.v1 import AppTest
from two_visits import KEY, fill

import measure
from measure.compare.advance import Doubt, advance
from measure.compare.advance_chart import advance_chart, png
from measure.compare.advance_words import advance_words, fit_words
from measure.compare.fitting import Fit
from measure.compare.pair import Pictures
from measure.compare.picture import side_by_side
from measure.compare.placement import Placement
from measure.kept_photos import KEPT
from measure.pages import held, laid_over, wound_head
from measure.server import DATA_VARIABLE

PAGE = Path(measure.__file__).parent / "pages" / "compare.py"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("record")
    fill(where)
    return where


@pytest.fixture
def told(folder, monkeypatch):
    """Give what the browser is told, the page's wound chosen without the pages beside it."""
    monkeypatch.setenv(DATA_VARIABLE, str(folder))
    monkeypatch.setattr(wound_head, "wound_head", lambda _: held.record().wound(KEY))
    heard = []
    monkeypatch.setattr(laid_over, "laid_over", lambda key, data: heard.append((key, data)))
    return heard


def opened():
    page = AppTest.from_file(str(PAGE), default_timeout=60).run()
    assert not page.exception
    return page


def texts(page):
    return " ".join(element.value for kind in (page.markdown, page.caption, page.info, page.error) for element in kind)


def test_the_first_and_the_last_visit_are_compared(told):
    page = opened()
    said = texts(page)
    assert re.search(r"advanced into the wound by (2\.9|3\.[01]) ± 0\.\d mm \(k = 2\), 0\.7 mm a week", said)
    assert "by the skin round the wound" in said
    key, data = told[-1]
    assert key == "laid-over-1-2"
    assert [data[side]["title"] for side in ("earlier", "later")] == ["Earlier · 4 Mar 2026", "Later · 4 Apr 2026"]
    link = re.fullmatch(r"/photo/(\w+)/(\w+)\.jpg\?signature=(\w+)", data["later"]["picture"])
    picture = cv2.imdecode(np.frombuffer(KEPT.picture(*link.groups()), np.uint8), cv2.IMREAD_COLOR)
    assert picture.shape[:2] == (data["height"], data["width"])
    for side in ("earlier", "later"):
        ring = np.array(data[side]["rings"][0])
        assert (ring > 0).all()
        assert (ring < (data["width"], data["height"])).all()


def test_a_second_run_lays_nothing_out_again(told, monkeypatch):
    opened()
    monkeypatch.setattr("measure.pages.compared.aligned", lambda *_: pytest.fail("laid out again"))
    monkeypatch.setattr("measure.pages.compared.advance_chart", lambda *_: pytest.fail("drawn again"))
    opened()
    assert told[-1][1] == told[0][1] | {
        side: told[0][1][side] | {"picture": told[-1][1][side]["picture"]} for side in ("earlier", "later")
    }


@pytest.mark.usefixtures("told")
def test_a_turn_by_hand_and_back():
    page = opened()
    turn = page.number_input(key="compare-turn-P014/1-1-2")
    assert turn.value == pytest.approx(9, abs=0.3)
    page = turn.set_value(25.0).run()
    assert not page.exception
    assert "Turned by hand" in texts(page)
    page = page.button(key="compare-turn-P014/1-1-2-back").click().run()
    assert "Turned by hand" not in texts(page)
    assert page.number_input(key="compare-turn-P014/1-1-2").value == pytest.approx(9, abs=0.3)


@pytest.mark.usefixtures("told")
def test_the_clock_follows_the_head():
    page = opened()
    before = re.search(r"Most at (\d+) o'clock", texts(page))[1]
    page = page.segmented_control[0].set_value("Right").run()
    after = re.search(r"Most at (\d+) o'clock", texts(page))[1]
    assert (int(before) - 3 - int(after)) % 12 == 0
    assert "Until that is known" not in texts(page)


def test_one_visit_can_not_be_compared(told, monkeypatch):
    whole = held.visits_read
    monkeypatch.setattr(held, "visits_read", lambda wound: whole(wound)[:1])
    page = opened()
    assert "Two measured visits with photos are needed" in texts(page)
    assert not told


@pytest.mark.usefixtures("told")
def test_a_scale_from_a_ruler_is_told(monkeypatch):
    visits = held.record().visits(held.record().wound(KEY).id)
    last = visits[1].measurements[-1]
    document = {**last.document, "calibration": {**last.document["calibration"], "source": "ruler"}}
    by_ruler = replace(visits[1], measurements=(replace(last, id=99, document=document),))
    monkeypatch.setattr(held, "visits_read", lambda _: [visits[0], by_ruler])
    st.cache_data.clear()
    page = opened()
    assert "The photo of 4 Apr 2026 has its scale from a ruler, not from a sticker" in page.error[0].value


# Words


def circle(radius, x=0.0):
    return Point(x, 0).buffer(radius, quad_segs=64)


@pytest.mark.parametrize(
    ("later", "said"),
    [
        (circle(15), "On average the edge advanced into the wound by 5.0 ± 0.8 mm (k = 2), 1.2 mm a week."),
        (circle(23), "On average the edge moved outward, the wound grew, by 3.0 ± 0.8 mm (k = 2), 0.7 mm a week."),
        (circle(19.9), "On average the edge did not move by more than its uncertainty: +0.1 ± 0.8 mm (k = 2)."),
    ],
)
def test_the_mean_is_said_by_its_sign_and_its_uncertainty(later, said):
    found = advance(circle(20), later, Doubt(edges_mm=(0.3, 0.3)))
    assert advance_words(found, 28.0)[0] == said


def test_a_week_is_named_only_after_one():
    found = advance(circle(20), circle(15), Doubt())
    assert "a week" not in advance_words(found, 3.0)[0]


def fit(**words):
    return Fit(Placement(), **({"method": "outlines", "turn_deg": -88.0, "shift_mm": (-1.0, 2.0)} | words))


def test_the_fit_says_what_is_doubtful():
    said = " ".join(fit_words(fit(turn_sigma_deg=1.0, shift_sigma_mm=0.5, other_turn_deg=92.0)))
    assert "can't be told from a shift" in said
    assert "turned by -88.0° ± 2.0°" in said
    assert "1.0 mm to the left and 2.0 mm down (± 1.0 mm)" in said
    assert "along another side" in said
    assert "Turned by +92° the outlines fit about as well" in said
    assert "along another side" not in " ".join(fit_words(fit(method="hand", turn_sigma_deg=2.0, shift_sigma_mm=0.5)))


# Pictures


def test_the_chart_stands_as_the_pictures_do():
    """A wound that healed on the left alone: 9 o'clock is drawn on the left, 12 above the middle."""
    found = advance(circle(20), circle(16, x=4), Doubt(edges_mm=(0.2, 0.2)))
    figure = advance_chart(found, circle(20), circle(16, x=4))
    above = figure.axes[0]
    bottom, top = above.get_ylim()
    assert bottom > top  # y is down
    places = {label.get_text().split("\n")[0]: label.get_position() for label in above.texts}
    assert places["9"][0] < -20 < 20 < places["3"][0]
    assert places["12"][1] < -20 < 20 < places["6"][1]
    assert png(figure).startswith(b"\x89PNG")


def test_the_picture_to_keep_shows_both_with_dates_and_scale():
    pixels = [np.full((300, 400, 3), value, np.uint8) for value in (90, 160)]
    pictures = Pictures(*pixels, np.array([-40.0, -30.0]), 0.2)
    made = side_by_side(pictures, circle(20), circle(15), ("Earlier · 4 Mar", "Later · 1 Apr"), ("P014/1", "mean"))
    height, width = made.shape[:2]
    assert width > 1600  # twice 400 px, made larger so that words fit
    assert height > 600
    for middle, value in ((width // 4, 90), (3 * width // 4, 160)):
        np.testing.assert_array_equal(made[300, middle], value)
    row = made[300]
    for half in (row[: width // 2], row[width // 2 :]):
        assert (np.abs(half.astype(int) - (64, 224, 255)).sum(axis=1) < 30).any()  # the later edge is in both
