"""Rigid moves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from measure.compare.placement import Placement, about

TURN, SHIFT = st.floats(-180, 180), st.tuples(st.floats(-100, 100), st.floats(-100, 100))
POINTS = np.array([(0.0, 0.0), (3.0, -4.0), (-50.0, 12.0)])


def test_a_quarter_turn_is_clockwise_on_a_screen():
    np.testing.assert_allclose(Placement(90).moved(np.array([(0.0, -1.0)])), [(1.0, 0.0)], atol=1e-12)


@given(TURN, SHIFT)
def test_there_and_back(turn, shift):
    move = Placement(turn, shift)
    np.testing.assert_allclose(move.back(move.moved(POINTS)), POINTS, atol=1e-9)


@given(TURN, SHIFT, TURN, SHIFT)
def test_two_moves_are_one(turn, shift, turn2, shift2):
    one, other = Placement(turn, shift), Placement(turn2, shift2)
    np.testing.assert_allclose(one.then(other).moved(POINTS), other.moved(one.moved(POINTS)), atol=1e-9)
    assert -180 <= one.then(other).turn_deg <= 180


@given(TURN, SHIFT)
def test_the_point_turned_about_only_shifts(turn, shift):
    move = about(POINTS[1], turn, np.array(shift))
    np.testing.assert_allclose(move.moved(POINTS[1:2])[0], POINTS[1] + shift, atol=1e-9)


def test_shapes_move_as_points_do():
    moved = Placement(30, (5, 6)).of(box(0, 0, 4, 2))
    assert moved.area == pytest.approx(8)
    expected = Placement(30, (5, 6)).moved(np.array([(2.0, 1.0)]))[0]
    np.testing.assert_allclose((moved.centroid.x, moved.centroid.y), expected)
