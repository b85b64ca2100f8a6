"""A stapled incision in the photo, and a wound whose edge moves: what shows follows from what was said."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from measure.rendering import Camera, Scene, Seam, Skin, Wound, polygon_in_photo, render

SCENE = Scene(
    stickers=(),
    wound=None,
    skin=Skin(50, body="trunk", veins=0),
    camera=Camera(800, 600, distance_mm=150, tilt_deg=0, aim_mm=(0.0, 0.0)),
    seam=Seam((-40.0, 0.0), (40.0, 0.0), (True, False) * 4, redness=0.6, reach_mm=4.0),
    seed=3,
)


def _at(pixels, scene, place_mm):
    spot = Polygon([(x + place_mm[0], y + place_mm[1]) for x, y in ((0, 0), (0.3, 0), (0, 0.3))])
    column, row = polygon_in_photo(scene.view(), spot)[0][0]
    return pixels[round(row), round(column)].astype(float)


def test_the_line_is_darker_than_skin_and_the_skin_along_it_redder():
    pixels = render(SCENE).pixels
    far, near, line = (_at(pixels, SCENE, (0.0, y)) for y in (40.0, 5.0, SCENE.seam.line().interpolate(40.0).y))
    assert line.mean() < 0.8 * far.mean()
    assert near[0] / near[1] > 1.02 * far[0] / far[1]


def test_a_staple_shows_only_where_it_was_left():
    pixels = render(SCENE).pixels
    grey = []
    for crown in SCENE.seam.crowns():
        (x0, y0), (x1, y1) = crown.coords
        colour = _at(pixels, SCENE, (x0 + 0.25 * (x1 - x0), y0 + 0.25 * (y1 - y0)))
        grey.append(colour[2] / colour[0])
    there = np.array(SCENE.seam.staples)
    assert min(np.array(grey)[there]) > max(np.array(grey)[~there]) + 0.1  # steel has no colour, skin does


def test_an_incision_without_staples_is_a_line():
    bare = replace(SCENE, seam=replace(SCENE.seam, staples=()))
    assert bare.seam.crowns() == []
    assert not np.array_equal(render(bare).pixels, render(SCENE).pixels)


def test_a_wound_keeps_its_shape_in_another_scene():
    wound = Wound(shape_seed=5)
    here, there = Scene(wound=wound, seed=1).wound_mm(), Scene(wound=wound, seed=2).wound_mm()
    assert here.equals(there)
    assert not Scene(wound=Wound(), seed=1).wound_mm().equals(Scene(wound=Wound(), seed=2).wound_mm())


def test_an_edge_moves_by_as_much_as_was_said():
    circle = Wound("ellipse", 30.0, 30.0)
    inwards = Scene(wound=replace(circle, advance_mm=4.0)).wound_mm()
    outwards = Scene(wound=replace(circle, advance_mm=-4.0)).wound_mm()
    assert inwards.area == pytest.approx(np.pi * 11**2, rel=1e-3)
    assert outwards.area == pytest.approx(np.pi * 19**2, rel=1e-3)


def test_an_edge_that_meets_itself_leaves_no_wound_to_show():
    with pytest.raises(ValueError, match="closes this wound"):
        Scene(wound=Wound("ellipse", 30.0, 20.0, advance_mm=11.0)).wound_mm()
