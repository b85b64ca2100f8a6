"""Two pictures laid over one another in a real browser: by keyboard, by finger, on a phone and on a desk."""

import re
from pathlib import Path

import pytest
from serving import CHROMIUM, serving

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

STAND = Path(__file__).parent / "laid_over_stand.py"
QUIET = ("--server.headless", "true", "--browser.gatherUsageStats", "false")


@pytest.fixture(scope="module")
def stand():
    with serving("streamlit", "run", str(STAND), "--server.port", "{port}", *QUIET) as url:
        yield url


@pytest.fixture
def opened(browser, stand):
    contexts = []

    def open_at(width, *, touch=False):
        context = browser.new_context(viewport={"width": width, "height": 844}, has_touch=touch, is_mobile=touch)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.goto(stand)
        page.locator(".panel img").first.wait_for()
        return page

    yield open_at
    for context in contexts:
        context.close()


def border(page):
    """Return where the later picture begins, in % of the width."""
    clip = page.locator("img.top").evaluate("image => getComputedStyle(image).clipPath")
    return float(re.search(r"([\d.]+)%\)$", clip)[1])


def test_a_phone_shows_one_over_the_other_and_keys_move_the_border(opened):
    page = opened(390, touch=True)
    assert page.locator(".panel").count() == 1
    slider = page.get_by_role("slider")
    assert border(page) == 50
    slider.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert border(page) == 55
    assert slider.get_attribute("aria-valuetext") == "55 % of the earlier picture, 45 % of the later one"
    page.keyboard.press("Home")
    assert border(page) == 0
    page.get_by_role("button", name="Again").click()
    page.wait_for_timeout(500)
    assert border(page) == 0  # what was chosen stays while the page is drawn anew


def test_targets_are_large_enough_for_a_finger(opened):
    page = opened(390, touch=True)
    for target in (page.get_by_role("slider"), *page.locator(".row button").all()):
        box = target.bounding_box()
        assert min(box["width"], box["height"]) >= 44
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_pointer_on_the_picture_moves_the_border(opened):
    page = opened(390)
    box = page.locator(".panel").bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 80)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + 80)
    page.mouse.up()
    assert border(page) == pytest.approx(80, abs=1)
    page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 80)
    assert border(page) == pytest.approx(80, abs=1)


def test_a_desk_shows_both_side_by_side_with_both_outlines(opened):
    page = opened(1280)
    panels = page.locator(".panel")
    assert panels.count() == 2
    assert not page.get_by_role("slider").is_visible()
    assert page.locator(".word").all_inner_texts() == ["Earlier · 4 Mar 2026", "Later · 1 Apr 2026"]
    tops = [panel.bounding_box()["y"] for panel in panels.all()]
    assert tops[0] == pytest.approx(tops[1], abs=1)
    dashes = [
        path.evaluate("path => getComputedStyle(path).strokeDasharray") for path in page.locator("path.edge").all()
    ]
    assert dashes == ["9px, 6px", "none"] * 2
    scale = page.locator(".scale").first.bounding_box()["width"]
    assert scale == pytest.approx(panels.first.bounding_box()["width"] * 50 / 400, abs=1)


def test_outlines_can_be_taken_away_and_the_other_view_chosen(opened):
    page = opened(1280)
    page.get_by_role("button", name="Hide outlines").click()
    assert page.locator("path.edge").count() == 0
    page.get_by_role("button", name="One over the other").click()
    assert page.locator(".panel").count() == 1
    assert page.get_by_role("slider").is_visible()
    assert page.get_by_role("button", name="One over the other").get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="Show outlines").click()
    assert page.locator("path.edge").count() == 2


def test_a_picture_that_does_not_come_is_told(opened):
    page = opened(390)
    page.locator("img.top").evaluate("image => image.src = '/photo/gone/made.jpg'")
    page.get_by_text("A picture did not come. Check the connection, and load the page again.").wait_for()
