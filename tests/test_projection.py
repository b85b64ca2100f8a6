"""Flat and bent surfaces through a lens: against the geometry of a pinhole camera, written out here."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from calibration.projection import Bend, Projection

FOCAL, CENTRE, DISTANCE = 3000.0, (2015.5, 1511.5), 300.0
RADII = pytest.mark.parametrize("radius", [40.0, 60.0, 120.0, -80.0])
POINTS = np.array([(-30.0, 5.0), (0.0, 0.0), (12.0, -25.0), (28.0, 31.0)])


def _straight_down(**parts):
    """Build a camera that looks straight down on the origin of the plane."""
    scale = FOCAL / DISTANCE
    homography = np.array([(scale, 0, CENTRE[0]), (0, scale, CENTRE[1]), (0, 0, 1.0)])
    return Projection(homography, FOCAL, CENTRE, **parts)


def _tilted(**parts):
    """Build the same after a turn of the camera about its own x axis by 25 degrees."""
    c, s = np.cos(np.radians(25)), np.sin(np.radians(25))
    inner = np.array([(FOCAL, 0, CENTRE[0]), (0, FOCAL, CENTRE[1]), (0, 0, 1.0)])
    turn = np.array([(1, 0, 0), (0, c, -s), (0, s, c)])
    homography = inner @ np.column_stack([turn[:, :2], (0, 0, DISTANCE)])
    return Projection(homography / homography[2, 2], FOCAL, CENTRE, **parts), inner, turn


@RADII
def test_a_limb_seen_from_above_is_a_circle_of_that_radius(radius):
    """A point at arc s round a cylinder of radius R lies R sin(s/R) off its axis and R (1 - cos(s/R)) deeper."""
    seen = _straight_down(bend=Bend(1 / radius, 0.0, (0.0, 0.0))).to_px(POINTS)
    angle = POINTS[:, 1] / radius
    across, depth = radius * np.sin(angle), radius * (1 - np.cos(angle))
    expected = CENTRE + FOCAL * np.column_stack([POINTS[:, 0], across]) / (DISTANCE + depth)[:, None]
    assert seen == pytest.approx(expected, abs=1e-9)


@RADII
@pytest.mark.parametrize("axis", [0.0, 35.0, 90.0])
def test_unrolling_undoes_bending(radius, axis):
    projection, _, _ = _tilted(k1=-0.08, bend=Bend(1 / radius, axis, (3.0, -4.0)))
    assert projection.to_mm(projection.to_px(POINTS)) == pytest.approx(POINTS, abs=1e-7)
    assert projection.sees(projection.to_px(POINTS))


def test_a_tilted_limb_is_where_a_pinhole_camera_sees_it():
    projection, inner, turn = _tilted(bend=Bend(1 / 50.0, 90.0, (0.0, 0.0)))
    angle = -POINTS[:, 0] / 50.0  # the arc runs to the left of the axis
    space = np.column_stack([-50.0 * np.sin(angle), POINTS[:, 1], 50.0 * (1 - np.cos(angle))])
    seen = (space @ turn.T + (0, 0, DISTANCE)) @ inner.T
    assert projection.to_px(POINTS) == pytest.approx(seen[:, :2] / seen[:, 2:], abs=1e-6)


def test_a_ray_beside_the_limb_sees_no_skin():
    projection = _straight_down(bend=Bend(1 / 40.0, 0.0, (0.0, 0.0)))
    beside = np.array([(CENTRE[0], CENTRE[1] + FOCAL * 41.0 / DISTANCE)])
    assert np.isnan(projection.to_mm(beside)).all()
    assert not projection.sees(beside)


def test_area_along_the_skin_is_that_of_the_sheet_laid_on_it():
    """A cylinder can be unrolled without stretching: 30 x 20 mm stay 600 mm2, seen from above they look smaller."""
    bent, flat = _straight_down(bend=Bend(1 / 45.0, 0.0, (0.0, 0.0))), _straight_down()
    side = np.linspace(-1, 1, 41)[:-1]
    ring = np.concatenate([np.column_stack(p) for p in ((side, -1 + 0 * side), (1 + 0 * side, side))])
    outline = bent.to_px(np.concatenate([ring, -ring]) * (15.0, 10.0) + (0.0, 12.0))
    assert Polygon(bent.to_mm(outline)).area == pytest.approx(600.0, rel=1e-6)
    assert Polygon(flat.to_mm(outline)).area < 575.0


@pytest.mark.parametrize("k1", [-0.25, -0.02, 0.03])
def test_distortion_is_the_radial_law(k1):
    seen = _straight_down(k1=k1).to_px(POINTS)
    radius = np.linalg.norm(POINTS, axis=1, keepdims=True) / DISTANCE
    assert seen == pytest.approx(CENTRE + FOCAL * POINTS / DISTANCE * (1 + k1 * radius**2), abs=1e-9)
    assert _straight_down(k1=k1).to_mm(seen) == pytest.approx(POINTS, abs=1e-7)


def test_a_deeper_surface_looks_smaller_by_the_ratio_of_distances():
    """10 mm at 300 mm: 7.0 % of an area ((310 / 300) ** 2 - 1 = 6.8 %)."""
    square = np.array([(0, 0), (10, 0), (10, 10), (0, 10.0)])
    seen = _straight_down().to_px(square)
    assert Polygon(_straight_down().deeper(10.0).to_mm(seen)).area == pytest.approx(100 * (310 / 300) ** 2)


def test_a_deeper_tilted_surface_is_the_plane_moved_along_its_normal():
    projection, inner, turn = _tilted()
    space = np.column_stack([POINTS, np.full(len(POINTS), 7.0)])
    seen = (space @ turn.T + (0, 0, DISTANCE)) @ inner.T
    assert projection.deeper(7.0).to_px(POINTS) == pytest.approx(seen[:, :2] / seen[:, 2:], abs=1e-6)
