"""The pages in a real browser: a phone's screen, touch, keyboard, and no request to anywhere else."""

import json

import pytest
from serving import CHROMIUM

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]


def _opened(browser, address):
    """Open a page on a phone's screen, and keep every address that it asked."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.asked = []
    page.on("request", lambda request: page.asked.append(request.url))
    page.goto(address)
    page.get_by_test_id("stFileUploader").wait_for()
    return page


def _upload(page, path):
    page.set_input_files("input[type=file]", str(path))


@pytest.fixture
def phone(browser, address):
    """Open a page that nobody has used."""
    page = _opened(browser, address)
    yield page
    page.context.close()


@pytest.fixture(scope="module")
def empty(browser, address):
    """Open a page for tests that choose no photo."""
    page = _opened(browser, address)
    yield page
    page.context.close()


@pytest.fixture(scope="module")
def measured(browser, address, first_sample):
    """Open a page with a photo and its numbers, for tests that change nothing of it."""
    page = _opened(browser, address)
    _upload(page, first_sample.photo)
    page.get_by_test_id("stMetricValue").first.wait_for()
    page.get_by_role("button", name="Save picture", exact=True).wait_for()
    yield page
    page.context.close()


def test_a_photo_becomes_numbers(measured, first_sample):
    card = measured.get_by_test_id("stMetric").filter(has_text="Area")  # by name: a run that goes on draws it anew
    area = float(card.get_by_test_id("stMetricValue").inner_text().split()[0])
    assert area == pytest.approx(first_sample.area_cm2, rel=0.15)
    assert "Sticker found (corner)" in measured.get_by_test_id("stAlert").inner_text()


def test_the_result_can_be_saved(measured):
    with measured.expect_download() as download:
        measured.get_by_role("button", name="Save numbers (JSON)").tap()
    with open(download.value.path(), encoding="utf-8") as file:  # noqa: PTH123 - playwright returns a path of its own
        saved = json.load(file)
    assert saved["calibration"]["source"] == "sticker"
    with measured.expect_download() as download:
        measured.get_by_role("button", name="Save picture", exact=True).tap()
    assert download.value.suggested_filename.endswith(".jpg")


def test_nothing_is_wider_than_the_phone(measured):
    assert measured.evaluate("document.documentElement.scrollWidth") <= 390


def test_buttons_are_large_enough_for_a_gloved_finger(empty, measured):
    """44 CSS px (WCAG 2.2, 2.5.5 Target Size, enhanced)."""
    assert (
        empty.get_by_test_id("stFileUploader").get_by_test_id("stBaseButton-secondary").bounding_box()["height"] >= 44
    )
    for name in ("Save numbers (JSON)", "Save picture"):
        assert measured.get_by_role("button", name=name, exact=True).bounding_box()["height"] >= 44


def test_the_chooser_offers_the_camera_and_takes_heic(empty):
    accepted = empty.locator("input[type=file]").get_attribute("accept")
    assert "image/*" in accepted
    assert ".heic" in accepted


def test_a_bad_file_is_answered_with_a_sentence(phone, tmp_path):
    note = tmp_path / "note.jpg"
    note.write_text("This is a note.", encoding="utf-8")
    _upload(phone, note)
    phone.get_by_test_id("stAlert").wait_for()
    said = phone.get_by_test_id("stAlert").inner_text()
    assert "note.jpg" in said
    assert "Traceback" not in said


def test_the_upload_is_reached_by_keyboard(empty):
    for _ in range(12):
        empty.keyboard.press("Tab")
        if "Upload" in empty.evaluate("document.activeElement.innerText"):
            return
    pytest.fail("the upload button can't be reached by Tab")


def test_no_request_leaves_the_machine(phone, address, first_sample):
    _upload(phone, first_sample.photo)
    phone.get_by_test_id("stMetricValue").first.wait_for()
    phone.goto(f"{address}/stickers")
    phone.get_by_text("Print stickers").wait_for()
    outside = [url for url in phone.asked if not url.startswith((address, "data:", "blob:"))]
    assert not outside


def test_a_sheet_can_be_fetched(phone, address):
    phone.goto(f"{address}/stickers")
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Sheet of corner stickers (PDF)").tap()
    with open(download.value.path(), "rb") as file:  # noqa: PTH123 - playwright returns a path of its own
        assert file.read(4) == b"%PDF"


# A photo that fails a check


def _text_of_chooser(page):
    """Return what stands on the button that takes another photo; the style sheet writes it."""
    button = page.get_by_test_id("stFileUploader").get_by_role("button", name="Add files")
    return button, button.evaluate("button => getComputedStyle(button, '::after').content")


def test_the_next_step_stands_on_the_first_screen(phone, tilted):
    """Without scrolling: what is wrong, and a button to take the photo again; 44 CSS px as above."""
    _upload(phone, tilted)
    phone.get_by_test_id("stMetricValue").first.wait_for()
    assert "hold it straight" in phone.get_by_test_id("stAlert").inner_text()
    button, text = _text_of_chooser(phone)
    assert text == '"Take it again"'
    place = button.bounding_box()
    assert place["height"] >= 44
    assert place["width"] >= 300
    assert place["y"] + place["height"] <= 844
    assert phone.get_by_label("Remove tilted.jpg").bounding_box()["height"] >= 44


def test_a_failing_photo_is_kept_with_a_reason(phone, tilted):
    _upload(phone, tilted)
    choices = phone.get_by_role("radiogroup", name="Why is this photo kept?").get_by_role("radio")
    choices.first.wait_for()
    assert phone.get_by_role("button", name="Save numbers (JSON)").count() == 0
    assert choices.count() == 4
    for number in range(4):
        assert choices.nth(number).bounding_box()["height"] >= 44
    choices.get_by_text("No second photo was possible").tap()
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Save numbers (JSON)").tap()
    with open(download.value.path(), encoding="utf-8") as file:  # noqa: PTH123 - playwright returns a path of its own
        saved = json.load(file)
    assert saved["acceptance"] == {"reason": "No second photo was possible", "failed_checks": ["tilt"]}


def test_other_words_need_one_tap_more(phone, tilted):
    _upload(phone, tilted)
    phone.get_by_role("radio", name="Other").tap()
    words = phone.get_by_label("In a few words")
    words.fill("The patient could not wait")
    keep = phone.get_by_role("button", name="Keep it for this reason")
    assert words.bounding_box()["height"] >= 44
    assert keep.bounding_box()["height"] >= 44
    keep.tap()
    phone.get_by_role("button", name="Save numbers (JSON)").wait_for()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_same_chooser_takes_the_photo_again(phone, tilted, first_sample):
    _upload(phone, tilted)
    phone.get_by_role("radio", name="Other").tap()
    _upload(phone, first_sample.photo)
    phone.get_by_text("Sticker found (corner)").wait_for()
    phone.get_by_role("button", name="Save numbers (JSON)").wait_for()
    assert phone.get_by_role("radio", name="Other").count() == 0
    assert _text_of_chooser(phone)[1] == '"Take or choose another photo"'


def test_the_bars_of_the_budget_are_drawn_to_scale(measured):
    rows = measured.get_by_role("list", name="What the uncertainty of the area is made of").get_by_role("listitem")
    rows.first.wait_for()
    assert "how exactly the edge is drawn" in rows.first.inner_text()
    lengths = rows.first.evaluate(
        "row => [...row.querySelectorAll('[aria-hidden] , [aria-hidden] div')].map(box => box.clientWidth)"
    )
    track, bar = lengths
    share = float(rows.first.inner_text().split()[-2])
    assert bar / track == pytest.approx(share / 100, abs=0.01)
    assert track > 300
