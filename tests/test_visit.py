"""A visit in a real browser, from the list of wounds to the record: what a nurse taps is what the record then holds."""

import hashlib
from datetime import datetime
from time import monotonic

import pytest
from conftest import SAMPLES
from desk import Desk
from serving import CHROMIUM, serving

from measure.record.entries import Kind, Side, Site, Status
from measure.record.store import open_record
from measure.record.stripping import strip

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

PHOTO = SAMPLES / "W01-shin-corner.jpg"
TAKEN = datetime.fromisoformat("2024-03-04T10:12:31+01:00")
"""When the photo was taken, as it notes."""

COUNT = """() => {
  globalThis.taps = 0;
  addEventListener("click", event => { taps += event.isTrusted; }, true);
}"""
"""Count what a person taps; what a tap on a label does to its control is no tap of its own."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return the folder of a record with an open wound for each test that needs one of its own."""
    where = tmp_path_factory.mktemp("ward") / "record"
    with open_record(where) as record:
        for person in ("P020", "P021", "P022"):
            record.open_wound(person, Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB")
    return where


@pytest.fixture(scope="module")
def ward(folder):
    """Start the pages with the record as a person does, and give their address."""
    with serving("measure", "app", "--port", "{port}", "--data", str(folder)) as url:
        yield url


@pytest.fixture
def nurse(browser, ward):
    """Let somebody begin at the list of wounds, named or not."""
    contexts = []

    def begun(by="AB", width=820, **words):
        contexts.append(browser.new_context(viewport={"width": width, "height": 900}, **words))
        page = contexts[-1].new_page()
        page.goto(ward)
        page.get_by_label("Find a person by code").wait_for()
        if by:
            say_who(page, by)
            page.get_by_text(f"You are {by}").wait_for()
        return page

    yield begun
    for context in contexts:
        context.close()


def say_who(page, by):
    page.get_by_label("Your initials or staff code, no name").fill(by)
    page.get_by_role("button", name="Use these initials").click()


def open_wound(page, person):
    page.get_by_role("button", name=person).click()
    page.get_by_role("heading", name=f"{person} · wound 1").wait_for()
    page.get_by_role("heading", name="Save", exact=True).wait_for()


def choose(page, photo):
    page.set_input_files("input[type=file]", str(photo))
    page.get_by_test_id("stMetricValue").first.wait_for()


def save_button(page):
    return page.locator(".st-key-save-visit").get_by_role("button")


def go_on(page):
    """Leave what is said of a visit that was saved."""
    page.get_by_role("button", name="Another visit to this wound").click()
    page.get_by_role("heading", name="Save", exact=True).wait_for()


def save(page):
    save_button(page).click()
    page.get_by_text("Saved:").wait_for()


def group(page, title):
    """Open a group of findings."""
    page.locator("summary").filter(has_text=f"{title}:").click()


def tap(page, wound, name, word):
    """Tap an answer, and wait until it is heard."""
    control = page.locator(f'[class*="finding-{wound}-{name} "]')
    control.get_by_role("radio", name=word, exact=True).click()
    control.locator('button[data-selected="true"]', has_text=word).wait_for()


def visits(folder, key):
    """Read what the record holds of a wound, past the pages."""
    with open_record(folder, create=False) as record:
        return record.visits(record.wound(key).id)


def test_a_visit_from_the_first_tap_to_the_record(nurse, folder):
    page = nurse(by="")
    say_who(page, "AB")
    page.get_by_text("You are AB").wait_for()
    page.get_by_text("New wound").click()
    page.get_by_label("Code of the person, no name").fill("P014")
    page.get_by_label("Code of the person, no name").press("Enter")
    for answer in ("Left", "shin", "front", "surgical wound"):
        page.get_by_role("radio", name=answer, exact=True).click()
        page.locator('button[data-selected="true"]', has_text=answer).wait_for()
    page.get_by_role("button", name="Open this wound").click()
    page.get_by_role("heading", name="P014 · wound 1").wait_for()
    page.get_by_text("Left shin, front").wait_for()

    desk = Desk(page, PHOTO)
    desk.upload()
    proposed = desk.rings[0]
    first = desk.points[0]
    desk.drag([first, (first[0] + 5, first[1] + 6), (first[0] + 10, first[1] + 12)])
    assert desk.rings[0] != proposed
    area = desk.area
    page.get_by_text("I checked the whole line against the photo").click()
    assert save_button(page).inner_text() == "To save: say when the visit was"
    assert save_button(page).is_disabled()
    page.get_by_text("When the photo was taken: 4 Mar 2024, 09:12").click()

    group(page, "Exudate")
    tap(page, "P014-1", "exudate-amount", "Moderate")
    page.get_by_text("Exudate: moderate").wait_for()
    tap(page, "P014-1", "exudate-kind", "Serous")
    group(page, "Pain")
    tap(page, "P014-1", "pain-rating", "4")
    group(page, "Signs to act on")
    tap(page, "P014-1", "sign-fever", "Yes")
    page.get_by_test_id("stAlert").filter(has_text="fever").wait_for()
    group(page, "Closures")
    tap(page, "P014-1", "closures-kind", "Staples")
    staples = page.get_by_label("How many when the visit began")
    staples.fill("12")
    staples.press("Enter")
    page.get_by_text("Closures: 12 staples").wait_for()
    page.get_by_label("Note, if any").fill("Calm, sleeps well.")
    save(page)
    _answer_prompt(page)

    (visit,) = visits(folder, "P014/1")
    _check_record(visit, folder, area)
    _check_pages(page, visit)


def _answer_prompt(page):
    answer = page.get_by_label("What was done?").first
    answer.fill("Called the ward's provider")
    answer.press("Enter")
    page.get_by_role("button", name="Record what was done").first.click()
    page.get_by_text("Recorded: Called").wait_for()


def _check_record(visit, folder, shown):
    """Compare the record with what was tapped."""
    assert (visit.at, visit.by) == (TAKEN, "AB")
    (photo,) = visit.photos
    data = PHOTO.read_bytes()
    assert photo.source_sha256 == hashlib.sha256(data).hexdigest()
    with open_record(folder, create=False) as record:
        assert record.photo_bytes(photo.sha256) == strip(data).data
    proposed, edited = visit.outlines
    assert (proposed.kind, proposed.by) == ("proposed", "")
    assert (edited.kind, edited.by) == ("edited", "AB")
    assert edited.outline.exterior.tolist() != proposed.outline.exterior.tolist()
    (measured,) = visit.measurements
    assert measured.outline is edited
    area = measured.wound["area_cm2"]
    assert area["value"] == pytest.approx(shown, abs=0.005)
    assert area["standard_uncertainty"] > 0
    assert set(area["components"]) > {"outline placement"}
    assert measured.document["editing"]["checked"]
    found = visit.found
    assert found["exudate"] == {"amount": "moderate", "kind": "serous"}
    assert found["pain"] == 4
    assert found["signs"] == {"fever": True}
    assert (found["closures"]["kind"], found["closures"]["present"]) == ("staples", 12)
    assert [(note.text, note.by) for note in visit.notes] == [("Calm, sleeps well.", "AB")]
    assert [(answer.answer, answer.by) for answer in visit.answers] == [("Called the ward's provider", "AB")]


def _check_pages(page, visit):
    """Look at the visit where it is shown again."""
    area = visit.measurement.wound["area_cm2"]["value"]
    go_on(page)
    go(page, "Progress")
    page.get_by_text("Measured once, on 4 March 2024").wait_for()
    page.get_by_test_id("stDataFrame").wait_for()
    go(page, "History")
    page.get_by_role("heading", name="Visit of 4 Mar 2024").wait_for()
    page.get_by_text("What was done").wait_for()
    said = page.get_by_test_id("stMain").inner_text()
    for words in (f"{area:.2f} ±", "moderate", "staples", "Calm, sleeps well.", "Called the ward's provider", "By AB"):
        assert words in said


def go(page, name):
    page.get_by_test_id("stMain").get_by_role("link", name=name).click()


def test_a_photo_and_a_save_are_a_visit_with_few_taps_on_a_phone(nurse, folder):
    page = nurse(width=390, has_touch=True, is_mobile=True)
    page.evaluate(COUNT)
    began = monotonic()
    open_wound(page, "P020")
    with page.expect_file_chooser() as chooser:
        page.get_by_test_id("stFileUploader").get_by_test_id("stBaseButton-secondary").tap()
    chooser.value.set_files(str(PHOTO))
    page.get_by_text("When the photo was taken: 4 Mar 2024").click()
    save(page)
    took = monotonic() - began
    assert page.evaluate("taps") <= 6
    assert took < 60
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    (visit,) = visits(folder, "P020/1")
    assert visit.at == TAKEN
    assert [outline.kind for outline in visit.outlines] == ["proposed"]
    assert visit.measurement.outline.by == ""
    _heal_and_reopen(page, folder)


def _heal_and_reopen(page, folder):
    go_on(page)
    go(page, "History")
    page.get_by_text("Has the wound healed").click()
    page.get_by_text("It has healed", exact=True).click()
    page.get_by_role("button", name="Record: it has healed").click()
    page.get_by_text("This wound was marked healed").wait_for()
    go(page, "Other wound")
    page.get_by_text("Healed, merged or split (1)").click()
    page.get_by_role("button", name="P020").click()
    page.get_by_text("This wound was marked healed").wait_for()
    go(page, "History")
    page.get_by_text("Open again?").click()
    page.get_by_text("It has opened again").click()
    page.get_by_role("button", name="Record: it has opened again").click()
    page.get_by_text("Has the wound healed").wait_for()
    with open_record(folder, create=False) as record:
        wound = record.wound("P020/1")
    assert wound.status is Status.OPEN
    assert [(str(event.what), event.by) for event in wound.events[1:]] == [("healed", "AB"), ("reopened", "AB")]


def test_a_photo_that_fails_a_check_is_saved_once_it_is_said_why(nurse, folder, tilted):
    page = nurse()
    open_wound(page, "P021")
    choose(page, tilted)
    refused = page.get_by_role("button", name="To save: say why this photo is kept")
    refused.wait_for()
    assert refused.is_disabled()
    page.get_by_role("radio", name="Best of several").click()
    page.get_by_text("Kept. The reason is saved").wait_for()
    page.get_by_text("When the photo was taken").click()
    save(page)
    (visit,) = visits(folder, "P021/1")
    kept = visit.measurement.document["acceptance"]
    assert (kept["reason"], kept["failed_checks"]) == ("Best of several", ["tilt"])
    _trace_again(page, folder, visit)


def _trace_again(page, folder, before):
    """Trace the photo of that visit again: what was measured then stays."""
    go_on(page)
    go(page, "History")
    page.get_by_role("button", name="Trace this photo again").click()
    page.get_by_text("Begin with the proposal").wait_for()
    desk = Desk(page, PHOTO)
    desk.stage.wait_for()
    desk.look()
    first = desk.points[0]
    desk.drag([first, (first[0] + 5, first[1] + 6), (first[0] + 10, first[1] + 12)])
    page.get_by_role("button", name="Save the new outline").click()
    page.get_by_text("Measured before as").wait_for()
    (after,) = visits(folder, "P021/1")
    earlier, newest = after.measurements
    assert earlier.document == before.measurement.document
    assert (newest.outline.kind, newest.by) == ("retraced", "AB")
    assert newest.wound["area_cm2"]["value"] != earlier.wound["area_cm2"]["value"]
    assert newest.document["acceptance"]["reason"] == "Best of several"


def test_two_who_save_at_once_are_both_kept_and_the_second_is_told_of_the_first(nurse, folder):
    first, second = nurse("AB"), nurse("CD")
    for page, by in ((first, "AB"), (second, "CD")):
        open_wound(page, "P022")
        page.get_by_label("Note, if any").fill(f"Seen by {by}.")
    save(first)
    save(second)
    assert "AB also saved a visit to this wound" in second.get_by_test_id("stMain").inner_text()
    assert "also saved" not in first.get_by_test_id("stMain").inner_text()
    assert [note.text for visit in visits(folder, "P022/1") for note in visit.notes] == ["Seen by AB.", "Seen by CD."]
