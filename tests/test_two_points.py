"""Two points with a known distance between them."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from calibration.errors import ScaleError
from calibration.two_points import two_point_plane

SIZE = (800, 700)


def test_scale_is_distance_over_pixels():
    plane = two_point_plane((100, 200), (400, 600), 50.0, SIZE)
    assert plane.mm_per_px(np.array([900.0, 50.0])) == pytest.approx(0.1)
    square = np.array([(0, 0), (100, 0), (100, 100), (0, 100)], dtype=float)
    assert Polygon(plane.to_mm(square)).area == pytest.approx(100.0)


def test_tilt_is_not_known():
    assert np.isnan(two_point_plane((0, 0), (500, 0), 50.0, SIZE).tilt_deg)


def test_uncertainty_is_that_of_two_marks_over_their_distance():
    """u(A)/A = 2 u(s)/s: a 1 % scale error is a 2 % area error (JCGM 100, 5.1.2)."""
    plane = two_point_plane((0, 0), (500, 0), 50.0, SIZE)
    square = np.array([(0, 0), (100, 0), (100, 100), (0, 100)], dtype=float)
    spread = plane.propagate(lambda moved: np.array([Polygon(moved.to_mm(square)).area]))["point localisation"]
    relative = spread[0] / Polygon(plane.to_mm(square)).area
    assert relative == pytest.approx(2 * np.sqrt(2) / 500, rel=1e-3)


@pytest.mark.parametrize("distance", [0.0, -5.0, 1.0, 1e6, float("nan"), float("inf")])
def test_refuses_a_distance_that_makes_no_scale(distance):
    with pytest.raises(ScaleError, match="between 2 and 1000 mm make sense"):
        two_point_plane((0, 0), (500, 0), distance, SIZE)


@pytest.mark.parametrize("point", [(-1.0, 5.0), (800.0, 5.0), (5.0, 700.0), (float("nan"), 0.0), (float("inf"), 0.0)])
def test_refuses_a_point_outside_the_photo(point):
    with pytest.raises(ScaleError, match="outside the photo of 800 x 700 pixels"):
        two_point_plane((0, 0), point, 50.0, SIZE)


def test_refuses_points_close_together():
    with pytest.raises(ScaleError, match="30 pixels apart"):
        two_point_plane((0, 0), (30, 0), 10.0, SIZE)
