"""The brush: joins, splits, holes, and that adding never takes away nor removing adds."""

import json
from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from measure import outline
from measure.outline import Outline, OutlineError, check_outlines, polygon
from measure.sweep import EDGE_TOLERANCE, add_sweep, remove_sweep

WIDTH, HEIGHT = 1200, 900
RADIUS = 30.0


def circle(x, y, radius, corners=60):
    angle = np.arange(corners) * 2 * pi / corners
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


LEFT, RIGHT = Outline(circle(300, 450, 150)), Outline(circle(800, 450, 150))
ISLAND = Outline(circle(300, 450, 150), (circle(300, 450, 20),))


def add(outlines, stroke, radius=RADIUS):
    return add_sweep(outlines, stroke, radius, WIDTH, HEIGHT)


def remove(outlines, stroke, radius=RADIUS):
    return remove_sweep(outlines, stroke, radius, WIDTH, HEIGHT)


def area(outlines):
    return sum(polygon(wound).area for wound in outlines)


# Adding


def test_a_stroke_from_wound_to_wound_joins_them():
    joined = add((LEFT, RIGHT), [(300, 450), (800, 450)])
    assert len(joined) == 1
    bridge = 2 * RADIUS * (500 - 2 * 150)  # and what lies between it and the two circles
    assert bridge < area(joined) - area((LEFT, RIGHT)) < bridge * 1.1


def test_a_stroke_that_touches_nothing_starts_a_wound():
    outlines = add((LEFT,), [(700, 450)])
    assert outlines[0] is LEFT
    assert area(outlines[1:]) == pytest.approx(pi * RADIUS**2, rel=0.03)
    assert 12 <= len(outlines[1].exterior) <= 30


def test_an_island_far_from_the_stroke_stays_however_small():
    wound = Outline(circle(300, 450, 150), (circle(350, 500, 8),))
    (after,) = add((wound,), [(150, 450), (140, 440)], radius=40)
    assert len(after.holes) == 1
    assert after.holes[0].mean(axis=0) == pytest.approx([350, 500], abs=1)


def test_a_stroke_within_a_wound_changes_nothing():
    assert add((LEFT, RIGHT), [(300, 450), (350, 450)]) == (LEFT, RIGHT)


def test_a_hole_that_is_covered_is_filled():
    (filled,) = add((ISLAND,), [(300, 450)])
    assert not filled.holes
    assert polygon(filled).area == pytest.approx(polygon(LEFT).area, rel=1e-4)


def test_a_speck_that_is_left_of_a_hole_is_filled_too():
    (filled,) = add((ISLAND,), [(311, 450)])
    assert not filled.holes


def test_a_hole_that_is_half_covered_stays():
    (smaller,) = add((ISLAND,), [(345, 450)])
    assert 0 < shapely.Polygon(smaller.holes[0]).area < shapely.Polygon(ISLAND.holes[0]).area


def test_what_is_outside_the_photo_is_cut_off():
    (wound,) = add((), [(-10, 300), (60, 300)])
    assert wound.exterior.min() == -0.5
    assert add((), [(-100, 300)]) == ()


# Removing


def test_a_tap_cuts_a_hole():
    (wound,) = remove((LEFT,), [(300, 450)])
    assert shapely.Polygon(wound.holes[0]).area == pytest.approx(pi * RADIUS**2, rel=0.03)
    assert {tuple(point) for point in wound.exterior} == {tuple(point) for point in np.round(LEFT.exterior, 2) + 0.0}


def test_a_stroke_across_splits_a_wound_and_the_parts_stay_together():
    parts = remove((LEFT, RIGHT), [(280, 200), (280, 700)])
    assert len(parts) == 3
    assert parts[2] is RIGHT
    assert area(parts[:1]) >= area(parts[1:2])
    assert area((LEFT,)) - area(parts[:2]) == pytest.approx(2 * RADIUS * 2 * 150, rel=0.03)


def test_everything_can_be_removed():
    assert remove((LEFT,), [(300, 450)], radius=200) == ()


def test_a_speck_that_is_left_is_dropped():
    assert remove((Outline(circle(300, 450, 30.5)),), [(301, 450)]) == ()


def test_a_wound_beside_the_stroke_comes_back_as_it_was():
    assert remove((LEFT, RIGHT), [(1100, 100)]) == (LEFT, RIGHT)


# Both


def test_the_edge_away_from_the_stroke_stays():
    """Away is more than a radius beyond what the brush swept over."""
    (wound,) = add((LEFT,), [(450, 450)])
    away = np.hypot(*(LEFT.exterior - (450, 450)).T) > 2 * RADIUS + 1
    kept = {tuple(point) for point in wound.exterior}
    assert {tuple(point) for point in np.round(LEFT.exterior[away], 2)} <= kept


def test_an_outline_that_crosses_itself_is_mended_by_the_stroke():
    bow_tie = Outline([(100, 100), (300, 300), (300, 100), (100, 300)])
    outlines = add((bow_tie,), [(200, 200)])
    check_outlines(outlines, WIDTH, HEIGHT)
    assert area(outlines) > 20_000


@pytest.mark.parametrize("stroke", [[], [(np.nan, 1)], [1, 2, 3], "line", None])
def test_a_stroke_that_is_none_is_refused(stroke):
    with pytest.raises(OutlineError, match=r"no list of \[x, y\] points; draw it again"):
        add((LEFT,), stroke)


@pytest.mark.parametrize("radius", [0, -1, np.nan, np.inf])
def test_a_brush_without_a_size_is_refused(radius):
    with pytest.raises(OutlineError, match="The brush has a radius of"):
        remove((LEFT,), [(1, 1)], radius)


def test_a_wound_that_was_painted_has_few_points():
    """Lines to and fro across a circle of 150 px, a radius apart, as a hand paints; then its rim, drawn round."""
    outlines = ()
    for y in np.arange(-120, 121, RADIUS):
        half = np.sqrt(120**2 - y**2)
        outlines = add(outlines, [(600 - half, 450 + y), (600 + half, 450 + y)])
    assert len(outlines) == 1
    assert len(outlines[0].exterior) <= 120
    (wound,) = add(outlines, circle(600, 450, 120))
    assert 20 <= len(wound.exterior) <= 80
    assert polygon(wound).area == pytest.approx(pi * 150**2, rel=0.03)


# Invariants


@st.composite
def strokes(draw):
    """Draw a brush and a line of 1 to 8 points, some of them outside the photo."""
    x, y = st.integers(-60, WIDTH + 60), st.integers(-60, HEIGHT + 60)
    return draw(st.lists(st.tuples(x, y), min_size=1, max_size=8)), draw(st.floats(4, 120))


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.sampled_from(["add", "remove"]), strokes()), min_size=1, max_size=5))
def test_any_strokes_leave_sound_outlines(drawn):
    """Sound also when stored and read; areas change the right way, but for the tolerance along the edge near it."""
    outlines = (ISLAND, RIGHT)
    for kind, (stroke, radius) in drawn:
        before = shapely.union_all([polygon(wound) for wound in outlines])
        outlines = (add if kind == "add" else remove)(outlines, stroke, radius)
        check_outlines(outlines, WIDTH, HEIGHT)
        after = shapely.union_all([polygon(wound) for wound in outlines])
        slack = EDGE_TOLERANCE * radius * max(before.length, after.length) + 1
        gain = after.area - before.area
        assert gain >= -slack if kind == "add" else gain <= slack
    if outlines:
        stored = json.loads(json.dumps(outline.document(outlines)))
        assert area(outline.parse_outlines(stored, WIDTH, HEIGHT)) == pytest.approx(area(outlines), rel=1e-4)


@settings(deadline=None, max_examples=60)
@given(strokes())
def test_what_was_added_can_be_removed(drawn):
    """On an empty photo; the same stroke swept twice covers itself but for slivers, which are dropped."""
    stroke, radius = drawn
    assert remove(add((), stroke, radius), stroke, radius * (1 + 2 * EDGE_TOLERANCE)) == ()
