"""The main job on the sample photographs, against what is exactly true of them."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon

from calibration.detect import find_stickers
from calibration.errors import StickerNotFoundError
from measure.geometry import Convention
from measure.outline import Outline, OutlineError, polygon, read_outlines
from measure.photo import Photo, read_photo
from measure.pipeline import complete, prepare
from measure.proposal import Proposal
from measure.rendering import Camera, Cover, Scene, Sticker, Wound, render
from measure.rendering.plain_ruler import PlainRuler, lay
from measure.report import document


@pytest.fixture(scope="module")
def prepared(first_sample):
    return prepare(read_photo(first_sample.photo))


@pytest.fixture(scope="module")
def traced(first_sample, prepared):
    return read_outlines(first_sample.outline, prepared.photo.width, prepared.photo.height)


def test_numbers_from_the_true_outline_are_true(sample):
    """Truth by construction: the renderer drew these outlines; ``truth.csv`` is checked on its own."""
    photo = read_photo(sample.photo)
    prepared = prepare(photo, propose=False)
    (wound,) = complete(prepared, read_outlines(sample.outline, photo.width, photo.height)).wounds
    share = 0.025 if sample.layout == "tile" else 0.01
    assert wound.area.value / 100 == pytest.approx(sample.area_cm2, rel=share)
    assert wound.perimeter.value / 10 == pytest.approx(sample.perimeter_cm, rel=share / 2)
    assert wound.length.value / 10 == pytest.approx(sample.length_cm, rel=share / 2)
    assert wound.width.value / 10 == pytest.approx(sample.width_cm, rel=share / 2)
    assert prepared.calibration.plane.tilt_deg == pytest.approx(sample.tilt_deg, abs=0.3)
    assert abs(wound.area.value / 100 - sample.area_cm2) < wound.area.expanded_uncertainty / 100


def test_tissue_in_the_true_outline_is_true(sample):
    """Truth by construction: the renderer mixed these beds; ``truth.csv`` is checked on its own."""
    photo = read_photo(sample.photo)
    measurement = complete(
        prepare(photo, propose=False), read_outlines(sample.outline, photo.width, photo.height), skin=False
    )
    (tissue,) = measurement.tissue
    assert not measurement.redness
    assert not measurement.swabs
    for name, percent in sample.tissue_percent.items():
        assert tissue.shares[name].percent == pytest.approx(percent, abs=6.0)


def test_a_photo_without_a_sticker_is_refused():
    bare = Photo("bare", np.full((600, 800, 3), 150, dtype=np.uint8), "0" * 64, None, None)
    with pytest.raises(StickerNotFoundError):
        prepare(bare)


def test_two_points_give_a_scale_where_there_is_no_sticker():
    bare = Photo("bare", np.full((600, 800, 3), 150, dtype=np.uint8), "0" * 64, None, None)
    prepared = prepare(bare, scale=(100, 100, 600, 100, 50.0), propose=False)
    square = Outline(np.array([(200, 200), (400, 200), (400, 400), (200, 400)], dtype=float))
    measurement = complete(prepared, [square])
    (wound,) = measurement.wounds
    assert wound.area.value == pytest.approx(400.0)
    away = np.hypot(50, 200) / prepared.calibration.plane.projection.focal_px * np.sin(np.radians(20) / np.sqrt(3))
    tilt = np.hypot((1 - np.cos(np.radians(20))) / np.sqrt(3), away)
    assert wound.area.components["tilt not corrected"] == pytest.approx(2 * tilt)
    assert "scale-by-hand" in [flag.code for flag in measurement.flags]


def test_the_proposal_is_measured_where_no_outline_is_given(prepared, first_sample):
    measurement = complete(prepared)
    assert [wound.source for wound in measurement.wounds] == ["proposed"]
    assert "outline-proposed" in [flag.code for flag in measurement.flags]
    assert measurement.wounds[0].area.value / 100 == pytest.approx(first_sample.area_cm2, rel=0.15)


def test_a_given_outline_replaces_the_proposal(prepared, traced):
    measurement = complete(prepared, traced)
    assert [wound.source for wound in measurement.wounds] == ["given"]
    assert "outline-proposed" not in [flag.code for flag in measurement.flags]


def test_no_outline_at_all_is_said(prepared):
    measurement = complete(prepared, [])
    assert not measurement.wounds
    assert "no-wound-proposed" in [flag.code for flag in measurement.flags]
    assert measurement.mm_per_px > 0


def test_outlines_drawn_with_few_points_are_flagged(prepared, traced):
    (outline,) = traced
    coarse = Outline(outline.exterior[:: len(outline.exterior) // 12])
    assert "few-points" in [flag.code for flag in complete(prepared, [coarse]).flags]


def test_an_outline_outside_the_photo_is_refused(prepared):
    outside = Outline(np.array([(-50, 10), (200, 10), (200, 300)], dtype=float))
    with pytest.raises(OutlineError):
        complete(prepared, [outside])


def test_head_to_toe_turns_with_the_head(prepared, traced):
    """Half a turn changes nothing, a quarter turn swaps length and width."""
    convention = Convention.HEAD_TO_TOE
    up, right, down = (complete(prepared, traced, convention=convention, head_deg=d).wounds[0] for d in (0, 90, 180))
    assert down.length.value == pytest.approx(up.length.value, rel=2e-3)
    assert right.length.value == pytest.approx(up.width.value, rel=5e-3)
    assert up.area.value == right.area.value


def test_the_head_is_counted_clockwise_from_the_top():
    """An ellipse whose long axis points to one o'clock (30 degrees) is longest in that direction, not at -30."""
    bare = Photo("bare", np.full((900, 900, 3), 150, dtype=np.uint8), "0" * 64, None, None)
    prepared = prepare(bare, scale=(100, 800, 600, 800, 50.0), propose=False)
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    towards, across = (
        np.array([np.sin(np.pi / 6), -np.cos(np.pi / 6)]),
        np.array([np.cos(np.pi / 6), np.sin(np.pi / 6)]),
    )
    ring = 450 + 300 * np.outer(np.cos(angle), towards) + 100 * np.outer(np.sin(angle), across)
    lengths = [
        complete(prepared, [Outline(ring)], convention=Convention.HEAD_TO_TOE, head_deg=head).wounds[0].length.value
        for head in (30, -30)
    ]
    assert lengths[0] == pytest.approx(60.0, abs=0.1)
    assert lengths[1] < 50


def test_scale_is_stated_at_the_wound_with_its_uncertainty(prepared, traced):
    measurement = complete(prepared, traced)
    (wound,) = measurement.wounds
    middle = np.array(polygon(wound.outline).centroid.coords[0])
    assert measurement.mm_per_px == pytest.approx(prepared.calibration.plane.mm_per_px(middle), rel=1e-6)
    assert measurement.mm_per_px != pytest.approx(prepared.calibration.plane.mm_per_px(np.zeros(2)), rel=1e-3)
    scale = np.hypot(wound.area.components["point localisation"], wound.area.components["print scale"]) / 2
    assert measurement.relative_scale_uncertainty == pytest.approx(scale, rel=0.2)


def test_several_stickers_are_flagged():
    stickers = (Sticker(layout="corner"), Sticker(layout="tile", at_mm=(22.0, 18.0)))
    flags = _flags_of(render(Scene(stickers=stickers, camera=SMALL)).pixels)
    assert flags["several-stickers"].startswith("2 stickers were found (corner, tile). Together they")


def test_a_sticker_cut_off_is_flagged():
    pixels = render(Scene(camera=SMALL)).pixels
    (found,) = find_stickers(pixels)
    assert "sticker-cut-off" in _flags_of(np.ascontiguousarray(pixels[:, : int(found.points_px[:, 0].max()) - 60]))


def test_a_covered_sticker_is_flagged():
    pixels = render(Scene(stickers=(Sticker(layout="tile"),), camera=SMALL, cover=Cover("glove", 0.3))).pixels
    assert "sticker-covered" in _flags_of(pixels)


SMALL = Camera(width=1600, height=1200)


def _flags_of(pixels):
    prepared = prepare(Photo("photo", pixels, "0" * 64, None, None), propose=False)
    return {flag.code: flag.sentence for flag in prepared.flags}


def test_an_outline_on_the_sticker_is_flagged(prepared, traced):
    on_it = Outline(prepared.calibration.sticker_outlines_px[0])
    assert "outline-on-sticker" in [flag.code for flag in complete(prepared, [on_it]).flags]
    assert "outline-on-sticker" not in [flag.code for flag in complete(prepared, traced).flags]


def test_an_outline_round_nothing_is_refused(prepared):
    with pytest.raises(OutlineError, match=r"encloses 0\.5 pixels"):
        complete(prepared, [Outline(np.array([(100, 100), (101, 100), (100, 101)], dtype=float))])


def test_an_assumed_head_is_flagged(prepared, traced):
    codes = [flag.code for flag in complete(prepared, traced, convention=Convention.HEAD_TO_TOE).flags]
    assert "head-assumed" in codes


COMPONENTS = {
    "point localisation",
    "print scale",
    "lens",
    "plane offset",
    "curvature",
    "outline placement",
    "pixel sampling",
}


def test_every_number_has_the_same_named_components(prepared, traced):
    (wound,) = complete(prepared, traced).wounds
    for quantity in (wound.area, wound.perimeter, wound.length, wound.width, wound.length_x_width, wound.ellipse):
        assert set(quantity.components) == COMPONENTS
        assert all(share > 0 for share in quantity.components.values())


def test_the_print_counts_twice_for_an_area(prepared, traced):
    """JCGM 100:2008, 5.1.6: a square law doubles the relative uncertainty."""
    (wound,) = complete(prepared, traced).wounds
    assert wound.area.components["print scale"] == pytest.approx(2 * wound.length.components["print scale"])


def test_edge_component_is_what_moving_the_edge_does(prepared, traced):
    """An offset outline (shapely's buffer, an independent construction) changes area and perimeter like this."""
    (wound,) = complete(prepared, traced).wounds
    longer = wound.shape_mm.buffer(0.2).length / wound.shape_mm.length - 1
    assert wound.perimeter.components["outline placement"] == pytest.approx(longer, rel=0.1)
    moved = wound.shape_mm.buffer(0.2).area / wound.shape_mm.area - 1
    assert wound.area.components["outline placement"] == pytest.approx(moved, rel=0.05)


def test_an_uncorrected_proposal_is_less_certain_than_a_traced_outline(prepared, traced, first_sample):
    (proposed,), (given,) = complete(prepared).wounds, complete(prepared, traced).wounds
    assert proposed.area.components["outline placement"] > 1.5 * given.area.components["outline placement"]
    assert abs(proposed.area.value / 100 - first_sample.area_cm2) < proposed.area.expanded_uncertainty / 100


SQUARE = Outline(np.array([(200, 200), (400, 200), (400, 400), (200, 400)], dtype=float))


def by_hand(sigma_px):
    """Measure a proposed square of 20 x 20 mm (10 px a mm) whose method says how far its edge may lie off."""
    bare = Photo("bare", np.full((600, 800, 3), 150, dtype=np.uint8), "0" * 64, None, None)
    prepared = prepare(bare, scale=(100, 100, 600, 100, 50.0), propose=False)
    return complete(replace(prepared, proposal=Proposal((SQUARE,), "trial 1", sigma_px)))


def placement(measurement):
    return measurement.wounds[0].area.components["outline placement"]


def test_what_the_proposal_says_of_its_edge_goes_into_the_budget():
    """An edge moved by d changes a square of side a by 4 a d + pi d2 outward, 4 a d - 4 d2 inward."""
    side, off = 20.0, 0.7
    change = (4 * side * off + np.pi * off**2 + 4 * side * off - 4 * off**2) / 2
    assert placement(by_hand((7.0,))) == pytest.approx(change / side**2, rel=0.01)


def test_no_proposal_is_believed_to_be_better_than_a_drawn_edge():
    given = complete(by_hand(()).prepared, [SQUARE])
    assert placement(by_hand((0.01,))) == pytest.approx(placement(given))


def test_a_method_that_cant_say_gets_a_wide_budget():
    assert placement(by_hand(())) == pytest.approx(placement(by_hand((10.0,))))


@pytest.mark.parametrize(("sigma_px", "flagged"), [(3.5, False), (4.0, True)])
def test_an_edge_that_may_lie_far_off_is_flagged(sigma_px, flagged):
    """At 7.5 % of the area: 4 x 0.375 mm over a side of 20 mm."""
    codes = [flag.code for flag in by_hand((sigma_px,)).flags]
    assert ("outline-unsure" in codes) is flagged
    assert "outline-unsure" not in [flag.code for flag in complete(by_hand(()).prepared, [SQUARE]).flags]


def test_extents_share_the_edge(prepared, traced):
    """Length and width move together with the edge: shares of a product add (JCGM 100:2008, 5.2.2, correlation 1)."""
    (wound,) = complete(prepared, traced).wounds
    length, width, product = (
        q.components["outline placement"] for q in (wound.length, wound.width, wound.length_x_width)
    )
    assert product == pytest.approx(length + width)


def test_shape_descriptors_come_from_the_plane(prepared, traced):
    (wound,) = complete(prepared, traced).wounds
    assert wound.circularity == pytest.approx(4 * np.pi * wound.area.value / wound.perimeter.value**2)
    assert wound.aspect_ratio == pytest.approx(wound.length.value / wound.width.value)
    assert wound.ellipse.value == pytest.approx(np.pi / 4 * wound.length_x_width.value)
    assert 0 < wound.solidity <= 1
    assert wound.equivalent_diameter_mm == pytest.approx(np.sqrt(4 * wound.area.value / np.pi))


def test_islands_of_healed_skin_are_taken_off(island_sample):
    photo = read_photo(island_sample.photo)
    prepared = prepare(photo, propose=False)
    (whole,) = read_outlines(island_sample.outline, photo.width, photo.height)
    with_island, without = (
        complete(prepared, [outline]).wounds[0].area.value for outline in (whole, Outline(whole.exterior))
    )
    assert with_island < without - 10


@pytest.fixture(scope="module")
def beside_a_ruler():
    """Lay a plain mm ruler below a rendered wound, without a sticker, seen from straight above."""
    camera = Camera(2016, 1512, distance_mm=170.0, tilt_deg=0.0, aim_mm=(0.0, 10.0))
    scene = Scene(stickers=(), wound=Wound(length_mm=30, width_mm=20), camera=camera, seed=11)
    rendering = render(scene)
    ruler = PlainRuler(length_mm=110.0, width_mm=22.0)
    seen = lay(rendering.pixels, ruler, rendering.homography, at_mm=(0.0, 32.0), turn_deg=4.0)
    return rendering, seen, Photo("ruler", seen.pixels, "0" * 64, None, None)


def test_a_plain_ruler_gives_a_scale_where_there_is_no_sticker(beside_a_ruler):
    rendering, _, photo = beside_a_ruler
    measurement = complete(prepare(photo, propose=False), [Outline(rendering.outline_px, rendering.holes_px)])
    (wound,) = measurement.wounds
    assert measurement.prepared.calibration.source == "ruler"
    assert wound.area.value == pytest.approx(rendering.area_mm2, rel=0.01)
    assert wound.area.components["ruler graduation"] == pytest.approx(2 * 0.005 / np.sqrt(3))
    assert wound.area.components["tilt not corrected"] > 2 * (1 - np.cos(np.radians(20))) / np.sqrt(3)
    assert "scale-by-ruler" in [flag.code for flag in measurement.flags]
    assert [check.name for check in measurement.checks] == ["distance", "glare", "frame"]


def test_the_document_of_a_ruler_says_so(beside_a_ruler):
    rendering, _, photo = beside_a_ruler
    said = document(complete(prepare(photo, propose=False), [Outline(rendering.outline_px)]))["calibration"]
    assert said["source"] == "ruler"
    assert said["layouts"] == []
    assert said["tilt_deg"] is None
    assert said["residual_px"] < 0.5


def test_nothing_is_proposed_on_a_ruler(beside_a_ruler):
    rendering, seen, photo = beside_a_ruler
    outlines = prepare(photo).outlines
    body = Polygon(seen.corners_of(PlainRuler(length_mm=110.0, width_mm=22.0)))
    assert outlines
    for outline in outlines:
        assert Polygon(outline.exterior).intersection(body).area < 0.01 * Polygon(outline.exterior).area
    assert Polygon(rendering.outline_px).intersects(Polygon(outlines[0].exterior))


def test_a_sticker_comes_before_a_ruler(first_sample):
    photo = read_photo(first_sample.photo)
    assert prepare(photo, propose=False).calibration.ruler is None


def test_a_ruler_that_is_not_clear_is_named_in_the_refusal(beside_a_ruler):
    rendering, _, _ = beside_a_ruler
    comb = PlainRuler(("comb", ""), length_mm=110.0, width_mm=22.0)
    seen = lay(rendering.pixels, comb, rendering.homography, at_mm=(0.0, 32.0))
    with pytest.raises(StickerNotFoundError, match=r"No calibration sticker .* don't tell millimetres from inches"):
        prepare(Photo("comb", seen.pixels, "0" * 64, None, None))


@pytest.mark.parametrize("tilt", [0.0, 10.0, 20.0])
def test_an_area_by_two_points_beside_the_wound_is_as_uncertain_as_an_unknown_tilt_makes_it(tilt):
    """Two points 32 mm from the wound, 170 mm from the camera, which is tilted towards the wound or away from it."""
    for towards in (90.0, 270.0, 0.0):
        camera = Camera(width=1600, height=1200, distance_mm=170.0, tilt_deg=tilt, tilt_towards_deg=towards)
        scene = Scene(stickers=(), wound=Wound(length_mm=24, width_mm=20), camera=camera)
        rendering = render(scene)
        (x1, y1), (x2, y2) = scene.view().project(np.array([(-25.0, 32.0), (25.0, 32.0)]))
        photo = Photo("rendered", rendering.pixels, "0" * 64, None, camera.focal)
        prepared = prepare(photo, scale=(x1, y1, x2, y2, 50.0), propose=False)
        (wound,) = complete(prepared, [Outline(rendering.outline_px, rendering.holes_px)]).wounds
        assert abs(wound.area.value - rendering.area_mm2) < wound.area.expanded_uncertainty


def test_a_sticker_that_the_scale_by_hand_ignores_is_flagged(first_sample, traced):
    prepared = prepare(read_photo(first_sample.photo), scale=(100, 200, 900, 210, 50.0), propose=False)
    assert {"scale-by-hand", "sticker-not-used"} <= {flag.code for flag in complete(prepared, traced).flags}


def test_a_blurred_photo_is_not_told_to_turn_its_ruler():
    """The sticker's own scale looks like a ruler's lines; the blur is what the nurse can change."""
    pixels = cv2.GaussianBlur(render(Scene(camera=Camera(width=2016, height=1512, distance_mm=260))).pixels, (0, 0), 4)
    with pytest.raises(StickerNotFoundError) as refused:
        prepare(Photo("blurred", pixels, "0" * 64, None, None))
    assert "ruler" not in str(refused.value)
    assert refused.value.code == "blurred-photo"
