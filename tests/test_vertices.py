"""Few points that stay near the edge; shapely's Hausdorff distance, and areas in closed form, are the reference."""

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from measure.outline import Outline, check_outline, from_mask, mask, polygon
from measure.vertices import FEWEST, MOST, TOLERANCE_MM, reduce_vertices

MM_PER_PX = 0.08
SIZE = 2000


def ellipse(long_mm, short_mm, corners=2000, wave=0.0, waves=0):
    """Draw an ellipse by its diameters, its edge waving so many times by a share of the radius."""
    angle = np.arange(corners) * 2 * pi / corners
    radius = 1 + wave * np.cos(waves * angle)
    middle = SIZE / 2 * np.ones(2)
    shape = np.column_stack([long_mm / 2 * np.cos(angle), short_mm / 2 * np.sin(angle)]) * radius[:, np.newaxis]
    return Outline(middle + shape / MM_PER_PX)


def spiral(turns=1.0, width_mm=4.0):
    """Draw a band that winds round its start, as an undermined, serpentine wound does."""
    angle = np.linspace(0, 2 * pi * turns, 1500)
    radius = 8 + 9 * angle / (2 * pi)
    inner, outer = (
        np.column_stack([(radius + side) * np.cos(angle), (radius + side) * np.sin(angle)]) for side in (0, width_mm)
    )
    return Outline(SIZE / 2 + np.concatenate([outer, inner[::-1]]) / MM_PER_PX)


def traced(outline):
    """Trace the outline's own mask: with the steps of pixels."""
    (found,) = from_mask(mask(outline, SIZE, SIZE))
    return found


def apart_mm(one, other):
    """Give the greatest distance of either edge from the other, looked at every 5 % of each of their edges."""
    edges = (polygon(one).boundary, polygon(other).boundary)
    return MM_PER_PX * shapely.hausdorff_distance(*edges, densify=0.05)


WOUNDS = {
    "circle of 10 mm": ellipse(10, 10),
    "circle of 60 mm": ellipse(60, 60),
    "long ellipse": ellipse(80, 15),
    "waving edge": ellipse(40, 30, wave=0.08, waves=9),
    "spiral": spiral(),
}


@pytest.mark.parametrize("trace", [False, True], ids=["drawn", "traced"])
@pytest.mark.parametrize("name", WOUNDS)
def test_there_are_few_points_and_they_stay_near_the_edge(name, trace):
    outline = traced(WOUNDS[name]) if trace else WOUNDS[name]
    fewer = reduce_vertices(outline, MM_PER_PX)
    assert FEWEST <= len(fewer.exterior) <= MOST
    assert apart_mm(fewer, outline) <= TOLERANCE_MM + 1e-9
    assert polygon(fewer).area == pytest.approx(polygon(outline).area, rel=1e-3)
    check_outline(fewer, SIZE, SIZE)


@pytest.mark.parametrize("diameter_mm", [6, 20, 60])
def test_a_circle_keeps_its_area(diameter_mm):
    """Pi / 4 d**2; points on the circle alone would lose 0.5 to 1 %."""
    area_px = polygon(reduce_vertices(ellipse(diameter_mm, diameter_mm), MM_PER_PX)).area
    assert area_px * MM_PER_PX**2 == pytest.approx(pi / 4 * diameter_mm**2, rel=1e-4)


@pytest.mark.parametrize("outline", [ellipse(60, 60, wave=0.05, waves=70), spiral(1.5)], ids=["jagged", "long spiral"])
def test_where_80_points_do_not_hold_the_tolerance_there_are_more(outline):
    fewer = reduce_vertices(outline, MM_PER_PX)
    assert MOST < len(fewer.exterior) < 160
    assert apart_mm(fewer, outline) <= TOLERANCE_MM + 1e-9


def test_a_wound_too_small_for_24_points_has_fewer():
    """A circle of 2 mm is 6.3 mm round: 12 steps of half a millimetre."""
    fewer = reduce_vertices(ellipse(2, 2), MM_PER_PX)
    assert 12 <= len(fewer.exterior) < FEWEST
    assert apart_mm(fewer, ellipse(2, 2)) < TOLERANCE_MM


def test_a_rectangle_gets_points_on_its_sides():
    rectangle = Outline([(100, 100), (500, 100), (500, 300), (100, 300)])
    fuller = reduce_vertices(rectangle, MM_PER_PX)
    assert len(fuller.exterior) >= FEWEST
    assert polygon(fuller).equals(polygon(rectangle))


def test_holes_keep_to_the_tolerance_too():
    holed = Outline(ellipse(40, 30).exterior, (ellipse(10, 8).exterior,))
    fewer = reduce_vertices(holed, MM_PER_PX)
    assert len(fewer.holes[0]) < 60
    distance = shapely.hausdorff_distance(Polygon(fewer.holes[0]).exterior, Polygon(holed.holes[0]).exterior, 0.05)
    assert distance * MM_PER_PX <= TOLERANCE_MM + 1e-9


def test_reducing_again_changes_next_to_nothing():
    once = reduce_vertices(traced(WOUNDS["waving edge"]), MM_PER_PX)
    again = reduce_vertices(once, MM_PER_PX)
    assert apart_mm(once, again) < TOLERANCE_MM
    assert FEWEST <= len(again.exterior) <= len(once.exterior)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(0.4, 1), min_size=12, max_size=60), st.floats(3, 60), st.floats(0.03, 0.3))
def test_any_star_stays_within_the_tolerance(radii, size_mm, mm_per_px):
    angle = np.arange(len(radii)) * 2 * pi / len(radii)
    corners = np.column_stack([np.cos(angle), np.sin(angle)]) * np.array(radii)[:, np.newaxis]
    outline = Outline(2000 + corners * size_mm / 2 / mm_per_px)
    fewer = reduce_vertices(outline, mm_per_px)
    check_outline(fewer, 4000, 4000)
    edges = polygon(fewer).boundary, polygon(outline).boundary
    assert shapely.hausdorff_distance(*edges, densify=0.05) * mm_per_px <= TOLERANCE_MM * 1.001
