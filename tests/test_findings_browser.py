"""The questions of bedside findings in a real browser: sizes of targets, keyboard, other pages, what is drawn anew."""

import json

import pytest
from serving import CHROMIUM, STILL, serving

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

TARGET = 44
"""CSS px (WCAG 2.2, 2.5.5 Target Size, enhanced)."""

WIDTHS = (390, 820, 1280)
"""CSS px of a phone, a tablet and a screen."""

QUIET = ("--server.headless", "true", "--runner.magicEnabled", "false", "--browser.gatherUsageStats", "false")

SMALL = """(least) => {
  const all = '[class*="st-key-finding-"] :is(button, summary, label:has(input), input)';
  const shown = [...document.querySelectorAll(all)].filter(
    one => one.checkVisibility() && one.getBoundingClientRect().width > 1
      && !one.matches('label input, [tabindex="-1"]')
  );
  const small = shown.filter(one => {
    const box = one.getBoundingClientRect();
    return Math.min(box.width, box.height) < least - 0.1;
  });
  return [shown.length, small.map(one => one.outerHTML.slice(0, 120) + one.innerText)];
}"""
"""Count the targets of the questions that are shown, and give those that are smaller."""

OPENED = {
    "foot": (
        [("undermining", "Yes"), ("tunnel", "Yes"), ("drains", "Yes")],
        ["It goes all the way round", "On another day"],
    ),
    "abdomen": ([("closures-kind", "Staples")], []),
}


@pytest.fixture(scope="module")
def bedside():
    """Start the page, and give its address."""
    with serving("streamlit", "run", "tests/bedside.py", "--server.port", "{port}", *QUIET) as url:
        yield url


@pytest.fixture
def visit(browser, bedside):
    """Open the page on a screen of a width, for a wound at a place."""
    contexts = []

    def opened(width=390, place="foot"):
        contexts.append(browser.new_context(viewport={"width": width, "height": 844}, has_touch=True))
        page = contexts[-1].new_page()
        page.goto(f"{bedside}/?wound={place}")
        page.get_by_test_id("stCode").nth(2).wait_for()  # the last that is drawn: a group that comes later comes closed
        return page

    yield opened
    for context in contexts:
        context.close()


def _open(page, title):
    page.locator("summary").filter(has_text=f"{title}:").tap()


def _open_all(page):
    """Open all groups at once, by script."""
    page.evaluate(STILL)
    page.evaluate("document.querySelectorAll('details:not([open]) > summary').forEach(one => one.click())")
    page.wait_for_function("!document.querySelector('details:not([open])')")


def _tap(page, name, word):
    page.locator(f'[class*="P014-2-{name} "] button').filter(has_text=word).first.tap()
    page.locator(f'[class*="P014-2-{name} "] button[data-selected="true"]').first.wait_for()


def _said(page, number=0):
    return json.loads(page.get_by_test_id("stCode").nth(number).inner_text())


def _hear(page):
    """Have the whole page drawn anew; what is heard is then what was said."""
    before = _said(page, 2)
    page.get_by_role("button", name="Hear").tap()
    page.wait_for_function(
        "before => document.querySelectorAll('[data-testid=stCode]')[2].innerText.trim() !== `${before}`", arg=before
    )
    return _said(page)


@pytest.mark.parametrize("place", OPENED)
def test_every_target_is_large_and_nothing_is_wider_than_the_screen(visit, place):
    page = visit(390, place)
    _open_all(page)
    taps, ticks = OPENED[place]
    for name, word in taps:
        _tap(page, name, word)
    for label in ticks:
        page.get_by_text(label).first.tap()
    if ticks:
        page.get_by_label("That day").first.wait_for()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        targets, small = page.evaluate(SMALL, TARGET)
        assert targets > 100
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_hours_and_pain_stand_in_a_row_where_there_is_room(visit):
    page = visit()
    _open(page, "Below the surface")
    _open(page, "Pain")
    _tap(page, "tunnel", "Yes")
    for width, rows in zip(WIDTHS, (2, 1, 1), strict=True):
        page.set_viewport_size({"width": width, "height": 844})
        for name, count in (("tunnel-0-at-hour", 12), ("pain-rating", 11)):
            buttons = page.locator(f'[class*="P014-2-{name} "] button')
            buttons.first.wait_for()
            tops = buttons.evaluate_all("all => all.map(one => Math.round(one.getBoundingClientRect().y))")
            assert len(tops) == count
            assert len(set(tops)) == rows


def test_a_tap_stands_on_the_label_and_leaves_its_group_open(visit):
    page = visit()
    _open(page, "Exudate")
    _tap(page, "exudate-amount", "Moderate")
    page.get_by_text("Exudate: moderate").wait_for()
    _tap(page, "exudate-kind", "Serous")
    page.get_by_text("Exudate: moderate, serous").wait_for()
    assert page.get_by_role("radio", name="Purulent", exact=True).is_visible()
    assert _hear(page) == {"exudate": {"amount": "moderate", "kind": "serous"}}


def test_the_page_is_drawn_anew_only_where_it_depends_on_what_was_said(visit):
    page = visit()
    _open_all(page)
    runs = _said(page, 2)
    _tap(page, "odour", "Slight")  # the first finding: there is something to save now
    page.wait_for_function(
        "runs => Number(document.querySelectorAll('[data-testid=stCode]')[2].innerText) === runs + 1", arg=runs
    )
    _tap(page, "exudate-amount", "Small")
    page.get_by_text("Exudate: small").wait_for()
    assert _said(page, 2) == runs + 1
    assert _said(page) == {"odour": "slight"}
    _tap(page, "sign-pus", "Yes")  # a provider may have to be told
    page.wait_for_function(
        "runs => Number(document.querySelectorAll('[data-testid=stCode]')[2].innerText) === runs + 2", arg=runs
    )
    assert _said(page)["signs"] == {"pus": True}


def test_answers_outlive_a_visit_to_another_page(visit):
    page = visit(1280)
    _open_all(page)
    _tap(page, "tunnel", "Yes")
    _tap(page, "tunnel-0-at-hour", "4")
    length = page.locator('[class*="P014-2-tunnel-0-long "] input')
    length.fill("1.7")
    length.press("Enter")
    page.get_by_text("tunnel at 4 o'clock, 1.7 cm").first.wait_for()
    page.get_by_role("img", name="tunnel at 4 o'clock").wait_for()
    page.get_by_role("link", name="Elsewhere").first.click()
    page.get_by_role("heading", name="Elsewhere").wait_for()
    assert _said(page)["tunnels"] == [{"clock": 4, "length_cm": 1.7}]
    page.get_by_role("link", name="Findings").first.click()
    page.get_by_text("tunnel at 4 o'clock, 1.7 cm").first.wait_for()
    assert _hear(page)["tunnels"] == [{"clock": 4, "length_cm": 1.7}]


def test_everything_is_reached_and_answered_by_keyboard(visit):
    page = visit(1280)
    _reach(page, "Odour:")
    page.keyboard.press("Enter")
    page.get_by_role("radio", name="Strong", exact=True).wait_for()
    _reach(page, "None")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Space")
    page.get_by_text("Odour: strong").wait_for()
    _reach(page, "What the words mean")
    page.keyboard.press("Enter")
    page.get_by_text("Noticed in the room, or through the dressing.").last.wait_for()
    page.keyboard.press("Escape")
    _reach(page, "Edges:")


def _reach(page, text):
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText").replace("\n", " ").strip().startswith(text) or (
            text in page.evaluate("document.activeElement.innerText.slice(0, 60)")
        ):
            return
    pytest.fail(f"'{text}' can't be reached by Tab")
