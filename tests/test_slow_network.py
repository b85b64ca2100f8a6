"""Photos over a slow network: what is chosen arrives, whatever the page draws anew while it is sent."""

import pytest
from conftest import SAMPLES
from serving import CHROMIUM, STILL, serving

from measure.record.entries import Kind, Side, Site
from measure.record.store import open_record

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

SLOW = {"offline": False, "latency": 20, "downloadThroughput": -1, "uploadThroughput": 250_000}
"""Bytes a second: a ward's network on a bad day; a sample photo takes some 3 s."""

GOOD, OTHER = SAMPLES / "W01-shin-corner.jpg", SAMPLES / "W03-sacrum-corner.jpg"


@pytest.fixture(scope="module")
def ward(tmp_path_factory):
    """Start the pages with a record of one wound, and give their address."""
    folder = tmp_path_factory.mktemp("slow") / "record"
    with open_record(folder) as record:
        record.open_wound("P030", Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB")
    with serving("measure", "app", "--port", "{port}", "--data", str(folder)) as url:
        yield url


@pytest.fixture
def page(browser):
    """Open a tablet's screen."""
    context = browser.new_context(viewport={"width": 820, "height": 1100})
    yield context.new_page()
    context.close()


def _slow_down(page):
    page.context.new_cdp_session(page).send("Network.emulateNetworkConditions", SLOW)


def _choose(page, photo):
    page.set_input_files("input[type=file]", str(photo))


@pytest.mark.parametrize(("before", "after"), [("good", "good"), ("good", "tilted"), ("tilted", "good")])
def test_another_photo_arrives(page, address, tilted, before, after):
    page.goto(address)
    page.get_by_test_id("stFileUploader").wait_for()
    _choose(page, GOOD if before == "good" else tilted)
    page.get_by_test_id("stMetricValue").first.wait_for()
    _slow_down(page)
    another = OTHER if after == "good" else tilted
    with page.expect_event("requestfinished", lambda request: request.method == "PUT"):
        _choose(page, another)
        page.get_by_text("Clean the wound first").wait_for()  # drawn anew without a photo while the next one is sent
    page.get_by_test_id("stMetricValue").first.wait_for()
    page.evaluate(STILL)
    assert page.get_by_test_id("stFileUploader").inner_text().startswith(another.name[:6])  # the middle is left out


def test_findings_can_be_said_while_the_photo_is_sent(page, ward):
    page.goto(ward)
    page.get_by_role("button", name="P030").click()
    page.get_by_role("heading", name="Save", exact=True).wait_for()
    _slow_down(page)
    with page.expect_event("requestfinished", lambda request: request.method == "PUT"):
        _choose(page, GOOD)
        page.locator("summary").filter(has_text="Odour:").click()
        page.get_by_role("radio", name="Slight", exact=True).click()
        page.get_by_text("Odour: slight").wait_for()
    page.get_by_test_id("stMetricValue").first.wait_for()
    page.evaluate(STILL)
    assert page.get_by_test_id("stFileUploader").inner_text().startswith(GOOD.name[:6])
    assert page.get_by_text("Odour: slight").first.is_visible()
