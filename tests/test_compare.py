"""Two rendered visits laid over one another: the true turn, shift and advance are known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from healed import Healed, camera, see, true_move
from shapely import affinity
from shapely.geometry import Point, Polygon

from measure.compare.laid_out import CompareError, Precision, Traced, lay_out, precision_of
from measure.compare.outline_fit import OutlineFit
from measure.compare.pair import Pair, aligned
from measure.compare.placement import Placement
from measure.outline import Outline
from measure.photo import Photo
from measure.rendering import Scene, Skin, Sticker

EARLY = Scene(wound=Healed("blob", 40, 28), camera=camera(tilt_deg=8, roll_deg=-5), seed=3)
LATER_CAMERA = camera(tilt_deg=22, tilt_towards_deg=200, roll_deg=11)
ADVANCE_MM, RIGHT_MM = 3.0, 1.5


@pytest.fixture(scope="module")
def earlier():
    return see(EARLY)


@pytest.fixture(scope="module")
def healed():
    """Give a later visit: 3 mm all round less 1.5 mm to one side, another tilt, the sticker turned by 9 degrees."""
    wound = Healed("blob", 40, 28, by_mm=ADVANCE_MM, right_mm=RIGHT_MM)
    return see(Scene(wound=wound, stickers=(Sticker(turn_deg=9, gap_mm=8),), camera=LATER_CAMERA, seed=3))


@pytest.fixture(scope="module")
def same():
    """Give the wound of the earlier visit again, by another camera, the sticker turned by -12 degrees."""
    sticker = Sticker(turn_deg=-12, gap_mm=8)
    return see(Scene(wound=Healed("blob", 40, 28), stickers=(sticker,), camera=LATER_CAMERA, seed=3))


@pytest.fixture(scope="module")
def smooth():
    """Give a later visit whose skin shows nothing; the strip lies along another side, turned by 90 degrees."""
    scene = Scene(
        wound=Healed("blob", 40, 28, by_mm=ADVANCE_MM),
        skin=Skin(relief=0, veins=0),
        stickers=(Sticker("strip", turn_deg=90, at_mm=(34, -38)),),
        camera=LATER_CAMERA,
        seed=3,
    )
    return see(scene)


@pytest.fixture(scope="module")
def healing(earlier, healed):
    """Give both visits laid over one another."""
    return aligned(earlier.laid, healed.laid)


def errors(one, other, pair: Pair) -> tuple[float, float]:
    """Return by how many mm, and degrees, the later wound lies wrong."""
    middle = other.laid.middle_mm
    points = middle + np.array([(0.0, 0.0), (20.0, 0.0)])
    true = np.column_stack([points, np.ones(2)]) @ true_move(one, other).T
    expected = pair.placed.moved(true[:, :2])
    found = pair.fit.placement.moved(points)
    ways = [np.degrees(np.arctan2(*(ends[1] - ends[0])[::-1])) for ends in (found, expected)]
    return float(np.linalg.norm(found[0] - expected[0])), float((ways[0] - ways[1] + 180) % 360 - 180)


def test_the_skin_tells_turn_and_shift(earlier, healed, healing):
    pair = healing
    off_mm, off_deg = errors(earlier, healed, pair)
    assert pair.fit.method == "skin"
    assert pair.fit.agreeing >= 10
    assert pair.fit.turn_deg == pytest.approx(9, abs=0.3)
    assert off_mm < 0.25
    assert abs(off_deg) < 0.3


def test_the_advance_of_one_side_is_not_evened_out(healing):
    """Of a wound 3 mm smaller all round and 1.5 mm farther right: 4.5 mm on the left, 1.5 mm on the right."""
    found = healing.advance()
    assert found.mean_mm == pytest.approx(ADVANCE_MM, abs=0.15)
    assert found.advance_mm.max() == pytest.approx(ADVANCE_MM + RIGHT_MM, abs=0.3)
    assert found.advance_mm.min() == pytest.approx(ADVANCE_MM - RIGHT_MM, abs=0.3)
    assert found.share_advanced == 1


def test_nothing_advanced_between_two_photos_of_one_state(earlier, same):
    pair = aligned(earlier.laid, same.laid)
    found = pair.advance()
    off_mm, _ = errors(earlier, same, pair)
    assert off_mm < 0.25
    assert abs(found.mean_mm) < 0.1
    assert np.abs(found.advance_mm).max() < 0.35
    assert (found.share_advanced, found.share_receded) == (0, 0)


def test_without_marks_the_outlines_tell_the_turn_and_the_mean(earlier, smooth):
    pair = aligned(earlier.laid, smooth.laid)
    off_mm, off_deg = errors(earlier, smooth, pair)
    assert pair.fit.method == "outlines"
    assert pair.fit.turn_deg == pytest.approx(90, abs=3)
    assert abs(off_deg) < 3
    assert off_mm < 0.5
    assert off_mm < 2 * pair.fit.shift_sigma_mm
    assert pair.advance().mean_mm == pytest.approx(ADVANCE_MM, abs=0.15)


def test_one_side_is_uncertain_where_only_outlines_tell_the_shift(earlier, healed, healing):
    """The outlines alone even 1.5 mm out; what that may be stands in the uncertainty of each side."""
    outlines = OutlineFit(healing.earlier_mm, healed.laid.shape_mm, -earlier.laid.up_deg, 0.0).best()
    by_skin = healing.fit
    apart = np.linalg.norm(np.subtract(outlines.shift_mm, by_skin.shift_mm))
    assert 1.2 < apart < 1.8
    assert apart < 2 * outlines.shift_sigma_mm


def test_skin_of_another_place_is_not_taken_for_the_same(earlier):
    """The same outline 48 mm farther on: no patch of skin is common, and none may be found."""
    wound = Healed("blob", 40, 28, by_mm=ADVANCE_MM, right_mm=48)
    other = see(Scene(wound=wound, stickers=(Sticker(turn_deg=5, gap_mm=8),), camera=LATER_CAMERA, seed=3))
    assert aligned(earlier.laid, other.laid).fit.method == "outlines"


def test_the_skin_tells_the_turn_of_a_round_wound_whose_sticker_was_laid_anew():
    """Circles of 30 and 24 mm, the second one's sticker turned by 80 degrees: no outline tells that."""
    one = see(Scene(wound=Healed("ellipse", 30, 30), camera=camera(tilt_deg=8, roll_deg=-5), seed=4))
    sticker = Sticker(turn_deg=80, at_mm=(34, -30))
    other = see(Scene(wound=Healed("ellipse", 24, 24), stickers=(sticker,), camera=LATER_CAMERA, seed=4))
    pair = aligned(one.laid, other.laid)
    off_mm, off_deg = errors(one, other, pair)
    assert (pair.fit.method, pair.fit.turn_deg) == ("skin", pytest.approx(80, abs=0.5))
    assert off_mm < 0.25
    assert abs(off_deg) < 0.5
    assert pair.advance().mean_mm == pytest.approx(3, abs=0.1)


def test_a_turn_by_hand_is_kept(earlier, same):
    pair = aligned(earlier.laid, same.laid, turn_deg=30)
    assert (pair.fit.method, pair.fit.turn_deg) == ("hand", pytest.approx(30, abs=0.01))
    assert pair.fit.turn_sigma_deg == pytest.approx(2)
    _, off_deg = errors(earlier, same, pair)
    assert off_deg == pytest.approx(42, abs=0.5)  # the sticker really lies turned by -12 degrees


def test_the_pictures_stand_as_the_earlier_photo_was_held(earlier, same):
    """Both show the wound at the same pixels, and the earlier photo's top is at the top."""
    pair = aligned(earlier.laid, same.laid)
    pictures = pair.pictures()
    assert pictures.earlier.shape == pictures.later.shape
    assert pictures.step_mm >= earlier.laid.mm_per_px
    up_px = earlier.traced.outline.exterior.mean(axis=0) + np.array([(0, 0), (0, -40)])
    start, end = pair.placed.moved(earlier.laid.calibration.plane.to_mm(up_px))
    assert abs(end[0] - start[0]) < 0.02 * abs(end[1] - start[1])
    assert end[1] < start[1]
    for pixels, shape in ((pictures.earlier, pair.earlier_mm), (pictures.later, pair.later_mm)):
        red = _redder_inside(pixels, pictures.rings(shape)[0])
        assert red > 15


def _redder_inside(pixels, ring):
    """Return by how much more red stands out inside a ring than just outside of it: a wound is redder than skin."""
    inside = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.rint(ring).astype(np.int32)], 1)
    inner = cv2.erode(inside, np.ones((7, 7)))
    outer = cv2.dilate(inside, np.ones((13, 13))) - cv2.dilate(inside, np.ones((7, 7)))
    redness = pixels[..., 0].astype(float) - pixels[..., 1]
    return redness[inner > 0].mean() - redness[outer > 0].mean()


def test_a_round_outline_leaves_the_turn_to_the_stickers():
    circle, smaller = Point(0, 0).buffer(15, quad_segs=64), Point(4, 9).buffer(12, quad_segs=64)
    fit = OutlineFit(Polygon(circle), Polygon(smaller), 0.0, 0.0).best()
    assert fit.turn_deg == pytest.approx(0, abs=0.5)
    assert fit.turn_sigma_deg > 8
    assert fit.other_turn_deg is None
    np.testing.assert_allclose(fit.placement.moved(np.array([(4.0, 9.0)])), [(0.0, 0.0)], atol=0.1)


def test_an_oval_laid_anew_may_be_upside_down():
    oval = affinity.scale(Point(0, 0).buffer(10, quad_segs=32), 2.2, 1)
    fit = OutlineFit(oval, affinity.rotate(oval, 90), 0.0, -90.0).best()
    assert fit.turn_deg == pytest.approx(-90, abs=1)  # as the photo was held
    assert fit.other_turn_deg == pytest.approx(90, abs=1)


# What can't be compared


def test_a_photo_without_sticker_is_refused_with_a_sentence():
    photo = Photo("plain.jpg", np.full((600, 800, 3), 180, np.uint8), "00" * 32, None, None)
    square = Outline(np.array([(300.0, 200.0), (400.0, 200.0), (400.0, 300.0)]))
    with pytest.raises(CompareError, match=r"^The photo of 4 March can't be laid over another one: .*sticker"):
        lay_out(Traced(photo, square), "the photo of 4 March")


def test_a_ruler_does_not_tell_the_tilt(monkeypatch, earlier):
    by_ruler = replace(earlier.laid.calibration, source="ruler")
    monkeypatch.setattr("measure.compare.laid_out.calibrate", lambda _: by_ruler)
    with pytest.raises(CompareError, match=r"has its scale from a ruler, not from a sticker.*lay a sticker beside"):
        lay_out(earlier.traced, "the photo of 4 March")


# How well a visit is known


def test_precision_is_read_back_from_the_stored_budget():
    """An edge off by 0.4 mm all round a circle of 20 mm: 2 pi 20 0.4 of pi 400 mm2, 4 % of the area."""
    area = {"value": 12.566, "components": {"outline placement": 0.04, "lens": 0.006, "print scale": 0.008}}
    found = precision_of({"area_cm2": area, "perimeter_cm": {"value": 12.566}})
    assert found.edge_mm == pytest.approx(0.4)
    assert found.scale == pytest.approx(0.005)
    unknown = {"value": 12.566, "components": {"outline placement": None}}
    assert precision_of({"area_cm2": unknown, "perimeter_cm": {"value": 12.566}}) == Precision(scale=0.0)


def test_both_visits_make_the_advance_uncertain(earlier, healed, healing):
    rough = replace(healed.laid, traced=replace(healed.traced, precision=Precision(1.0, 0.02)))
    pair = Pair(earlier.laid, rough, Placement(), healing.fit)
    assert pair.doubt.edges_mm == (earlier.traced.precision.edge_mm, 1.0)
    assert pair.doubt.scales == (earlier.traced.precision.scale, 0.02)
