"""Every page opened by Streamlit's own tester: right photos, wrong photos, both conventions."""

import json
from pathlib import Path

import pytest
from PIL import Image
from rendering import Camera, Scene, Wound, render
from rendering.plain_ruler import PlainRuler, lay
from streamlit.testing.v1 import AppTest

APP = Path(__file__).parent.parent / "app.py"


@pytest.fixture
def page():
    return AppTest.from_file(str(APP), default_timeout=30).run()


def _upload(page, path, data=None):
    page.file_uploader(key="photo").upload(Path(path).name, data or Path(path).read_bytes(), "image/jpeg")
    return page.run()


def _texts(page):
    kinds = (page.markdown, page.caption, page.success, page.warning, page.error, page.metric)
    return " ".join(f"{getattr(element, 'label', '')} {element.value}" for kind in kinds for element in kind)


def test_first_look_says_how_to_take_the_photo(page):
    assert not page.exception
    assert "sticker flat" in _texts(page)
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
