"""The outline editor on the real page: by mouse, by touch, by keyboard."""

import math
import re

import pytest
from desk import ANSWERED, Desk
from serving import CHROMIUM

from measure.editing import parse_editing
from measure.outline import dice, parse_outlines, polygon, read_outlines
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.rendering import Camera, Scene, render, write_photo
from measure.report import rows
from measure.verdict import MIN_POINTS

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
    # Playwright's sync API leaves its event loop to the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"),
]


def _opened(browser, address, photo, *, touch):
    size = {"width": 390, "height": 844} if touch else {"width": 1280, "height": 900}
    context = browser.new_context(viewport=size, has_touch=touch, is_mobile=touch)
    desk = Desk(context.new_page(), photo).open(address)
    return context, desk


@pytest.fixture(scope="module")
def one_desk(browser, address, first_sample):
    context, opened = _opened(browser, address, first_sample.photo, touch=False)
    yield opened
    context.close()


@pytest.fixture(scope="module")
def one_phone(browser, address, first_sample):
    context, opened = _opened(browser, address, first_sample.photo, touch=True)
    yield opened
    context.close()


@pytest.fixture
def desk(one_desk):
    return one_desk.fresh()


@pytest.fixture
def phone(one_phone):
    return one_phone.fresh()


@pytest.fixture
def visitor(browser, address, first_sample):
    """Open a page that nobody has used, for a visit that ends with leaving."""
    context, opened = _opened(browser, address, first_sample.photo, touch=False)
    yield opened
    context.close()


def _ring(centre, radius, start=0.0, turn=1.05, steps=40):
    """Give places round a centre, a little more than once round as a hand does."""
    angles = [start + 2 * math.pi * turn * step / steps for step in range(steps + 1)]
    return [(centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)) for angle in angles]


def _line(start, end, steps=8):
    return [
        (start[0] + (end[0] - start[0]) * step / steps, start[1] + (end[1] - start[1]) * step / steps)
        for step in range(steps + 1)
    ]


def _same(ring, other):
    """Whether two rings are one but for how the screen rounds."""
    return len(ring) == len(other) and not _changed(ring, other)


def _changed(before, after):
    return [
        number for number, (one, other) in enumerate(zip(before, after, strict=True)) if math.dist(one, other) > 0.5
    ]


# Points


def test_a_point_is_dragged_by_the_mouse_without_a_jump(desk):
    before = desk.rings[0]
    x, y = desk.points[4]
    scale = desk.scale
    desk.drag(_line((x + 4, y + 3), (x + 34, y - 17)))
    after = desk.rings[0]
    moves = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(before, after, strict=True)]
    farthest = max(moves, key=lambda move: math.hypot(*move))
    assert farthest == pytest.approx((30 / scale, -20 / scale), abs=0.3 / scale)
    assert desk.status == "1 change to the proposal"


def test_a_point_is_dragged_by_a_finger_under_a_magnifier(phone):
    before, area = phone.rings[0], phone.area
    x, y = phone.points[4]
    phone.fingers("touchStart", (x + 15, y + 15))
    for place in _line((x + 15, y + 15), (x + 15, y - 15)):
        phone.fingers("touchMove", place)
    assert phone.page.locator(".glass").is_visible()
    phone.fingers("touchEnd")
    assert phone.page.locator(".glass").is_hidden()
    assert _changed(before, phone.rings[0])
    assert phone.area != area


def test_dragging_the_line_adds_a_point(desk):
    desk.press("Whole photo")
    desk.press("Zoom in")
    desk.press("Trace")
    desk.drag(
        [(desk.centre[0] + x, desk.centre[1] + y) for x, y in ((-90, -90), (90, -90), (90, 90), (-90, 90), (-90, -80))]
    )
    desk.press("Drag")
    before = len(desk.rings[0])
    side = desk.centre[0] + 17, desk.centre[1] - 90  # between two corners
    desk.drag(_line(side, (side[0], side[1] - 40)))
    assert len(desk.rings[0]) == before + 1


def test_a_point_is_deleted_and_everything_undone_and_redone(desk):
    proposed = desk.rings[0]
    x, y = desk.points[3]
    desk.page.mouse.click(x, y)
    desk.press("Delete point")
    fewer = desk.rings[0]
    assert len(fewer) < len(proposed)
    desk.keys("n", "Delete")
    assert len(desk.rings[0]) < len(fewer)
    desk.keys("Control+z")
    assert _same(desk.rings[0], fewer)
    desk.press("Undo")
    assert _same(desk.rings[0], proposed)
    assert desk.status == "As proposed"
    desk.press("Redo")
    desk.keys("Control+Shift+Z")
    assert desk.status == "2 changes to the proposal"
    desk.press("More")
    desk.press("Back to the proposal")
    assert _same(desk.rings[0], proposed)
    desk.press("Undo")
    assert desk.status == "2 changes to the proposal"


def test_a_whole_wound_is_moved(desk):
    before = desk.rings[0]
    desk.press("Move whole wound")
    desk.drag(_line(desk.centre, (desk.centre[0] + 20, desk.centre[1] + 12)))
    desk.press("Move whole wound")
    steps = {(round(b[0] - a[0]), round(b[1] - a[1])) for a, b in zip(before, desk.rings[0], strict=True)}
    scale = desk.scale
    for step in steps:
        assert step == pytest.approx((20 / scale, 12 / scale), abs=2)


def test_two_fingers_zoom_and_never_edit(phone):
    before = phone.scale
    x, y = phone.points[4]
    phone.fingers("touchStart", (x, y))
    phone.fingers("touchMove", (x + 12, y + 12))  # the first finger has begun to drag a point
    phone.fingers("touchStart", (x + 12, y + 12), (x + 92, y + 12))
    for more in range(10, 81, 10):
        phone.fingers("touchMove", (x + 12, y + 12), (x + 92 + more, y + 12))
    phone.fingers("touchEnd", (x + 12, y + 12))
    phone.fingers("touchMove", (x + 60, y + 60))  # the one that stays does nothing more
    phone.fingers("touchEnd")
    assert phone.scale / before == pytest.approx(2.0, rel=0.01)
    assert phone.status == "As proposed"
    phone.press("Whole photo")
    box, stage = phone.page.locator(".photo").bounding_box(), phone.stage.bounding_box()
    assert box["width"] == pytest.approx(stage["width"], abs=1)


def test_crossing_edges_are_told_at_once_and_on_the_page(desk):
    x, y = min(desk.points)
    desk.page.mouse.move(x, y)
    desk.page.mouse.down()
    for place in _line((x, y), (2 * desk.centre[0] - x + 60, desk.centre[1])):
        desk.page.mouse.move(*place)
    desk.page.get_by_text("The line crosses itself at the cross").wait_for()
    desk.page.mouse.up()
    desk.page.get_by_test_id("stAlert").filter(has_text="crosses itself near").wait_for()
    assert desk.page.get_by_text("Traceback").count() == 0
    desk.page.get_by_test_id("stMetricValue").first.wait_for(state="detached")  # old numbers go when the run ends
    assert desk.status == "1 change to the proposal"
    desk.press("Undo")
    desk.page.get_by_test_id("stMetricValue").first.wait_for()
    desk.settle()
    assert desk.trouble == ""


def test_wounds_that_overlap_are_told_and_marked(desk):
    desk.press("More")
    desk.press("Add a wound")
    desk.drag(_ring(min(desk.at(point) for point in desk.rings[0]), 30))
    assert desk.trouble.startswith("Wounds 1 and 2 overlap at the cross.")
    assert desk.page.locator(".crossing").is_visible()


# Drawing


def test_without_a_proposal_the_editor_opens_for_tracing(browser, address, tmp_path):
    photo = tmp_path / "healed.jpg"
    write_photo(photo, render(Scene(wound=None, camera=Camera(width=2016, height=1512, distance_mm=200), seed=4)))
    context, opened = _opened(browser, address, photo, touch=True)
    assert opened.page.get_by_role("button", name="Trace").get_attribute("aria-pressed") == "true"
    assert opened.page.get_by_text("Draw its edge on the photo").is_visible()
    opened.finger(_ring(opened.centre, 50))
    assert opened.area > 0
    assert opened.status == "1 change"
    opened.page.get_by_test_id("stMetricValue").first.wait_for()
    context.close()


def test_a_trace_by_finger_replaces_the_outline(phone):
    phone.press("Trace")
    radius = 60
    phone.finger(_ring(phone.centre, radius))
    scale = phone.scale
    assert len(phone.rings) == 1
    drawn = polygon(parse_outlines({"wounds": [{"outline": phone.rings[0]}]}, 10**5, 10**5)[0])
    assert drawn.area == pytest.approx(math.pi * (radius / scale) ** 2, rel=0.02)
    assert len(phone.rings[0]) >= MIN_POINTS
    assert phone.trouble == ""


def test_taps_along_the_edge_find_the_edge(desk, first_sample):
    """Sixteen taps on the true outline of the rendered sample."""
    photo = read_photo(first_sample.photo)
    (truth,) = read_outlines(first_sample.outline, photo.width, photo.height)
    desk.press("Tap round")
    taps = truth.exterior[:: max(1, len(truth.exterior) // 16)]
    for tap in taps:
        desk.page.mouse.click(*desk.at(tap))
    desk.press("Close the line")
    desk.page.wait_for_function("s => s.querySelectorAll('path.edge').length === 1", arg=desk.stage.element_handle())
    assert desk.status == "1 change to the proposal"
    assert len(desk.rings[0]) > len(taps)
    drawn = parse_outlines({"wounds": [{"outline": desk.rings[0]}]}, photo.width, photo.height)[0]
    assert dice(polygon(drawn), polygon(truth)) > 0.95


def test_a_part_is_traced_anew_from_line_to_line(phone):
    before = phone.rings[0]
    points = phone.points
    first, last = points[2], points[4]
    outward = (
        points[3][0] + (points[3][0] - phone.centre[0]) * 0.4,
        points[3][1] + (points[3][1] - phone.centre[1]) * 0.4,
    )
    phone.press("Trace")
    phone.finger([*_line(first, outward), *_line(outward, last)])
    after = phone.rings[0]
    kept = [point for point in before if any(math.dist(point, other) < 1 for other in after)]
    assert len(before) / 2 < len(kept) < len(before)
    assert any(math.dist(phone.at(point), outward) < 3 for point in after)
    assert phone.status == "1 change to the proposal"


def test_a_deep_bulge_changes_only_its_part(desk):
    """A stroke far out and back, its ends near one another, changes the line between them alone."""
    before, area = desk.rings[0], desk.area
    desk.press("Trace")
    x, y = max(desk.at(point) for point in before)
    corners = [(x, y - 10), (x + 70, y - 10), (x + 70, y + 10), (x, y + 10)]
    desk.drag([*_line(*corners[:2]), *_line(*corners[1:3]), *_line(*corners[2:])])
    kept = [point for point in before if any(math.dist(point, other) < 1 for other in desk.rings[0])]
    assert len(kept) > 0.8 * len(before)
    assert desk.area > area
    assert desk.notice == ""
    desk.drag(_ring(desk.centre, 60))
    assert desk.notice == "The whole line is drawn anew. If that was not meant, tap Undo."
    desk.press("Undo")
    assert desk.notice == ""


def test_a_trace_that_leads_nowhere_changes_nothing(phone):
    phone.press("Trace")
    x, y = phone.centre
    phone.finger(_line((x - 30, y), (x + 30, y + 8)))
    assert phone.trouble == "Begin and end on the line to correct a part; or draw all the way round."
    assert phone.status == "As proposed"


def test_a_part_is_tapped_anew_and_joined(desk):
    before = desk.rings[0]
    desk.press("Tap round")
    for number in (0, 2, 4):
        desk.page.mouse.click(*desk.at(before[number * len(before) // 16]))
    desk.settle()
    desk.press("Join the line")
    kept = [point for point in before if any(math.dist(point, other) < 1 for other in desk.rings[0])]
    assert len(before) / 2 < len(kept) < len(before)
    assert desk.status == "1 change to the proposal"


def test_a_tap_is_taken_back(desk):
    desk.press("Tap round")
    for x, y in ((-60, -20), (0, -60), (60, -20)):
        desk.page.mouse.click(desk.centre[0] + x, desk.centre[1] + y)
    desk.settle()
    before = desk.rings
    desk.press("Undo")
    assert len(desk.rings) == len(before) - 1
    desk.press("Start over")
    assert len(desk.rings) == 1
    assert desk.status == "As proposed"


def test_taps_stay_until_the_line_is_closed_or_begun_anew(desk):
    desk.press("Tap round")
    desk.press("New wound")
    x, y = desk.centre[0] + 280, desk.centre[1]
    for place in ((x - 20, y), (x, y - 20)):
        desk.page.mouse.click(*place)
    desk.settle()
    lines = len(desk.rings)
    desk.keys("Escape")
    assert len(desk.rings) == lines
    desk.press("Drag")
    desk.press("Tap round")
    assert len(desk.rings) == lines
    desk.page.mouse.click(x + 20, y + 10)
    desk.press("Close the line")
    desk.page.get_by_text("1 change to the proposal").wait_for()
    assert len(desk.rings) == 2  # what the taps were for is not forgotten
    desk.press("Undo")


def test_another_tool_ends_the_choice_of_what_to_move_or_draw(desk):
    pressed = "button[aria-pressed=true]:visible"
    desk.press("Move whole wound")
    desk.press("Trace")
    desk.press("New wound")
    desk.press("Drag")
    assert desk.page.locator(pressed).all_inner_texts() == ["Drag"]
    desk.press("Trace")
    assert desk.page.locator(pressed).all_inner_texts() == ["Trace", "This wound"]
    desk.press("Drag")
    desk.press("More")
    desk.press("Delete wound")
    assert desk.page.locator(pressed).all_inner_texts() == ["Trace"]
    desk.press("Undo")
    assert desk.page.locator(pressed).all_inner_texts() == ["Drag"]


def test_the_brush_adds_and_removes(phone):
    area = phone.area
    x, y = phone.points[0]
    phone.press("Add area")
    phone.finger(_line((x, y), (x - 30, y)))
    added = phone.area
    assert added > area
    phone.press("Remove area")
    phone.press("Large")
    phone.finger(_line((x, y), (x - 30, y)))
    assert phone.area < added
    assert phone.status == "2 changes to the proposal"
    phone.press("Undo")
    assert phone.area == added
    phone.press("Undo")
    assert phone.area == area
    phone.press("Redo")
    assert phone.area == added


def test_islands_are_cut_traced_and_deleted(desk):
    desk.press("Remove area")
    desk.press("Small")
    desk.drag(_line(desk.centre, (desk.centre[0] + 10, desk.centre[1])))
    assert len(desk.rings) == 2
    cut = desk.area
    desk.press("Trace")
    desk.press("Healed island")
    desk.drag(_ring((desk.centre[0] - 90, desk.centre[1]), 14))
    assert len(desk.rings) == 3
    assert desk.area < cut
    desk.drag(_ring((desk.centre[0] - 310, desk.centre[1]), 10))
    assert "inside a wound" in desk.trouble
    desk.press("Drag")
    desk.page.mouse.click(desk.centre[0] - 90 + 14, desk.centre[1])
    desk.press("Delete healed island")
    assert len(desk.rings) == 2
    assert desk.area == cut


def test_a_line_drawn_anew_keeps_its_islands_and_tells_of_those_it_loses(desk):
    desk.press("Trace")
    desk.press("Healed island")
    x, y = desk.centre
    desk.drag(_ring((x - 60, y), 14))
    desk.drag(_ring((x + 60, y), 14))
    desk.press("This wound")
    desk.drag(_ring((x - 60, y), 40))
    assert len(desk.rings) == 2
    assert "1 healed island that it does not enclose is removed." in desk.notice
    desk.press("Undo")
    desk.drag(_ring((x, y), 100))
    assert len(desk.rings) == 3
    assert "removed" not in desk.notice


def test_a_second_wound_is_added_and_deleted(phone):
    one = phone.numbers
    phone.press("More")
    phone.press("Add a wound")
    phone.finger(_ring((phone.centre[0] + 60, phone.centre[1] + 160), 30))
    assert re.findall(r"Wound \d: [\d.]+ ± [\d.]+ cm², [\d.]+ x [\d.]+ cm", phone.numbers) == phone.numbers.split("\n")
    assert len(phone.rings) == 2
    phone.press("More")
    phone.press("Next wound")
    phone.press("Next wound")
    phone.press("Delete wound")
    assert phone.numbers.split("±")[0] == one.split("±")[0]


def test_a_trace_goes_to_the_wound_that_it_meets(desk):
    """With wound 2 chosen, strokes on wound 1 change wound 1."""
    desk.press("Trace")
    desk.press("New wound")
    second = desk.centre[0] + 270, desk.centre[1]
    desk.drag(_ring(second, 30))
    one, two = desk.rings
    x, y = max(desk.at(point) for point in one)
    desk.drag([(x, y - 30), (x - 20, y), (x, y + 30)])
    cut, same = desk.rings
    assert _same(same, two)
    assert 2 < len([point for point in one if any(math.dist(point, other) < 1 for other in cut)]) < len(one)
    desk.page.mouse.click(*second)
    assert desk.page.locator(".said").inner_text() == "Wound 2 of 2."
    desk.drag(_ring(desk.centre, 150))
    redrawn, same = desk.rings
    assert _same(same, two)
    assert len(redrawn) != len(cut)
    desk.drag(_ring((desk.centre[0] - 280, desk.centre[1] + 120), 12))
    assert desk.trouble == "That line goes round none of the wounds. Choose 'New wound' to add one."
    assert _same(desk.rings[1], two)


def test_all_of_it_works_by_keyboard(desk):
    proposed = desk.rings[0]
    desk.keys("n", "n", "Shift+ArrowUp", "ArrowUp", "ArrowLeft")
    moves = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(proposed, desk.rings[0], strict=True)]
    assert max(moves, key=lambda move: math.hypot(*move)) == pytest.approx((-1, -11), abs=0.5)
    assert desk.status == "1 change to the proposal"
    assert "Moved" in desk.page.locator(".said").inner_text()
    desk.keys("i")
    assert len(desk.rings[0]) == len(proposed) + 1
    desk.keys("Delete")
    assert len(desk.rings[0]) <= len(proposed)
    scale = desk.scale
    desk.keys("+")
    assert desk.scale == pytest.approx(1.5 * scale)
    desk.keys("0")
    area = desk.area
    desk.keys("3", "ArrowUp", "Enter", *["ArrowRight"] * 4, "Enter")  # the brush, from the middle of the photo
    assert desk.area != area
    desk.keys("4", *["Shift+ArrowUp", "Shift+ArrowLeft"] * 3, "Enter")
    for way in ("Right", "Down", "Left"):
        desk.keys(*[f"Shift+Arrow{way}"] * 6)
    desk.keys(*["Shift+ArrowUp"] * 5, "Enter")
    assert len(desk.rings[0]) < 8  # four sides, drawn anew
    assert desk.status == "5 changes to the proposal"


def test_keys_are_sent_at_once_when_something_else_is_pressed(desk):
    """What is saved next holds the last arrow, though a burst of them waits 350 ms for its end."""
    desk.page.evaluate("globalThis.late = globalThis.setTimeout")
    desk.page.evaluate("globalThis.setTimeout = (act, ms, ...more) => late(act, ms === 350 ? 60000 : ms, ...more)")
    desk.stage.focus()
    for leave in (lambda: desk.page.keyboard.press("Tab"), lambda: desk.page.mouse.click(*desk.beside)):
        for key in ("n", "ArrowUp"):
            desk.page.keyboard.press(key)
        leave()
        desk.settle()
        desk.stage.focus()
    desk.page.evaluate("globalThis.setTimeout = globalThis.late")
    assert desk.status == "2 changes to the proposal"


def test_a_line_is_traced_by_keyboard_beyond_what_the_stage_shows(desk):
    scale = desk.scale
    desk.keys("+", "+", "+", "+", "4", "Enter")
    for way in ("Right", "Down", "Left"):
        desk.keys(*[f"Shift+Arrow{way}"] * 25)
    desk.keys(*["Shift+ArrowUp"] * 24, "Enter")
    side = 25 * 40 / (scale * 1.5**4)
    spans = [max(values) - min(values) for values in zip(*desk.rings[0], strict=True)]
    assert spans == pytest.approx([side, side], rel=0.02)
    assert side * desk.scale > desk.stage.bounding_box()["height"]


# Numbers


def test_the_numbers_are_those_of_the_pipeline_and_saved_with_initials(visitor, first_sample):
    asked = []
    visitor.page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    x, y = visitor.points[4]
    visitor.drag(_line((x, y), (x + 25, y - 20)))
    visitor.page.get_by_label("Your initials or staff code").fill("KL")
    assert visitor.page.get_by_role("button", name="Save numbers (JSON)").count() == 0
    visitor.page.get_by_role("button", name="Use these initials").click()
    saved = visitor.saved()
    prepared = prepare(read_photo(first_sample.photo))
    outlines = parse_outlines(saved, prepared.photo.width, prepared.photo.height)
    editing = parse_editing(saved, prepared.photo.width, prepared.photo.height)
    (wound,) = complete(prepared, outlines, editing=editing).wounds
    area = dict(rows(wound))["area"]
    assert visitor.numbers.startswith(f"{area.value:.2f} ± {area.expanded_uncertainty:.2f} cm²")
    assert saved["wounds"][0]["source"] == "given"
    assert (saved["editing"]["by"], saved["editing"]["edits"]) == ("KL", 1)
    proposed = parse_outlines({"wounds": saved["editing"]["proposed"]}, prepared.photo.width, prepared.photo.height)
    assert dice(polygon(proposed[0]), polygon(prepared.outlines[0])) > 0.9999
    assert len(saved["wounds"][0]["outline"]) == len(visitor.rings[0])
    for drawn, kept in zip(visitor.rings[0], saved["wounds"][0]["outline"], strict=True):
        assert drawn == pytest.approx(kept, abs=0.2)
    visitor.page.wait_for_timeout(500)
    visitor.page.reload()
    assert not asked  # all of it is saved


def test_new_numbers_stand_soon_after_the_finger_lifts(phone):
    """300 ms are wanted and about 160 were measured; the limit here only tells a page that does far too much.

    The quickest of five counts: other tests may keep the machine busy.
    """
    taken = []
    for number in range(5):
        x, y = phone.points[4]
        phone.page.evaluate(ANSWERED)
        phone.finger(_line((x, y), (x + 15, y + 15 * (-1) ** number)))
        taken.append(phone.page.evaluate("globalThis.answered"))
    assert min(taken) < 1000, taken


# Nothing is lost


def test_a_rerun_and_another_page_lose_nothing(visitor):
    x, y = visitor.points[4]
    visitor.drag(_line((x, y), (x + 25, y - 20)))
    edited, numbers = visitor.rings[0], visitor.numbers
    visitor.page.get_by_text("How length and width are taken").click()
    visitor.page.get_by_text("Head to toe, width from side to side").click()
    visitor.page.wait_for_function(
        "was => document.querySelector('[data-testid=stBidiComponentIsolated]').shadowRoot"
        ".querySelector('.numbers').textContent !== was",
        arg=numbers,
    )
    assert _same(visitor.rings[0], edited)
    visitor.page.get_by_role("link", name="Stickers").first.click()
    visitor.page.get_by_text("Print stickers").wait_for()
    visitor.page.get_by_role("link", name="Measure").first.click()
    visitor.stage.wait_for()
    visitor.page.wait_for_timeout(300)
    assert visitor.rings[0] == [pytest.approx(point, abs=0.5) for point in edited]
    assert visitor.status == "1 change to the proposal"
    visitor.press("Undo")
    assert visitor.status == "As proposed"


def test_leaving_asks_first_while_edits_are_not_saved(visitor, address):
    asked = []

    def answer(dialog):
        asked.append(dialog.type)
        dialog.accept()

    visitor.page.on("dialog", answer)
    x, y = visitor.points[4]
    visitor.drag(_line((x, y), (x + 25, y - 20)))
    visitor.page.get_by_label("Your initials or staff code").fill("KL")
    visitor.page.get_by_role("button", name="Use these initials").click()
    visitor.page.get_by_role("button", name="Save numbers (JSON)").wait_for()
    visitor.page.get_by_role("link", name="Stickers").first.click()
    visitor.page.get_by_text("Print stickers").wait_for()
    visitor.page.goto(address)
    assert asked == ["beforeunload"]
    visitor.page.get_by_test_id("stFileUploader").wait_for()
    visitor.upload()
    visitor.page.reload()
    assert asked == ["beforeunload"]  # nothing was edited


def test_another_photo_leaves_the_warning_for_the_first_one(visitor, island_sample):
    asked = []
    visitor.page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    x, y = visitor.points[4]
    visitor.drag(_line((x, y), (x + 25, y - 20)))
    visitor.page.set_input_files("input[type=file]", str(island_sample.photo))
    visitor.page.get_by_text("As proposed", exact=True).wait_for()
    visitor.page.reload()
    assert asked == ["beforeunload"]


def test_a_lost_connection_is_told_and_the_edit_sent_again(browser, address, first_sample):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    cut = []

    def carry(socket):
        server = socket.connect_to_server()
        socket.on_message(lambda message: None if cut else server.send(message))
        server.on_message(lambda message: None if cut else socket.send(message))

    page.route_web_socket(re.compile("stream"), carry)
    desk = Desk(page, first_sample.photo).open(address)
    x, y = desk.points[4]
    cut.append(True)
    desk.page.mouse.move(x, y)
    desk.page.mouse.down()
    desk.page.mouse.move(x + 20, y - 20)
    desk.page.mouse.up()
    page.get_by_text("not saved").wait_for()
    cut.clear()
    page.get_by_text("1 change to the proposal").wait_for()
    assert desk.area != pytest.approx(0)
    context.close()


# Hands and eyes


def test_every_target_is_large_enough_for_a_gloved_finger(phone):
    """44 CSS px (WCAG 2.2, 2.5.5 Target Size, enhanced)."""
    phone.press("More")
    for tool in ("Drag", "Add area", "Remove area", "Trace", "Tap round"):
        phone.press(tool)
        for button in phone.page.locator(".toolbar button:visible").all():
            box = button.bounding_box()
            assert box["height"] >= 44
            assert box["width"] >= 44
            assert button.inner_text()
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert phone.stage.bounding_box()["height"] <= 0.7 * 844


def test_the_stage_takes_the_focus_of_a_button_that_goes_away(desk):
    focused = "stage => stage.getRootNode().activeElement === stage"
    desk.keys("n")
    for button, keeps in (("Delete point", False), ("Undo", True), ("Redo", False)):
        desk.page.get_by_role("button", name=button, exact=True).focus()
        desk.page.keyboard.press("Enter")
        desk.settle()
        assert desk.stage.evaluate(focused) != keeps


def test_a_screen_reader_is_told_the_keys_and_where_things_are(desk):
    spoken = desk.page.locator(".said")
    described = desk.stage.evaluate(
        "stage => stage.getAttribute('aria-describedby').split(' ')"
        ".map(id => stage.getRootNode().getElementById(id).textContent)"
    )
    assert described[0] == desk.page.locator(".hint").inner_text()
    assert "next and previous point" in described[1]
    before = desk.rings[0]
    desk.keys("n", "Shift+ArrowUp")
    (point,) = [after for one, after in zip(before, desk.rings[0], strict=True) if math.dist(one, after) > 9.5]
    x, y = map(int, re.match(r"Moved to (\d+) across, (\d+) down\.", spoken.inner_text()).groups())
    assert (x, y) == pytest.approx(point, abs=1)
    desk.keys("4", "ArrowLeft")
    x, y = map(int, re.match(r"(\d+) across, (\d+) down\.", spoken.inner_text()).groups())
    assert desk.at((x, y)) == pytest.approx((desk.centre[0] - 8, desk.centre[1]), abs=1)


def test_a_photo_that_does_not_come_is_asked_for_again(browser, address, first_sample):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    cut = [True]
    page.route(re.compile("/photo/"), lambda route: route.abort() if cut else route.continue_())
    page.goto(address)
    page.set_input_files("input[type=file]", str(first_sample.photo))
    page.get_by_text("it is asked for again").wait_for()
    cut.clear()
    page.get_by_text("it is asked for again").wait_for(state="hidden")
    assert page.locator(".photo").evaluate("photo => photo.naturalWidth")
    context.close()


def test_letters_typed_in_the_editor_reach_no_key_of_the_page(desk):
    desk.keys("r", "c")
    assert desk.page.get_by_text("Clear caches").count() == 0


def test_a_swipe_over_a_new_stage_scrolls_the_page_and_the_first_tap_takes_hold(browser, address, first_sample):
    context, phone = _opened(browser, address, first_sample.photo, touch=True)
    hint, place = phone.page.locator(".hint"), "document.querySelector('[data-testid=stMain]').scrollTop"
    assert hint.inner_text() == "Tap the photo to correct the line."
    before, scrolled, (x, y) = phone.rings, phone.page.evaluate(place), phone.points[4]
    phone.finger(_line((x, y), (x, y - 150)))
    phone.page.wait_for_timeout(300)
    assert phone.page.evaluate(place) > scrolled + 50
    assert phone.rings == before
    phone.look()
    x, y = phone.points[4]
    phone.finger([(x, y)])
    assert hint.inner_text().startswith("Drag the line")
    phone.finger(_line((x, y), (x, y - 40)))
    assert phone.status == "1 change to the proposal"
    context.close()


def test_a_finger_beside_the_stage_scrolls_the_page_and_one_on_it_does_not(phone):
    place = "document.querySelector('[data-testid=stMain]').scrollTop"
    before = phone.page.evaluate(place)
    box = phone.stage.bounding_box()
    corner = box["x"] + 20, box["y"] + box["height"] - 20  # no line is near
    phone.finger(_line(corner, (corner[0], corner[1] - 150)))
    assert phone.page.evaluate(place) == before
    button = phone.page.get_by_role("button", name="Add area").bounding_box()
    start = button["x"] + 20, button["y"] + 20
    phone.finger(_line(start, (start[0], start[1] - 150)))
    phone.page.wait_for_timeout(300)
    assert phone.page.evaluate(place) > before + 50
    assert phone.page.get_by_role("button", name="Add area").get_attribute("aria-pressed") == "false"
