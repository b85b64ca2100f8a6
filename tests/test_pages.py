"""Every page opened by Streamlit's own tester: right photos, wrong photos, both conventions."""

import json
from pathlib import Path

import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from measure.rendering import Camera, Scene, Wound, render
from measure.rendering.plain_ruler import PlainRuler, lay

APP = Path(__file__).parent.parent / "app.py"


@pytest.fixture
def page():
    return AppTest.from_file(str(APP), default_timeout=90).run()


def _upload(page, path, data=None):
    page.file_uploader(key="photo").upload(Path(path).name, data or Path(path).read_bytes(), "image/jpeg")
    return page.run()


def _texts(page):
    kinds = (page.markdown, page.caption, page.success, page.warning, page.error, page.metric)
    return " ".join(f"{getattr(element, 'label', '')} {element.value}" for kind in kinds for element in kind)


def test_first_look_says_how_to_take_the_photo(page):
    assert not page.exception
    assert "Lay the sticker beside it" in _texts(page)
    assert "does not diagnose" in _texts(page)


def test_a_good_photo_gives_verdict_and_numbers(page, first_sample):
    _upload(page, first_sample.photo)
    assert not page.exception
    assert "Sticker found (corner)" in page.success[0].value
    area = float(page.metric[0].value.split()[0])
    assert area == pytest.approx(first_sample.area_cm2, rel=0.15)
    assert page.metric[0].delta.startswith("± ")


def test_the_convention_can_be_changed(page, first_sample):
    _upload(page, first_sample.photo)
    before = page.metric[1].value
    page.radio(key="convention").set_value("head-to-toe").run()
    assert not page.exception
    assert page.metric[1].value != before
    page.radio(key="head").set_value(90).run()
    assert not page.exception


def test_a_photo_without_a_sticker_says_what_to_do(page, tmp_path):
    from PIL import Image

    plain = tmp_path / "plain.jpg"
    Image.new("RGB", (800, 600), (200, 160, 140)).save(plain)
    _upload(page, plain)
    assert not page.exception
    assert "No calibration sticker was found" in page.error[0].value
    assert not page.metric


def test_a_text_file_named_jpg_says_what_it_is(page):
    _upload(page, "note.jpg", b"This is a note.")
    assert not page.exception
    assert "note.jpg" in page.error[0].value


def test_another_photo_replaces_the_first(page, first_sample):
    _upload(page, "note.jpg", b"This is a note.")
    _upload(page, first_sample.photo)
    assert not page.error
    assert page.metric


def test_the_document_to_save_is_that_of_the_command(page, first_sample):
    from measure.photo import read_photo
    from measure.pipeline import complete, prepare
    from measure.report import document

    _upload(page, first_sample.photo)
    expected = document(complete(prepare(read_photo(first_sample.photo))))
    shown = page.metric[0].value
    assert shown == f"{expected['wounds'][0]['area_cm2']['value']:.2f} cm²"
    json.dumps(expected, allow_nan=False)


def test_stickers_can_be_printed(page):
    page.switch_page("measure/pages/stickers.py").run()
    assert not page.exception
    assert [element.value for element in page.subheader] == [
        "Corner, 80 x 60 mm",
        "Strip, 100 x 20 mm",
        "Tile, 26 x 26 mm",
    ]


# A photo that fails a check

SAVE = ["Save numbers (JSON)", "Save picture", "Save picture of tissue"]


def _buttons(page):
    return [button.label for button in page.get("download_button")]


@pytest.fixture
def kept_documents(monkeypatch):
    """Collect the documents that the page offers to save."""
    from streamlit.delta_generator import DeltaGenerator

    offered = []
    real = DeltaGenerator.download_button

    def download_button(self, label, data, *args, **words):
        if label.startswith("Save numbers"):
            offered.append(json.loads(data()))
        return real(self, label, data, *args, **words)

    monkeypatch.setattr(DeltaGenerator, "download_button", download_button)
    return offered


def test_a_good_photo_is_saved_without_a_question(page, first_sample, kept_documents):
    _upload(page, first_sample.photo)
    assert _buttons(page) == SAVE
    assert not page.pills
    assert kept_documents[-1]["acceptance"] is None


def test_a_failed_check_shows_numbers_but_no_way_to_save_yet(page, tilted):
    _upload(page, tilted)
    assert not page.exception
    assert "tilted by 40 degrees: hold it straight" in page.warning[0].value
    assert page.metric[0].value.endswith("cm²")
    assert _buttons(page) == []
    assert "keep it all the same?" in page.subheader[1].value


def test_a_check_of_the_outline_counts_like_one_of_the_photo(page, first_sample, monkeypatch):
    monkeypatch.setattr("measure.checks.MAX_STICKER_MM", 1.0)
    _upload(page, first_sample.photo)
    assert "mm from the wound: move it closer" in page.warning[0].value
    assert _buttons(page) == []
    assert page.pills


def test_a_reason_lets_the_numbers_be_saved_and_goes_with_them(page, tilted, kept_documents):
    _upload(page, tilted)
    page.pills[0].set_value("Best of several").run()
    assert not page.exception
    assert _buttons(page) == SAVE
    assert kept_documents[-1]["acceptance"] == {"reason": "Best of several", "failed_checks": ["tilt"]}


def test_a_reason_in_own_words(page, tilted, kept_documents):
    _upload(page, tilted)
    page.pills[0].set_value("Other").run()
    assert _buttons(page) == []
    page.text_input[0].input("The patient could not wait")
    page.button[0].click().run()
    assert _buttons(page) == SAVE
    assert kept_documents[-1]["acceptance"]["reason"] == "The patient could not wait"


def test_no_words_are_no_reason(page, tilted):
    _upload(page, tilted)
    page.pills[0].set_value("Other").run()
    page.button[0].click().run()
    assert "The reason is empty" in page.error[0].value
    assert _buttons(page) == []


def test_a_reason_does_not_cover_a_check_that_fails_later(page, tilted):
    _upload(page, tilted)
    page.pills[0].set_value("Best of several").run()
    assert _buttons(page) == SAVE
    drawn = next(iter(page.session_state["edited"].values()))
    corner = [[1.0, 1.0], [300.0, 1.0], [300.0, 300.0], [1.0, 300.0]]
    drawn.take({"seq": 1, "edits": 1, "rev": 1, "wounds": [{"outline": corner, "holes": []}]})  # cut by the frame
    page.run()
    assert not page.exception
    assert page.pills[0].value is None
    assert _buttons(page) == []
    assert "Take the photo again if you can" in page.warning[0].value


def test_a_file_name_is_shown_letter_by_letter(page):
    _upload(page, "*a* $x$ :red[b].jpg", b"This is a note.")
    assert "\\*a\\* \\$x\\$ \\:red\\[b\\].jpg" in page.error[0].value


def test_the_reason_outlasts_another_convention(page, tilted):
    _upload(page, tilted)
    page.pills[0].set_value("Best of several").run()
    page.radio(key="convention").set_value("head-to-toe").run()
    assert not page.exception
    assert _buttons(page) == SAVE


def test_another_photo_clears_the_reason(page, tilted):
    """The same pixels in another file: the same checks fail."""
    _upload(page, tilted)
    page.pills[0].set_value("Best of several").run()
    _upload(page, "again.jpg", tilted.read_bytes() + b"\0")
    assert not page.exception
    assert page.warning
    assert _buttons(page) == []


# What the uncertainty is made of


def test_the_page_says_where_most_of_the_uncertainty_comes_from(page, first_sample):
    _upload(page, first_sample.photo)
    assert "Most of the uncertainty comes from how exactly the edge is drawn." in _texts(page)
    assert any("how exactly the edge is drawn" in element.body for element in page.get("html"))


def test_bars_say_in_words_what_their_lengths_say():
    from measure.budget import Part
    from measure.pages.bars import bars

    drawn = bars([Part("lens", 0.6), Part("<b>", 0.4)], 'a "title"')
    assert "the camera's lens" in drawn.replace("&#x27;", "'")
    assert "60 %" in drawn
    assert "width: 60.0%" in drawn
    assert "&lt;b&gt;" in drawn
    assert "&quot;title&quot;" in drawn
    assert "http" not in drawn


def test_a_photo_with_a_ruler_asks_for_a_sticker_and_gives_numbers(page, tmp_path):
    camera = Camera(2016, 1512, distance_mm=170.0, tilt_deg=0.0, aim_mm=(0.0, 10.0))
    rendering = render(Scene(stickers=(), wound=Wound(length_mm=30, width_mm=20), camera=camera, seed=11))
    seen = lay(rendering.pixels, PlainRuler(length_mm=110.0, width_mm=22.0), rendering.homography, at_mm=(0.0, 32.0))
    Image.fromarray(seen.pixels).save(tmp_path / "ruler.jpg", quality=92)
    _upload(page, tmp_path / "ruler.jpg")
    assert not page.exception
    assert "No sticker found, but a ruler" in page.warning[0].value
    assert "a tilted camera could not be corrected" in _texts(page)
    assert page.metric
