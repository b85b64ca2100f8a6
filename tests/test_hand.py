"""The simulated hand: its areas against filled polygons, its edits against cases that are worked out by hand."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box
from skimage.draw import disk

from measure.outline import Outline, from_polygon, mask
from tests.benchmarks.drag import runs
from tests.benchmarks.hand import JITTER, _Hand, replay
from tests.benchmarks.reference import Reference, signed_area
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
    corrected = replay([], Reference(disc()), brush=brush)
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
    corrected = replay([cut], Reference(drawn), brush=False, jitter=EXACT, goal=0.99)
    assert len(corrected.operations) == 1
    assert corrected.operations[0] in {"drag point", "drag edge"}


def test_a_false_bulge_is_brushed_away_and_a_missing_one_brushed_on():
    bulged = from_polygon(Point(100, 80).buffer(40).union(Point(140, 80).buffer(14)))
    notched = from_polygon(Point(100, 80).buffer(40).difference(Point(140, 80).buffer(22)))
    away = replay([bulged], Reference(disc()), jitter=EXACT, goal=0.98)
    onto = replay([notched], Reference(disc()), jitter=EXACT, goal=0.98)
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
    swept, dragged = (replay(small, Reference(disc()), brush=brush, jitter=EXACT) for brush in (True, False))
    assert swept.iou[0] == pytest.approx(34**2 / 40**2, abs=0.01)
    assert swept.edits_to(0.95) <= 4  # strokes of a quarter each
    assert swept.edits_to(0.95) <= dragged.edits_to(0.95) < np.inf


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
