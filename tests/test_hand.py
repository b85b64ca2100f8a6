"""The simulated hand: its areas against filled polygons, its edits against cases that are worked out by hand."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from serving import CHROMIUM
from shapely.geometry import LineString, Point, Polygon, box
from skimage.draw import disk

import measure
from measure.outline import Outline, from_polygon, mask, polygon
from tests.benchmarks.drag import runs
from tests.benchmarks.hand import JITTER, _Hand, replay
from tests.benchmarks.redraw import Redraws
from tests.benchmarks.reference import Reference, signed_area
from tests.benchmarks.stretch import drawn_anew, goes_round, reach_px, untangled, with_stretch
from tests.benchmarks.stroke import STROKE_SHARE, Strokes

SHAPE = (160, 200)
EXACT = 0.0, 0.0


def disc(x=100.0, y=80.0, radius=40.0):
    drawn = np.zeros(SHAPE, bool)
    drawn[disk((y, x), radius, shape=SHAPE)] = True
    return drawn


def ring(x=100.0, y=80.0, radius=40.0, points=60):
    return from_polygon(Point(x, y).buffer(radius, points // 4))


@given(st.integers(0, 10**6))
def test_pixels_inside_a_ring_are_those_of_the_polygon_filled(seed):
    """Against shapely: each of the mask's pixels as a square, cut by the polygon."""
    random = np.random.default_rng(seed)
    drawn = random.random((14, 18)) < 0.5
    angle = np.sort(random.uniform(0, 2 * np.pi, 7))
    corners = np.column_stack([9 + 8 * np.cos(angle), 7 + 6 * np.sin(angle)])
    wound = Polygon(corners)
    pixels = [box(x - 0.5, y - 0.5, x + 0.5, y + 0.5) for y, x in np.argwhere(drawn)]
    expected = sum(pixel.intersection(wound).area for pixel in pixels)
    assert Reference(drawn).inside(Outline(corners)) == pytest.approx(expected, abs=0.5)  # lines are sampled, not cut


def test_pixels_inside_an_outline_leave_its_holes_out():
    outline = Outline(ring().exterior, (ring(radius=15).exterior,))
    assert Reference(np.ones(SHAPE, bool)).inside(outline) == pytest.approx(np.pi * (40**2 - 15**2), rel=0.005)
    assert Reference(disc(radius=14)).inside(outline) == pytest.approx(0, abs=1)


def test_the_signed_area_is_that_of_the_shoelace():
    corners = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)])
    assert signed_area(corners, np.roll(corners, -1, axis=0)).sum() == 12
    assert signed_area(corners[::-1], np.roll(corners[::-1], -1, axis=0)).sum() == -12


def test_a_dragged_point_takes_hidden_ones_along_and_leaves_the_shown_ones():
    outline = ring(points=120).exterior
    for operation, run in runs(outline):
        target = run.grip + np.array([5.0, 0.0])
        after = run.put(outline, target)
        assert len(after) - len(outline) in ((0, 1) if operation == "drag edge" else (0,))
        assert (np.abs(after - target).sum(axis=1) < 1e-9).sum() == 1
        moved = np.linalg.norm(run.moved(target[None])[0] - run.points, axis=1)
        assert moved.max() == pytest.approx(5.0)
        assert moved[[0, -1]] == pytest.approx(0)
        assert 0 < np.median(moved[1:-1]) < 5
        unmoved = (np.abs(after[:, None] - outline[None]).sum(axis=2) < 1e-9).any(axis=1).sum()
        assert unmoved >= 0.6 * len(outline)  # a point moves an eighth of the ring on either side, or little more


def test_what_is_right_needs_no_edit():
    assert replay([ring()], Reference(disc())).edits_to(0.95) == 0
    nothing = replay([], Reference(np.zeros(SHAPE, bool)))
    assert (nothing.iou, nothing.operations) == ((1.0,), ())


@pytest.mark.parametrize("brush", [True, False])
def test_a_missed_wound_is_traced_in_one_edit(brush):
    corrected = replay([], Reference(disc()), brush=brush, redraw=brush)
    assert corrected.operations == ("trace",)
    assert corrected.edits_to(0.95) == 1


def test_false_wounds_are_removed_one_by_one():
    falsely = [ring(30, 30, 12), ring(150, 120, 12)]
    assert replay([ring(), falsely[0]], Reference(disc()), jitter=EXACT).operations == ("remove",)
    assert replay(falsely, Reference(np.zeros(SHAPE, bool))).operations == ("remove", "remove")


def test_a_false_hole_is_removed_in_one_edit():
    holed = Outline(ring().exterior, (ring(radius=20).exterior,))
    assert replay([holed], Reference(disc()), jitter=EXACT).operations == ("remove",)


def test_an_outline_of_something_else_is_removed_and_the_wound_traced():
    corrected = replay([ring(150, 80, 14)], Reference(disc(130, 80, 9)), jitter=EXACT)
    assert corrected.operations == ("remove", "trace")
    assert corrected.iou[1] == 0


def test_a_corner_that_is_cut_off_is_dragged_out_in_one_edit():
    drawn = np.zeros(SHAPE, bool)
    drawn[30:130, 40:160] = True
    cut = Outline(np.array([(39.5, 29.5), (159.5, 29.5), (159.5, 129.5), (80.0, 129.5), (39.5, 90.0)]))
    corrected = replay([cut], Reference(drawn), brush=False, redraw=False, jitter=EXACT, goal=0.99)
    assert len(corrected.operations) == 1
    assert corrected.operations[0] in {"drag point", "drag edge"}


def test_a_false_bulge_is_brushed_away_and_a_missing_one_brushed_on():
    bulged = from_polygon(Point(100, 80).buffer(40).union(Point(140, 80).buffer(14)))
    notched = from_polygon(Point(100, 80).buffer(40).difference(Point(140, 80).buffer(22)))
    away, onto = (
        replay([each], Reference(disc()), redraw=False, jitter=EXACT, goal=0.98) for each in (bulged, notched)
    )
    assert set(away.operations) == {"sweep to remove"}
    assert set(onto.operations) == {"sweep to add"}
    assert max(len(away.operations), len(onto.operations)) <= 2


def test_a_stroke_is_at_most_a_quarter_of_the_perimeter_long_and_stays_where_it_does_no_harm():
    reference = Reference(disc())
    strokes = list(Strokes(reference).best(mask(ring(radius=30), *SHAPE[::-1])))
    lengths = [LineString(stroke.line).length if len(stroke.line) > 1 else 0 for stroke in strokes]
    assert 0.8 * STROKE_SHARE * reference.perimeter < max(lengths) <= STROKE_SHARE * reference.perimeter
    assert all(stroke.adds for stroke in strokes)
    for stroke in strokes:
        swept = LineString(stroke.line).buffer(stroke.radius)
        assert swept.difference(reference.whole.buffer(0.5)).area < 0.01 * swept.area
        gained = swept.intersection(reference.whole).difference(Polygon(ring(radius=30).exterior)).area
        assert stroke.gain == pytest.approx(gained, rel=0.25)  # what its round ends reach besides is not counted


def test_the_brush_needs_fewer_edits_than_drags_round_a_wound_outlined_too_small():
    small = [ring(radius=34)]
    swept, dragged = (
        replay(small, Reference(disc()), brush=brush, redraw=False, jitter=EXACT) for brush in (True, False)
    )
    assert swept.iou[0] == pytest.approx(34**2 / 40**2, abs=0.01)
    assert swept.edits_to(0.95) <= 4  # strokes of a quarter each
    assert swept.edits_to(0.95) <= dragged.edits_to(0.95) < np.inf


def wavy(waves=4, height=5.0):
    """Return a ring that goes in and out along a fifth of the disc's edge."""
    angle = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    there = np.where(angle < 0.4 * np.pi, np.sin(waves * angle / 0.2), 0.0)
    return Outline((40 + height * there)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]) + (100, 80))


def test_a_stretch_that_goes_in_and_out_is_redrawn_in_one_edit_where_sweeps_must_add_and_remove():
    redrawn, swept = (
        replay([wavy()], Reference(disc()), redraw=redraw, jitter=EXACT, goal=0.985) for redraw in (True, False)
    )
    assert redrawn.iou[0] < 0.965  # mean height of a sine, 2/pi, x 5 px x 50 px of 5027 px
    assert redrawn.operations == ("redraw",)
    assert redrawn.edits_to(0.985) == 1
    assert set(swept.operations) == {"sweep to add", "sweep to remove"}
    assert 2 <= swept.edits_to(0.985) < np.inf


@pytest.mark.parametrize("turn", [1, -1])
@pytest.mark.parametrize("first", [0, 30])
@pytest.mark.parametrize("holed", [False, True])
def test_the_best_stroke_to_redraw_gains_what_is_foretold(turn, first, holed):
    reference = Reference(disc(radius=60) & ~disc() if holed else disc())
    line = np.roll(wavy().exterior, first, axis=0)[::turn]
    outline = Outline(ring(radius=60, points=240).exterior, (line,)) if holed else Outline(line)
    told = {}

    def weigh(common, area):
        told.update(common=common, area=area)
        return 2 * common - area

    path = next(Redraws(reference).best(line, -1 if holed else 1, 10.0, weigh))
    after = Outline(with_stretch(line, path))
    after = Outline(outline.exterior, (after.exterior,)) if holed else after
    best = np.unravel_index((told["common"] * 2 - told["area"]).argmax(), told["area"].shape)
    assert told["common"][best] == pytest.approx(reference.inside(after) - reference.inside(outline), abs=2)
    assert told["area"][best] == pytest.approx(polygon(after).area - polygon(outline).area, abs=2)
    inner = Point(100, 80).buffer(50)  # the outer ring isn't redrawn
    before, now = (
        polygon(each).symmetric_difference(reference.whole).intersection(inner).area for each in (outline, after)
    )
    assert now < before / 3


def test_a_stroke_to_redraw_goes_along_the_edge_from_line_to_line_and_is_short_enough():
    reference, line = Reference(disc()), wavy().exterior
    paths = list(Redraws(reference).best(line, 1, 1.0, lambda common, area: 2 * common - area))
    assert paths
    assert max(LineString(path).length for path in paths) <= STROKE_SHARE * reference.perimeter
    for path in paths:
        assert shapely.distance(shapely.points(path), reference.whole.exterior).max() < 0.01
        assert shapely.distance(shapely.points(path[[0, -1]]), Polygon(line).exterior).max() < 1.0
    far = ring(radius=30).exterior
    assert not list(Redraws(reference).best(far, 1, 5.0, lambda common, area: 2 * common - area))


def test_a_stretch_is_replaced_on_the_side_that_the_stroke_is_nearer_to():
    square = np.array([(0.0, 0.0), (50.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
    bulge = np.array([(30.0, 0.0), (30.0, -20.0), (70.0, -20.0), (70.0, 0.0)])
    for path in (bulge, bulge[::-1]):
        assert Polygon(with_stretch(square, path)).area == 10_800
        assert Polygon(with_stretch(square, path * (1, -1))).area == 9_200
    knotted = np.array([(30.0, 0.0), (70.0, -20.0), (30.0, -20.0), (70.0, 0.0)])
    assert Polygon(with_stretch(square, knotted)).area == 10_200  # 40 x 10 / 2 px below the crossing; the loop is cut
    assert np.array_equal(untangled(square), square)


def test_what_the_editor_would_not_take_for_a_stretch_is_not_drawn():
    outline, radius = ring(), 40.0
    angle = np.linspace(0, 1.5, 40)
    arc = np.column_stack([100 + radius * np.cos(angle), 80 + radius * np.sin(angle)])
    assert drawn_anew(outline, arc, 2.0) is not None
    assert drawn_anew(outline, (arc - (100, 80)) * 0.9 + (100, 80), 2.0) is None  # 4 px beside the line
    bulge = np.array([(138, 76), (190, 76), (190, 84), (138, 84)])
    assert drawn_anew(outline, bulge, 2.0) is not None
    there_and_back = np.concatenate([arc, arc[::-1] + 0.5])
    assert drawn_anew(outline, there_and_back, 2.0) is None
    once_round = np.linspace(0, 6.2, 80)
    rim = 40 * np.column_stack([np.cos(once_round), np.sin(once_round)]) + (100, 80)
    assert drawn_anew(outline, rim, 2.0) is None
    across = rim[:, ::-1] * 0.5 + (90, 40)  # beside the middle, half of it outside
    assert drawn_anew(outline, across, 9.0) is None


def test_the_reach_is_a_mouse_s_where_the_editor_shows_all_outlines():
    outlines = [ring(radius=400, x=1000, y=1000)]
    scale = 560 / (1.6 * 800)  # screen px a px of the photo: 0.3 of the box on either side, on a stage of 560 px
    assert reach_px(outlines, 4096, 3072) == pytest.approx(24 / scale, rel=0.03)
    assert reach_px([ring(radius=5)], 4096, 3072) == pytest.approx(24 / 2)


def _bulge(line, random):
    """Give a loop from a line back to it: of any size, towards its middle or away."""
    start, size = line[random.integers(len(line))], random.uniform(0.2, 1.2)
    middle = start + (np.array((100, 80)) - start) * size * random.choice((-1, 1))
    loop = np.linspace(0.1, 2 * np.pi - random.uniform(0.1, 0.6), 40)[:, None]
    arm = start - middle
    return line, middle + np.cos(loop) * arm + np.sin(loop) * arm[::-1] * (-1, 1) * random.uniform(0.2, 1.2)


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_stretches_are_replaced_as_the_editor_s_own_script_does(browser):
    random = np.random.default_rng(5)
    hand = _Hand(Reference(disc()), JITTER, random)
    cases = []
    for _ in range(60):
        line = hand._shaken(ring(points=48).exterior, 1.0)
        angle = random.uniform(0, 2 * np.pi) + np.linspace(0, random.uniform(0.3, 5.0), 25)
        radius = random.uniform(32, 48)
        path = np.column_stack([100 + radius * np.cos(angle), 80 + radius * np.sin(angle)])
        cases.append((line, hand._shaken(path, 1.5)))
    room = Path(measure.__file__).parent / "pages" / "outline_editor"
    cases += [_bulge(line, random) for line, _ in cases]
    script = "\n".join((room / f"{name}.js").read_text(encoding="utf-8") for name in ("shapes", "points"))
    context = browser.new_context()
    drawn = context.new_page().evaluate(
        f"cases => {{ {script}\nreturn cases.map(one => [goesRound(...one), withStretch(...one)]); }}",
        [[line.tolist(), path.tolist()] for line, path in cases],
    )
    context.close()
    assert 10 < sum(round_it for round_it, _ in drawn) < len(cases) - 10
    for (line, path), (round_it, expected) in zip(cases, drawn, strict=True):
        assert goes_round(line, path) == round_it
        assert with_stretch(line, path) == pytest.approx(np.array(expected))


def test_the_hand_strays_as_far_as_it_says():
    hand = _Hand(Reference(disc()), JITTER, np.random.default_rng(1))
    assert hand.sigma == pytest.approx(max(0.8, 0.7 * 200 / 512), rel=0.02)  # 1 % of 80 px
    strays = hand._shaken(np.zeros((5000, 2)), hand.sigma)
    assert strays.std() == pytest.approx(hand.sigma, rel=0.05)
    line = np.column_stack([np.linspace(0, 900, 3000), np.zeros(3000)])
    stroke = hand._shaken(line, hand.sigma, smooth=10.0) - line
    assert 0.7 * hand.sigma < stroke.std() < hand.sigma  # straight between its knots: 2/3 of the variance
    assert np.abs(np.diff(stroke, axis=0)).max() < 0.3 * hand.sigma


def test_every_outline_on_the_way_is_sound():
    reference = Reference(disc() | disc(40, 40, 16))
    hand = _Hand(reference, JITTER, np.random.default_rng(3))
    now = (ring(110, 70, 38), ring(170, 130, 10))
    for _ in range(6):
        step = hand.step(now, hand.iou(now))
        if step is None:
            break
        now, _ = step
        shapes = [Polygon(each.exterior, each.holes) for each in now]
        assert all(shape.is_valid for shape in shapes)
        assert shapely.union_all(shapes).area == pytest.approx(sum(shape.area for shape in shapes), abs=0.5)
    filled = np.any([mask(each, *SHAPE[::-1]) for each in now], axis=0)
    either = (filled | reference.mask).sum()
    assert hand.iou(now) == pytest.approx((filled & reference.mask).sum() / either, abs=0.01)
    assert hand.iou(now) > 0.93


def test_redraws_by_a_straying_hand_leave_sound_outlines_and_gain_less_than_exact_ones():
    reference = Reference(disc() | disc(160, 80, 14))
    beside = Outline(ring(160, 80, 13).exterior)
    exact = _Hand(reference, EXACT, np.random.default_rng(2), brush=False)
    (move, *_) = sorted(exact._redraws((wavy(), beside)), key=lambda move: -move.iou)
    strayed = []
    for seed in range(30):
        hand = _Hand(reference, JITTER, np.random.default_rng(seed), brush=False)
        after = hand._done((wavy(), beside), move, hand.sigma)
        if after is None:
            continue
        shapes = [polygon(each) for each in after]
        assert all(shape.is_valid for shape in shapes)
        assert not shapes[0].intersects(shapes[1])
        assert np.array_equal(after[1].exterior, beside.exterior)
        strayed.append(hand.iou(after))
    assert len(strayed) > 25
    assert exact.iou((wavy(), beside)) < np.median(strayed) < move.iou
    assert np.std(strayed) > 0


def test_a_redraw_that_would_reach_into_another_wound_is_not_made():
    reference = Reference(disc())
    hand = _Hand(reference, EXACT, np.random.default_rng(2))
    notched = from_polygon(Point(100, 80).buffer(40).difference(Point(140, 80).buffer(12)))
    within = ring(136, 80, 3)  # where the notch is
    assert [move.operation for move in hand._redraws((notched,))]
    angle = np.linspace(-0.4, 0.4, 30)
    path = 40 * np.column_stack([np.cos(angle), np.sin(angle)]) + (100, 80)
    assert hand._redrawn((notched,), 0, path) is not None
    assert hand._redrawn((notched, within), 0, path) is None
