"""How far an edge moved, on shapes whose advance is known."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from measure.compare.advance import Doubt, advance, gilman_mm

NONE = Doubt()


def circle(radius, x=0.0, y=0.0):
    return Point(x, y).buffer(radius, quad_segs=64)


def by_hour(found):
    return {at.hour: at.advance_mm for at in found.by_clock}


def test_a_circle_from_20_to_15_mm_advances_by_5_mm():
    """Linear advance of Gilman, Wounds 1990;2:95-101: (A1 - A2) / ((p1 + p2) / 2), exactly r1 - r2 for circles."""
    found = advance(circle(20), circle(15), NONE)
    assert found.mean_mm == pytest.approx(5, abs=0.01)
    assert found.gilman_mm == pytest.approx(5, abs=0.01)
    assert found.advance_mm.min() == pytest.approx(found.advance_mm.max(), abs=0.02)


def test_gilman_of_published_areas():
    """A 12.0 to 7.5 cm2 with P 13.2 and 10.4 cm: 0.38136 cm (the formula of Gilman, Wounds 1990;2:95-101)."""

    class Measured:
        def __init__(self, area, length):
            self.area, self.length = area, length

    assert gilman_mm(Measured(1200, 132), Measured(750, 104)) == pytest.approx(3.8136, abs=1e-4)


def test_growth_is_negative_all_round():
    found = advance(circle(15), circle(17), NONE)
    assert found.mean_mm == pytest.approx(-2, abs=0.01)
    assert (found.share_advanced, found.share_receded) == (0, 1)
    assert found.gilman_mm < 0


def test_the_clock_goes_round_from_12_at_the_top():
    found = by_hour(advance(circle(20), circle(16, x=3), NONE))
    assert set(found) == set(range(1, 13))
    assert found[3] == pytest.approx(1, abs=0.1)
    assert found[9] == pytest.approx(7, abs=0.1)
    assert found[12] == pytest.approx(found[6], abs=0.05)


def test_twelve_may_lie_elsewhere():
    found = by_hour(advance(circle(20), circle(16, x=3), NONE, noon_deg=90))
    assert found[12] == pytest.approx(1, abs=0.1)
    assert found[6] == pytest.approx(7, abs=0.1)
    turned = by_hour(advance(circle(20), circle(16, y=3), NONE, noon_deg=90))
    assert turned[3] == pytest.approx(1, abs=0.1)  # what lies below is 3 o'clock where the right is 12


def test_islands_advance_outwards_and_do_not_count_as_outer_edge():
    earlier = Polygon(circle(20).exterior, [circle(3).exterior])
    later = Polygon(circle(18).exterior, [circle(5).exterior])
    found = advance(earlier, later, NONE)
    assert found.mean_mm == pytest.approx(2, abs=0.02)
    assert found.islands_mm.mean() == pytest.approx(2, abs=0.02)
    assert len(found.islands_mm) == 19


def test_a_new_island_is_no_advance_of_the_outer_edge():
    found = advance(circle(20), Polygon(circle(20).exterior, [circle(5).exterior]), NONE)
    assert found.mean_mm == pytest.approx(0, abs=1e-6)
    assert found.islands_mm.size == 0
    assert found.gilman_mm > 0


def test_of_a_split_wound_the_nearest_piece_counts():
    pieces = MultiPolygon([circle(6, x=-12), circle(6, x=12)])
    found = advance(box(-20, -8, 20, 8), pieces, NONE)
    assert found.pieces == 2
    hours = by_hour(found)
    assert hours[9] == pytest.approx(hours[3], abs=0.1)
    assert hours[12] > hours[9] > 1.9  # 2 mm at the middle of each side, more towards the corners


def test_beyond_means_more_than_u_of_both_outlines():
    """Each outline is uncertain by 0.3 mm: U = 2 sqrt(2) 0.3 = 0.85 mm (JCGM 100:2008, 5.1.2 and 6.3.3)."""
    doubt = Doubt(edges_mm=(0.3, 0.3))
    assert advance(circle(20), circle(19.2), doubt).share_advanced == 0
    assert advance(circle(20), circle(19.1), doubt).share_advanced == 1
    assert advance(circle(20), circle(20.9), doubt).share_receded == 1
    assert advance(circle(20), circle(19.1), doubt).mean_expanded_mm == pytest.approx(0.849, abs=1e-3)


def test_scale_counts_with_the_distance_and_cancels_not():
    found = advance(circle(20), circle(15), Doubt(scales=(0.03, 0.04)))
    np.testing.assert_allclose(found.sigma_mm, 0.05 * 20, rtol=0.01)
    assert found.mean_sigma_mm == pytest.approx(1.0, rel=0.01)


def test_a_shift_makes_sides_uncertain_but_not_the_mean():
    found = advance(circle(20), circle(15), Doubt(edges_mm=(0.2, 0.2), shift_mm=1.0))
    assert found.mean_sigma_mm == pytest.approx(math.hypot(0.2, 0.2))
    assert found.sigma_mm.min() > 1


def test_a_turn_makes_the_sides_of_an_oval_uncertain_and_of_a_circle_not():
    oval = affinity.scale(circle(10), 3, 1)
    assert advance(circle(20), circle(15), Doubt(turn_deg=5)).sigma_mm.max() < 0.05
    assert advance(oval, oval, Doubt(turn_deg=5)).sigma_mm.max() > 1


@given(
    st.floats(-180, 180),
    st.tuples(st.floats(-30, 30), st.floats(-30, 30)),
    st.floats(6, 25),
    st.floats(1, 2),
    st.integers(-30, 50).map(lambda tenth: tenth / 10),
)
def test_the_advance_does_not_depend_on_where_and_how_both_lie(turn, shift, radius, stretch, inward):
    earlier = affinity.scale(circle(radius), stretch, 1)
    later = earlier.buffer(-inward, quad_segs=32)
    both = [affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), *shift) for shape in (earlier, later)]
    here, there = advance(earlier, later, NONE), advance(*both, NONE, noon_deg=turn)
    assert there.mean_mm == pytest.approx(here.mean_mm, abs=0.02)
    if inward < radius / stretch:  # the least radius of curvature of the oval: beyond it the ends advance by more
        assert here.mean_mm == pytest.approx(inward, abs=0.05)
    assert (there.clock >= 0).all()
    assert (there.clock < 12).all()
