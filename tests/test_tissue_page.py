"""What the page shows of tissue and skin, and what a person says of them, by Streamlit's own tester."""

import json
import math
from types import SimpleNamespace

import numpy as np
import pytest
from streamlit.delta_generator import DeltaGenerator
from streamlit.testing.v1 import AppTest
from test_edited import _drawn, _step, _told
from test_pages import APP, _texts

from measure.by_eye import ByEye, parse_by_eye
from measure.culture import NoSite, SwabSite
from measure.hatching import LOOKS, svg_link
from measure.notes import ChosenSkin, Notes
from measure.pages import measuring
from measure.pages.by_eye import earlier_numbers
from measure.pages.edited import Edited
from measure.pages.tissue import (
    Circle,
    Skin,
    Swab,
    Tissue,
    control_shown,
    heard,
    looks,
    shown_in_editor,
    skin_shown,
    swab_shown,
    tissue_of,
)
from measure.pages.tissue_numbers import proportions
from measure.photo import read_photo
from measure.pipeline import prepare
from measure.redness import Band, NoRedness, Redness
from measure.tissue import Said
from tests.stripes import RADIUS, REMINDERS, STRIPES, Part, refused, striped

SQUARE = {"outline": [[100.0, 100.0], [300.0, 100.0], [300.0, 300.0], [100.0, 300.0]], "holes": []}
TAP = {"at": [200.0, 200.0], "tissue": "slough"}


@pytest.fixture
def page(first_sample, monkeypatch):
    monkeypatch.setattr(measuring, "tissue_of", striped)
    return _opened(first_sample)


def _opened(sample):
    opened = AppTest.from_file(str(APP), default_timeout=90).run()
    opened.file_uploader(key="photo").upload("W01.jpg", sample.photo.read_bytes(), "image/jpeg")
    return opened.run()


def _said(drawn, seq=1, **words):
    drawn.take(_step(drawn.wounds, seq=seq, edits=0) | words)


def _html(page):
    return " ".join(element.proto.body for element in page.get("html"))


def _middle(page):
    """Give a place in the middle stripe."""
    region = next(one for one in _told(page)["tissue"]["regions"] if one["tissue"] == "slough")
    xs, ys = zip(*region["rings"][0], strict=True)
    return [sum(xs) / len(xs), sum(ys) / len(ys)]


# What a person said, as the session keeps it


def test_words_are_kept_with_the_step_and_are_no_edits():
    drawn = Edited([SQUARE])
    _said(drawn, taps=[TAP], control=[10.0, 20.0])
    assert (drawn.taps, drawn.control) == ([TAP], [10.0, 20.0])
    assert drawn.touched
    assert drawn.outlines(checked=False) is None  # a proposal stays a proposal
    _said(drawn, seq=2, taps=[], control=None)
    assert not drawn.touched


def test_a_sweep_leaves_what_was_said_as_the_browser_holds_it(first_sample):
    drawn, photo = Edited([SQUARE]), prepare(read_photo(first_sample.photo), propose=False).photo
    request = {"kind": "add", "wounds": [SQUARE], "stroke": [[300.0, 200.0]], "radius": 50.0, "edits": 1, "seq": 7}
    drawn.answer(photo, request | {"taps": [TAP], "control": None})
    assert (drawn.seq, drawn.taps) == (7, [TAP])


def test_the_pipeline_hears_who_said_what():
    assert heard(Edited([SQUARE]), "AB") == Notes()
    drawn = Edited([SQUARE], taps=[TAP], control=[10.0, 20.0])
    assert heard(drawn, "AB") == Notes((Said((200.0, 200.0), "slough", "AB"),), ChosenSkin((10.0, 20.0), "AB"))


# What the editor is told


def test_the_editor_is_told_the_looks_once_and_the_regions(page):
    told = _told(page)
    assert told["looks"] == looks()
    assert [look["tissue"] for look in told["looks"]] == list(LOOKS)
    assert [region["tissue"] for region in told["tissue"]["regions"]] == [name for name, _ in STRIPES]
    assert sum(told["tissue"]["percent"][0].values()) == pytest.approx(100, abs=0.2)
    assert [circle["radius"] for circle in told["tissue"]["controls"]] == [RADIUS]
    assert told["tissue"]["swabs"] == []


def test_a_photo_without_colour_says_why_there_is_no_tissue(first_sample, monkeypatch):
    monkeypatch.setattr(measuring, "tissue_of", refused)
    page = _opened(first_sample)
    assert not page.exception
    assert "its colours tell nothing" in _texts(page)
    assert "its colours tell nothing" in _told(page)["tissue"]["trouble"]
    assert page.number_input  # what a person sees needs no colours


def test_a_circle_is_drawn_for_the_swab_only_if_a_culture_is_ordered():
    tissue = Tissue(swabs=(Swab("There is no place."), Swab("Here.", Circle((5.0, 6.0), 7.0))))
    assert shown_in_editor(tissue, culture=False)["swabs"] == []
    assert shown_in_editor(tissue, culture=True)["swabs"] == [{"at": [5.0, 6.0], "radius": 7.0}]
    assert shown_in_editor(None, culture=True) is None


def test_skin_that_cannot_be_used_is_told_where_a_person_chose_it():
    refusal, chosen = NoRedness("No skin."), Notes(control=ChosenSkin((10.0, 20.0), "AB"))
    found = {"flags": (), "mm_per_px": 0.1, "tissue": (), "swabs": (), "redness": (refusal,)}
    assert tissue_of(SimpleNamespace(**found, notes=Notes())).skin_trouble == ""
    told = tissue_of(SimpleNamespace(**found, notes=chosen))
    assert shown_in_editor(told, culture=False)["skinTrouble"] == "No skin."


# Redness and swab in the words of the page


def _redness():
    bands = (Band(0.0, 5.0, 3.21, {"mottling": 0.9}, 1.0), Band(5.0, 10.0, math.nan, {"mottling": math.nan}, 0.1))
    return Redness(
        control_px=(40.0, 50.0),
        control_radius_mm=4.5,
        chosen=False,
        control_away_mm=30.0,
        control_lab=np.array((60.0, 12.0, 18.0)),
        ita_deg=35.2,
        ita_sigma=2.1,
        skin_class="intermediate",
        bands=bands,
        sentences=("Look.",),
    )


def test_redness_is_told_by_place_with_the_tone_and_the_cautions():
    skin = skin_shown(_redness())
    assert skin.rows == (("0 to 5 mm from the edge", "+3.2 ± 1.8"), ("5 to 10 mm from the edge", "not seen"))
    assert skin.sentences == ("Skin compared with: intermediate, typology angle (ITA) 35 ± 4°.", "Look.")
    assert control_shown(_redness(), mm_per_px=0.1) == Circle((40.0, 50.0), pytest.approx(45.0))


def test_without_skin_to_compare_with_only_the_reason_is_told():
    assert skin_shown(NoRedness("No skin.")) == Skin(sentences=("No skin.",))
    assert control_shown(NoRedness("No skin."), mm_per_px=0.1) is None


def test_a_swab_is_a_sentence_and_where_there_is_a_place_a_circle():
    site = SwabSite((5.0, 6.0), 12.0, roomy=True)
    assert swab_shown(site, mm_per_px=0.5) == Swab(site.sentence, Circle((5.0, 6.0), 12.0))
    assert swab_shown(NoSite("Nowhere."), mm_per_px=0.5) == Swab("Nowhere.")


# On the page


def test_proportions_are_words_figures_and_hatched_bars():
    shown = proportions({"granulation": Part(68.2, 4.6), "slough": Part(31.8, 4.6), "necrotic": Part(0.0, 1.0)})
    assert "Granulation" in shown
    assert "68 ± 9 %" in shown
    assert "Necrotic" not in shown
    assert svg_link(LOOKS["granulation"]) in shown
    assert "width: 68.2%" in shown


def test_what_is_seen_by_eye_stands_beside_what_was_measured():
    shown = proportions({"granulation": Part(68.2), "necrotic": Part(0.0)}, ByEye("KL", {"necrotic": 100}))
    assert "by eye 0 ± 14 %" in shown  # twice 6.88
    assert "by eye 100 ± 14 %" in shown
    assert "68 ± 9 %" in shown


def test_the_section_says_what_was_set_by_hand(page):
    assert "Tissue" in [heading.value for heading in page.subheader]
    assert "set by hand" not in _texts(page)
    _said(_drawn(page), taps=[{"at": _middle(page), "tissue": "granulation"}], control=None)
    page.run()
    assert not page.exception
    assert "1 region set by hand." in _texts(page)
    assert "Slough" not in _html(page)
    assert _told(page)["unsaved"]
    assert page.text_input(key="who-edits")  # a word is somebody's


def _estimate(page, *percent):
    for number, value in enumerate(percent):
        page.number_input[number].set_value(value)
    return page.run()


@pytest.mark.parametrize(
    ("percent", "said"),
    [
        ((), "Together they have to be 100 %."),
        ((60, 35), "Together 95 %: 5 % still missing."),
        ((60, 50), "Together 110 %: 10 % too much, take some away."),
    ],
)
def test_an_estimate_says_what_is_missing(page, percent, said):
    _estimate(page, *percent)
    assert said in _texts(page)
    assert "by eye" not in _html(page)
    assert not _told(page)["unsaved"]


def test_an_estimate_stands_beside_the_measured_and_survives_another_page(page):
    _estimate(page, 60, 40)
    assert "Your estimate stands beside what was measured." in _texts(page)
    assert "by eye 60 ± 14 %" in _html(page)
    assert _told(page)["unsaved"]
    page.switch_page("measure/pages/stickers.py").run()
    page.switch_page("measure/pages/photo.py").run()
    assert not page.exception
    assert "by eye 60 ± 14 %" in _html(page)


def test_an_estimate_goes_with_its_wound_and_never_to_another(page):
    def slough(seq, *wounds):
        _drawn(page).take(_step(list(wounds), seq=seq))
        page.run()
        assert not page.exception
        return [page.session_state[f"eye-{photo}-{number}-slough"] for number in range(len(wounds))]

    (photo,) = page.session_state["edited"]
    other, moved, new = (_moved(SQUARE, by) for by in (500, 520, 1000))
    assert slough(1, SQUARE, other) == [0, 0]
    page.number_input(key=f"eye-{photo}-1-slough").set_value(100).run()
    assert slough(2, SQUARE, moved) == [0, 100]
    assert slough(3, moved) == [100]
    assert slough(4, SQUARE, moved) == [0, 100]
    assert slough(5, SQUARE, new) == [0, 0]


def _moved(wound, right):
    return {**wound, "outline": [[x + right, y] for x, y in wound["outline"]]}


def test_wounds_are_known_again_by_their_place():
    square, other = SQUARE["outline"], _moved(SQUARE, 500)["outline"]
    crossing = [[100.0, 100.0], [300.0, 300.0], [300.0, 100.0], [100.0, 300.0]]
    assert earlier_numbers([square, other], [other, crossing, []]) == [1, 0, None]
    assert earlier_numbers([square], [_moved(SQUARE, 150)["outline"], _moved(SQUARE, 10)["outline"]]) == [None, 0]
    assert earlier_numbers([], [square]) == [None]


def test_the_file_holds_words_estimate_and_skin_with_initials(page, monkeypatch):
    offered = []
    real = DeltaGenerator.download_button

    def download_button(self, label, data, *args, **words):
        offered.append(data)
        return real(self, label, data, *args, **words)

    monkeypatch.setattr(DeltaGenerator, "download_button", download_button)
    tap = {"at": _middle(page), "tissue": "granulation"}
    _said(_drawn(page), taps=[tap], control=[50.0, 60.0])
    _estimate(page, 60, 40)
    page.text_input(key="who-edits").input("KL")
    page.button[0].click().run()
    assert not page.exception
    saved = json.loads(offered[0]())
    assert saved["tissue_said"] == [tap | {"by": "KL"}]
    assert saved["control"] == {"at": [50.0, 60.0], "by": "KL"}
    assert parse_by_eye(saved["wounds"][0]) == ByEye("KL", {"granulation": 60, "slough": 40})


def test_the_skin_round_the_wound_is_a_table_in_words(page):
    page.toggle[0].set_value(True).run()
    assert "**Skin around the wound**" in [said.value for said in page.markdown]
    assert any("+3.2 ± 1.8" in table.value.to_string() for table in page.table)
    assert "that was found" in _texts(page)
    _said(_drawn(page), taps=[], control=[50.0, 60.0])
    page.run()
    assert "that you chose" in _texts(page)
    assert _told(page)["tissue"]["controls"] == [{"at": [50.0, 60.0], "radius": RADIUS}]
    assert "Compare the skin around the wound" not in [toggle.label for toggle in page.toggle]


def test_reminders_come_with_the_culture(page):
    assert REMINDERS[0] not in _texts(page)
    page.toggle[1].set_value(True).run()
    assert REMINDERS[0] in _texts(page)
    assert "swab the marked circle" in _texts(page)
    assert [circle["radius"] for circle in _told(page)["tissue"]["swabs"]] == [RADIUS]
