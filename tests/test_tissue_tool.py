"""The tool *Tissue* on the real page: by mouse, by touch, by keyboard. The regions are stripes at known places."""

import re
from pathlib import Path

import pytest
from desk import Desk
from serving import CHROMIUM, serving

from measure.pages import outline_editor
from tests.stripes import NO_SKIN, NOT_SKIN_PX, REMINDERS, STRIPES

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]

LEFT, MIDDLE, RIGHT = 0, 1, 2


@pytest.fixture(scope="module")
def striped():
    """Start the pages with stripes for tissue."""
    with serving("tests.stripes", "{port}") as url:
        yield url


def _opened(browser, address, photo, *, touch=False):
    """Open a page that nobody has used."""
    size = {"width": 390, "height": 844} if touch else {"width": 1280, "height": 900}
    context = browser.new_context(viewport=size, has_touch=touch, is_mobile=touch)
    return context, Desk(context.new_page(), photo).open(address)


def _in_hand(desk):
    """Take the tool in hand, with nothing chosen."""
    desk.press("Drag")
    desk.press("Tissue")
    desk.look()
    return desk


@pytest.fixture(scope="module")
def one_desk(browser, striped, first_sample):
    context, opened = _opened(browser, striped, first_sample.photo)
    yield opened
    context.close()


@pytest.fixture(scope="module")
def one_phone(browser, striped, first_sample):
    context, opened = _opened(browser, striped, first_sample.photo, touch=True)
    yield opened
    context.close()


def _fresh(desk):
    """Begin again with what the pages say, and with the tool in hand."""
    desk.undone()
    if desk.scale != desk.first_scale:
        desk.choose_again()
    return _in_hand(desk)


@pytest.fixture
def desk(one_desk):
    return _fresh(one_desk)


@pytest.fixture
def phone(one_phone):
    return _fresh(one_phone)


@pytest.fixture
def visitor(browser, striped, first_sample):
    """Open a page that nobody has used, for a visit that leaves more behind than can be undone."""
    context, opened = _opened(browser, striped, first_sample.photo)
    yield _in_hand(opened)
    context.close()


def _in_stripe(desk, number):
    """Give a place on the screen in the middle of a stripe."""
    ring = desk.rings[0]
    left, right = min(x for x, _ in ring), max(x for x, _ in ring)
    shares = [share for _, share in STRIPES]
    at = left + (sum(shares[:number]) + shares[number] / 2) * (right - left)
    heights = [y for x, y in ring if abs(x - at) < 0.1 * (right - left)]
    return desk.at((at, (min(heights) + max(heights)) / 2))


def _hatches(desk):
    """Give the hatch of each region that is drawn."""
    desk.settle()
    fills = desk.stage.evaluate("stage => [...stage.querySelectorAll('path.tissue')].map(path => path.style.fill)")
    return [re.search(r"hatch-(\w+)", fill)[1] for fill in fills]


def _legend(desk):
    desk.settle()
    return [" ".join(words.split()) for words in desk.page.locator(".legend li").all_inner_texts()]


def _said(desk):
    return desk.page.locator(".said").inner_text()


def _pressed(desk):
    return desk.page.locator(".options button[aria-pressed=true]:visible").all_inner_texts()


# Choosing and saying


def test_regions_are_hatched_with_a_legend_in_words_below_the_photo(desk):
    assert _hatches(desk) == ["dots", "slant", "cross"]
    words = _legend(desk)
    assert [re.sub(r" \d+ %", "", line) for line in words] == ["Granulation", "Slough", "Necrotic"]
    assert sum(int(re.search(r"(\d+) %", line)[1]) for line in words) == pytest.approx(100, abs=1)
    gap = desk.page.locator(".legend").bounding_box()["y"] - (
        desk.stage.bounding_box()["y"] + desk.stage.bounding_box()["height"]
    )
    assert 0 <= gap < 20
    assert desk.page.locator("circle.point").count() == 0
    assert desk.page.locator("path.edge.thin").count() == 1
    desk.press("Drag")
    assert desk.page.locator("path.tissue").count() == 0
    assert desk.page.locator(".legend").is_hidden()


def test_a_region_is_chosen_and_named_by_the_mouse(desk):
    assert desk.page.get_by_role("button", name="Necrotic", exact=True).is_disabled()
    desk.page.mouse.click(*_in_stripe(desk, MIDDLE))
    desk.settle()
    assert desk.page.locator("path.border").count() == 2
    assert _pressed(desk) == ["Slough"]
    assert re.fullmatch(r"Region 2 of 3: slough, about \d+ % of the wound\.", _said(desk))
    desk.press("Necrotic")
    assert _hatches(desk) == ["dots", "cross", "cross"]
    assert _pressed(desk) == ["Necrotic"]
    assert desk.page.locator("g.mark").count() == 1
    assert desk.status == "As proposed · 1 region of tissue set by hand"
    assert [line.split()[0] for line in _legend(desk)] == ["Granulation", "Necrotic", "✓"]
    desk.page.get_by_text("1 region set by hand.").wait_for()
    desk.page.mouse.click(*_in_stripe(desk, MIDDLE))
    assert _said(desk).endswith("of the wound. By your word.")


def test_the_new_hatch_is_shown_before_python_answers(browser, striped, first_sample):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page, cut = context.new_page(), []

    def carry(socket):
        server = socket.connect_to_server()
        socket.on_message(lambda message: None if cut else server.send(message))
        server.on_message(lambda message: None if cut else socket.send(message))

    page.route_web_socket(re.compile("stream"), carry)
    desk = Desk(page, first_sample.photo).open(striped)
    desk.press("Tissue")
    page.mouse.click(*_in_stripe(desk, LEFT))
    cut.append(True)
    page.get_by_role("button", name="Epithelial").click()
    page.locator("path.tissue").first.and_(page.locator("[style*=hatch-level]")).wait_for(state="attached")
    page.get_by_text("not saved").wait_for()
    cut.clear()
    page.get_by_text("1 region of tissue set by hand").wait_for()
    desk.settle()
    assert _hatches(desk)[LEFT] == "level"
    context.close()


def test_a_region_is_chosen_and_named_by_a_finger(phone):
    phone.finger([_in_stripe(phone, RIGHT)])
    assert _pressed(phone) == ["Necrotic"]
    box = phone.page.get_by_role("button", name="Unclear", exact=True).bounding_box()
    assert box["y"] + box["height"] < 844  # on the screen together with the photo
    phone.page.get_by_role("button", name="Unclear", exact=True).tap()
    assert _hatches(phone) == ["dots", "slant", "dashes"]
    assert phone.status.endswith("1 region of tissue set by hand")


def test_a_finger_that_goes_on_moves_the_photo_and_chooses_nothing(phone):
    phone.press("Zoom in")
    phone.look()
    x, y = phone.centre
    before = phone.at((0, 0))
    phone.finger([(x, y), (x - 20, y), (x - 40, y), (x - 40, y + 30)])
    after = phone.at((0, 0))
    assert (after[0] - before[0], after[1] - before[1]) == pytest.approx((-40, 30), abs=12)
    assert _pressed(phone) == []


def test_a_region_is_chosen_and_named_by_the_keyboard(desk):
    desk.keys("6", "n", "n")
    assert _said(desk).startswith("Region 2 of 3: slough")
    desk.keys("p", "ArrowLeft")
    assert _said(desk).startswith("Region 3 of 3: necrotic")
    desk.keys("ArrowRight", "Enter", "Tab", "Enter")  # to the buttons, at the one that is pressed; the next one
    assert _hatches(desk) == ["slant", "slant", "cross"]
    focused = "stage => stage.getRootNode().activeElement === stage"
    assert desk.stage.evaluate(focused)
    desk.keys("n", "p")
    assert _said(desk).endswith("By your word.")


def test_a_later_word_on_a_region_takes_the_place_of_the_earlier_one(desk):
    x, y = _in_stripe(desk, LEFT)
    for place, word in (((x, y), "Slough"), ((x + 12, y + 9), "Unclear")):
        desk.page.mouse.click(*place)
        desk.press(word)
    assert desk.status.endswith("1 region of tissue set by hand")
    assert _hatches(desk)[LEFT] == "dashes"


def test_words_are_undone_and_redone_and_are_no_edits_of_the_outline(desk):
    desk.page.mouse.click(*_in_stripe(desk, LEFT))
    desk.press("Slough")
    desk.page.mouse.click(*_in_stripe(desk, RIGHT))
    desk.press("Unclear")
    assert desk.status == "As proposed · 2 regions of tissue set by hand"
    desk.press("Undo")
    assert _hatches(desk) == ["slant", "slant", "cross"]
    desk.keys("Control+z")
    assert _hatches(desk) == ["dots", "slant", "cross"]
    assert desk.status == "As proposed"
    desk.press("Redo")
    desk.press("Redo")
    assert _hatches(desk) == ["slant", "slant", "dashes"]
    desk.press("Add area")
    x, y = desk.at(min(desk.rings[0]))
    desk.drag([(x, y), (x - 10, y), (x - 25, y)])
    assert desk.status == "1 change to the proposal · 2 regions of tissue set by hand"
    desk.press("Undo")
    assert desk.status == "As proposed · 2 regions of tissue set by hand"


def test_another_page_and_back_loses_no_word(visitor):
    visitor.page.mouse.click(*_in_stripe(visitor, LEFT))
    visitor.press("Epithelial")
    visitor.page.get_by_role("link", name="Stickers").first.click()
    visitor.page.get_by_text("Print stickers").wait_for()
    visitor.page.get_by_role("link", name="Measure").first.click()
    visitor.stage.wait_for()
    visitor.press("Tissue")
    assert _hatches(visitor) == ["level", "slant", "cross"]
    visitor.press("Undo")
    assert _hatches(visitor) == ["dots", "slant", "cross"]


def test_what_was_said_is_saved_with_the_numbers(visitor):
    visitor.page.mouse.click(*_in_stripe(visitor, MIDDLE))
    visitor.press("Granulation")
    visitor.page.get_by_label("Your initials or staff code").fill("KL")
    visitor.page.get_by_role("button", name="Use these initials").click()
    saved = visitor.saved()
    (tap,) = saved["tissue_said"]
    assert (tap["tissue"], tap["by"]) == ("granulation", "KL")
    assert visitor.at(tap["at"]) == pytest.approx(_in_stripe(visitor, MIDDLE), abs=2)
    assert saved["editing"] is None  # the outline stands as proposed


# Which region a tap means

SQUARES = """
const square = (x, y, side) => [[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
const all = [
  {tissue: "granulation", rings: [square(0, 0, 100), square(40, 40, 10)]},
  {tissue: "slough", rings: [square(40, 40, 10)]},
  {tissue: "necrotic", rings: [square(200, 0, 100)]},
];
"""


@pytest.fixture(scope="module")
def script(browser):
    """Run an expression in the script's own functions, with three regions: one large, one small in it, one apart."""
    sources = [(Path(outline_editor.__file__).parent / f"{name}.js").read_text() for name in ("shapes", "regions")]
    page = browser.new_page()
    yield lambda expression: page.evaluate("\n".join(["() => {", *sources, SQUARES, f"return {expression}; }}"]))
    page.close()


@pytest.mark.parametrize(
    ("place", "reach", "number"),
    [
        ((10, 10), 20, 0),
        ((45, 45), 20, 1),
        ((45, 45), 1, 1),  # in the hole of the large one
        ((56, 45), 20, 1),  # beside the small one, under the same fingertip
        ((56, 45), 4, 0),  # zoomed in, the finger means what lies under it
        ((150, 50), 20, -1),
        ((250, 50), 20, 2),
    ],
)
def test_a_tap_means_the_smallest_region_under_the_fingertip(script, place, reach, number):
    assert script(f"regionAt(all, {list(place)}, {reach})") == number


def test_a_place_in_a_region_lies_well_inside_it_and_in_no_hole(script):
    """In the square with a hole, best is the diagonal place as far from the far sides as from the hole's corner."""
    assert script(
        "all.map((region) => [holds(region, placeInside(region)), edgeAway(region, placeInside(region))])"
    ) == [
        [True, pytest.approx(100 - 170.7 / 2.414, abs=2)],
        [True, pytest.approx(5, abs=1)],
        [True, pytest.approx(50, abs=4)],
    ]


def test_the_last_word_on_a_region_counts(script):
    taps = '[{at: [10, 10], tissue: "slough"}, {at: [90, 90], tissue: "unclear"}, {at: [45, 45], tissue: "necrotic"}]'
    assert script(f"asSaid(all, {taps}).map((region) => region.tissue)") == ["unclear", "necrotic", "necrotic"]
    assert script(f"asSaid(all, {taps}).map((region) => Boolean(region.byHand))") == [True, True, False]
    left = script(f'withTap({taps}, all[0], [20.123, 20], "granulation")')
    assert left == [{"at": [45, 45], "tissue": "necrotic"}, {"at": [20.12, 20], "tissue": "granulation"}]


# Skin and swab


def test_skin_to_compare_with_is_chosen_by_a_tap(desk):
    desk.press("Choose skin to compare with")
    assert desk.page.locator(".hint").inner_text() == "Tap healthy skin, away from the wound and its redness."
    desk.page.mouse.click(*_in_stripe(desk, MIDDLE))
    desk.settle()
    assert desk.trouble == "That is in the wound. Tap healthy skin beside it."
    x, y = desk.at(max(desk.rings[0]))
    desk.page.mouse.click(x + 60, y)
    desk.settle()
    box = desk.page.locator("g.skin circle").last.bounding_box()
    assert (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) == pytest.approx((x + 60, y), abs=2)
    assert _pressed(desk) == []
    assert desk.status == "As proposed"
    desk.press("Undo")
    moved = desk.page.locator("g.skin circle").last.bounding_box()
    assert abs(moved["x"] - box["x"]) > 50


def test_a_place_that_is_no_skin_is_said_at_the_photo_and_costs_no_number(desk):
    numbers = desk.numbers
    desk.press("Whole photo")
    desk.press("Choose skin to compare with")
    desk.look()
    desk.page.mouse.click(*desk.at((NOT_SKIN_PX / 2, NOT_SKIN_PX / 2)))
    desk.settle()
    assert desk.trouble == NO_SKIN
    assert desk.numbers == numbers
    desk.press("Drag")
    assert not desk.trouble
    desk.press("Tissue")
    desk.press("Undo")
    assert not desk.trouble


def test_skin_is_chosen_by_the_keyboard(desk):
    before = desk.page.locator("g.skin circle").last.bounding_box()
    desk.press("Choose skin to compare with")
    desk.keys(*["Shift+ArrowDown"] * 4, "Enter")
    assert "compared with" in _said(desk)
    assert desk.page.locator("g.skin circle").last.bounding_box()["y"] > before["y"] + 50


def test_a_swab_is_shown_only_when_a_culture_is_ordered(visitor):
    assert visitor.page.locator("g.swab").count() == 0
    visitor.page.get_by_text("A culture is ordered").click()
    visitor.page.get_by_text(REMINDERS[0]).wait_for()
    visitor.settle()
    assert visitor.page.locator("g.swab text").text_content() == "Swab"


# Hands and eyes


def test_the_legend_names_tissue_too_scattered_for_a_region(browser, striped, first_sample):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    desk = Desk(context.new_page(), first_sample.photo).open(f"{striped}?tissue=scattered")
    desk.press("Tissue")
    assert _hatches(desk) == ["dots", "slant", "cross"]
    assert _legend(desk)[-1] == "Epithelial 4 %"
    context.close()


def test_without_tissue_the_tool_says_why(browser, striped, first_sample):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    desk = Desk(context.new_page(), first_sample.photo).open(f"{striped}?tissue=refused")
    desk.press("Tissue")
    why = "There is no sticker in this photo, so its colours tell nothing."
    assert desk.page.locator(".hint").inner_text() == why
    assert desk.page.locator(".options").is_hidden()
    desk.page.get_by_test_id("stMarkdown").filter(has_text=why).wait_for()
    context.close()


def test_a_line_that_crosses_itself_has_no_tissue_until_it_is_put_right(desk):
    desk.press("Drag")
    x, y = min(desk.points)
    desk.drag([(x, y), (desk.centre[0], desk.centre[1]), (2 * desk.centre[0] - x + 60, desk.centre[1])])
    desk.page.get_by_test_id("stAlert").filter(has_text="crosses itself near").wait_for()
    desk.press("Tissue")
    assert desk.page.locator(".hint").inner_text() == "Put the line right first. Then tissue can be marked."
    desk.press("Undo")
    desk.page.get_by_test_id("stMetricValue").first.wait_for()
    assert _hatches(desk) == ["dots", "slant", "cross"]


def test_on_the_real_pages_a_region_becomes_what_a_person_says(browser, address, first_sample):
    """The sample's bed has no necrosis; the renderer's truth is in ``truth.csv``."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    desk = Desk(context.new_page(), first_sample.photo).open(address)
    desk.press("Tissue")
    desk.page.mouse.click(*desk.centre)
    desk.settle()
    assert _pressed(desk)
    desk.press("Necrotic")
    desk.page.get_by_text("1 region set by hand.").wait_for()
    (told,) = [line for line in _legend(desk) if line.startswith("Necrotic")]
    assert int(re.search(r"(\d+) %", told)[1]) > first_sample.tissue_percent["necrotic"] + 5
    desk.press("Undo")
    desk.page.get_by_text("1 region set by hand.").wait_for(state="detached")
    context.close()


def test_every_target_is_large_enough_for_a_gloved_finger(phone):
    """44 CSS px (WCAG 2.2, 2.5.5 Target Size, enhanced)."""
    for button in phone.page.locator(".toolbar button:visible").all():
        box = button.bounding_box()
        assert box["height"] >= 44
        assert box["width"] >= 44
        assert button.inner_text()
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    phone.page.get_by_text("My own estimate").click()
    for button in phone.page.locator("[data-testid=stNumberInput] button").all():
        button.wait_for()
        box = button.bounding_box()
        assert min(box["height"], box["width"]) >= 44
