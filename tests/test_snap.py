"""Edge following: near the true edge, between the taps, and a sentence for taps outside the photo."""

from functools import cache
from itertools import pairwise

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.ops import substring

from measure.rendering import Camera, Scene, Skin, Wound, render
from measure.snap import SNAP_REACH, SnapError, follow_edge

CAMERA = Camera(width=1280, height=960, distance_mm=240)
SCENES = {
    "light skin": Scene(wound=Wound(length_mm=34, width_mm=24), skin=Skin(ita_deg=45), camera=CAMERA, seed=21),
    "brown skin, slough": Scene(
        wound=Wound(length_mm=30, width_mm=22, tissue={"slough": 0.7, "granulation": 0.3}),
        skin=Skin(ita_deg=-20),
        camera=CAMERA,
        seed=22,
    ),
    "dark skin": Scene(wound=Wound(length_mm=34, width_mm=24), skin=Skin(ita_deg=-55), camera=CAMERA, seed=23),
}
SKIN, WOUND = (205, 160, 140), (150, 50, 45)


@cache
def disc(width=600, height=500, radius=150, noise=6.0):
    """Draw a disc of wound on skin, its edge 2 px wide, with noise as of a camera's sensor."""
    y, x = np.mgrid[:height, :width]
    inside = np.clip((radius - np.hypot(x - width / 2, y - height / 2)) / 2 + 0.5, 0, 1)[..., np.newaxis]
    clean = np.array(SKIN) * (1 - inside) + np.array(WOUND) * inside
    pixels = clean + np.random.default_rng(1).normal(0, noise, clean.shape)
    return np.clip(pixels, 0, 255).astype(np.uint8)


def on_disc(degrees, radius=150):
    angle = np.radians(degrees)
    return np.array([300 + radius * np.cos(angle), 250 + radius * np.sin(angle)])


def apart(line, edge):
    """Give the mean distance of a line from an edge, looked at in 200 places of the line."""
    places = LineString(line).interpolate(np.linspace(0, 1, 200), normalized=True)
    return float(shapely.distance(places, LineString(edge)).mean())


def eighths(ring):
    """Cut a closed edge into eight of the same length."""
    edge = LineString(np.r_[ring, ring[:1]])
    cuts = np.linspace(0, edge.length, 9)
    return [np.array(substring(edge, first, last).coords) for first, last in pairwise(cuts)]


# Near the truth


@pytest.mark.parametrize("turn", [45, 90, 120])
def test_the_line_runs_along_a_clear_edge(turn):
    edge = np.array([on_disc(degrees) for degrees in np.linspace(10, 10 + turn, 200)])
    line = follow_edge(disc(), edge[0], edge[-1])
    chord = np.hypot(*(edge[-1] - edge[0]))
    assert apart(line, edge) < 0.01 * chord
    assert apart(edge, line) < 0.01 * chord
    assert len(line) <= 12


def test_either_end_may_be_tapped_first():
    there = follow_edge(disc(), on_disc(10), on_disc(70))
    back = follow_edge(disc(), on_disc(70), on_disc(10))
    assert apart(there, back) < 1.0


def test_a_photo_turned_by_a_quarter_gives_the_line_turned():
    """`numpy.rot90` takes the pixel (x, y) to (y, width - 1 - x)."""
    line = follow_edge(disc(), on_disc(10), on_disc(70))
    start, end = ((tap[1], 599 - tap[0]) for tap in (on_disc(10), on_disc(70)))
    turned = follow_edge(np.ascontiguousarray(np.rot90(disc())), start, end)
    assert apart(turned, np.column_stack([line[:, 1], 599 - line[:, 0]])) < 1.0


def test_the_line_is_nearer_to_a_rendered_edge_than_the_straight_one():
    """Between points an eighth of the edge apart: on average half as far, and nearer on each wound.

    On light skin new skin at the rim is part of the wound, and its outer edge is far weaker than its inner one.
    """
    ratios = []
    for scene in SCENES.values():
        rendering = render(scene)
        parts = eighths(rendering.outline_px)
        followed = np.mean([apart(follow_edge(rendering.pixels, part[0], part[-1]), part) for part in parts])
        ratios.append(followed / np.mean([apart(part[[0, -1]], part) for part in parts]))
    assert max(ratios) < 0.9
    assert np.mean(ratios) < 0.5


def test_glare_and_hairs_beside_the_edge_lead_nowhere():
    pixels = disc().copy()
    cv2.ellipse(pixels, (395, 340), (26, 9), 40, 0, 360, (255, 255, 255), -1, cv2.LINE_AA)  # on the wound
    for shift in range(0, 60, 12):  # across the edge
        cv2.line(pixels, (420 + shift, 300), (360 + shift, 400), (70, 50, 40), 1, cv2.LINE_AA)
    edge = np.array([on_disc(degrees) for degrees in np.linspace(10, 80, 200)])
    assert apart(follow_edge(pixels, edge[0], edge[-1]), edge) < 2.0


def test_a_large_photo_gives_the_same_line_as_a_small_one():
    """A pixel p of the small one lies at 8 (p + 0.5) - 0.5 of one that is 8 times as large; to within a small one."""
    large = cv2.resize(disc(), None, fx=8, fy=8, interpolation=cv2.INTER_LINEAR)
    line = follow_edge(large, 8 * on_disc(10) + 3.5, 8 * on_disc(70) + 3.5)
    edge = np.array([on_disc(degrees) for degrees in np.linspace(10, 70, 200)])
    assert apart((line + 0.5) / 8 - 0.5, edge) < 1.0


def test_a_photo_may_be_a_narrow_strip():
    pixels = np.full((200, 60_000, 3), 150, dtype=np.uint8)
    line = follow_edge(pixels, (10, 100), (59_000, 100))
    np.testing.assert_allclose(line[[0, -1]], [(10, 100), (59_000, 100)])


# Its ends


def test_taps_are_moved_by_no_more_than_the_reach():
    start, end = on_disc(10, radius=153), on_disc(70, radius=146)
    line = follow_edge(disc(), start, end)
    reach = SNAP_REACH * np.hypot(*(end - start))
    for tap, place, degrees in ((start, line[0], 10), (end, line[-1], 70)):
        assert np.hypot(*(place - tap)) <= reach + 1
        assert np.hypot(*(place - on_disc(degrees))) < np.hypot(*(tap - on_disc(degrees)))


def test_where_there_is_no_edge_the_line_is_nearly_straight():
    pixels = np.full((400, 600, 3), 150, dtype=np.uint8)
    line = follow_edge(pixels, (100, 100), (500, 300))
    assert apart(line, [(100, 100), (500, 300)]) < 0.05 * np.hypot(400, 200)
    np.testing.assert_allclose(line[[0, -1]], [(100, 100), (500, 300)])


def test_taps_side_by_side_give_the_straight_line():
    np.testing.assert_array_equal(follow_edge(disc(), (300, 100), (301, 101)), [(300, 100), (301, 101)])


@settings(deadline=None, max_examples=60)
@given(st.tuples(*(st.floats(-0.5, 599.5), st.floats(-0.5, 499.5)) * 2), st.sampled_from([1, 3, 6]))
def test_any_two_taps_give_a_line_within_the_photo(taps, every):
    """Also in a photo that is small or narrow."""
    pixels = np.ascontiguousarray(disc()[::every])
    height = len(pixels)
    start, end = (np.array([x, min(y / every, height - 0.5)]) for x, y in (taps[:2], taps[2:]))
    line = follow_edge(pixels, start, end)
    assert line.dtype == np.float64
    assert len(line) >= 2
    assert ((line >= -0.5) & (line <= (599.5, height - 0.5))).all()
    reach = SNAP_REACH * np.hypot(*(end - start)) + 6
    assert np.hypot(*(line[0] - start)) <= reach
    assert np.hypot(*(line[-1] - end)) <= reach


# Refusals


@pytest.mark.parametrize("tap", [(-1, 10), (10, -1), (600, 10), (10, 500), (np.nan, 10), (10, np.inf)])
def test_a_tap_outside_the_photo_is_refused(tap):
    with pytest.raises(SnapError, match="lies outside the photo of 600 x 500 pixels: tap on the edge of the wound"):
        follow_edge(disc(), (10, 10), tap)
