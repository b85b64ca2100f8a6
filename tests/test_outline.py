"""Outlines: what a file may hold, what is refused and how, and that masks neither gain nor lose area."""

import json
from math import inf, nan, pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box
from skimage.draw import polygon2mask

from measure import geometry, outline
from measure.outline import Outline, OutlineError

WIDTH, HEIGHT = 400, 300
SQUARE = [[10, 10], [110, 10], [110, 110], [10, 110]]
NEXT_TO_IT = [[210, 10], [310, 10], [310, 110], [210, 110]]
HOLE = [[30, 30], [50, 30], [50, 50], [30, 50]]
OTHER_HOLE = [[60, 60], [90, 60], [90, 90], [60, 90]]
BOW_TIE = [[10, 10], [110, 110], [110, 10], [10, 110]]


def shifted(ring, x, y=0):
    return (np.array(ring) + np.array([x, y])).tolist()


def circle(x, y, radius, corners=400):
    angle = np.arange(corners) * 2 * pi / corners
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def parse(*wounds):
    return outline.parse_outlines({"wounds": list(wounds)}, WIDTH, HEIGHT)


def refuse(sentence, *wounds):
    with pytest.raises(OutlineError, match=sentence):
        parse(*wounds)


@st.composite
def outlines(draw):
    """Draw star-shaped outlines within the frame, up to 60 px in radius, with a hole or without."""
    corners = draw(st.integers(6, 30))
    radii = np.array(draw(st.lists(st.floats(20, 60), min_size=corners, max_size=corners)))
    centre = np.array(draw(st.tuples(st.floats(70, 330), st.floats(70, 230))))
    holes = (circle(*centre, draw(st.floats(3, 12)), 24),) if draw(st.booleans()) else ()
    return Outline(centre + (circle(0, 0, 1, corners).T * radii).T, holes)


# The rings of an outline


def test_closing_and_repeated_points_are_dropped_and_the_order_kept():
    given_points = [[10, 10], [10, 10], [110, 10], [110, 110], [110, 110], [10, 110], [10, 10]]
    np.testing.assert_array_equal(Outline(given_points).exterior, SQUARE)
    np.testing.assert_array_equal(Outline(SQUARE, (HOLE[::-1] + HOLE[-1:],)).holes[0], HOLE[::-1])


@pytest.mark.parametrize("ring", [SQUARE, SQUARE[::-1]])
def test_either_direction_of_turn_is_accepted(ring):
    (kept,) = parse({"outline": ring})
    np.testing.assert_array_equal(kept.exterior, ring)


def test_an_outline_is_a_copy_that_cannot_be_written_to():
    points = np.array(SQUARE, dtype=np.float64)
    kept = Outline(points)
    points[0] = 0
    np.testing.assert_array_equal(kept.exterior, SQUARE)
    with pytest.raises(ValueError, match="read-only"):
        kept.exterior[0] = 0


@pytest.mark.parametrize(
    "ring", [5, None, "text", [1, 2, 3], [[1, 2, 3]] * 3, [[1, 2], [3]], [["1", "2"]] * 3, [[None, 1]] * 3]
)
def test_something_else_than_points_is_refused(ring):
    with pytest.raises(OutlineError, match=r"The outline is not a list of \[x, y\] points; give at least 3"):
        Outline(ring)


@pytest.mark.parametrize("number", [nan, inf, -inf])
def test_a_number_that_is_not_finite_is_refused(number):
    with pytest.raises(OutlineError, match="The outline has a coordinate that is not a finite number; draw it"):
        Outline([*SQUARE, [number, 1]])


@pytest.mark.parametrize(
    ("ring", "distinct"), [([], 0), ([[1, 1]], 0), ([[1, 1], [2, 2]], 2), ([[1, 1], [2, 2], [1, 1], [2, 2]], 2)]
)
def test_too_few_points_are_refused(ring, distinct):
    with pytest.raises(OutlineError, match=f"The outline has {distinct} distinct points, but .* at least 3"):
        Outline(ring)


def test_a_bad_hole_is_named():
    with pytest.raises(OutlineError, match="Hole 2 has 2 distinct points"):
        Outline(SQUARE, (HOLE, HOLE[:2]))


# Checks


def test_the_frame_may_be_touched():
    frame = [[-0.5, -0.5], [WIDTH - 0.5, -0.5], [WIDTH - 0.5, HEIGHT - 0.5], [-0.5, HEIGHT - 0.5]]
    (kept,) = parse({"outline": frame})
    assert outline.polygon(kept).area == WIDTH * HEIGHT
    assert outline.mask(kept, WIDTH, HEIGHT).all()


@pytest.mark.parametrize("point", [[-0.6, 50], [50, -0.6], [WIDTH - 0.4, 50], [50, HEIGHT - 0.4]])
def test_an_outline_that_leaves_the_photo_is_refused(point):
    x, y = point
    refuse(
        rf"The outline leaves the photo: \({x}, {y}\) lies outside its 400 x 300 pixels; move it inside",
        {"outline": [*SQUARE[:2], point, *SQUARE[2:]]},
    )


@pytest.mark.parametrize("ring", [[[1, 1], [2, 2], [3, 3]], [[9, 9], [9, 5], [9, 7], [9, 1]]])
def test_points_on_one_line_are_refused(ring):
    refuse("The outline encloses no area, its points lie on one line; draw it round the wound", {"outline": ring})


@pytest.mark.parametrize(
    "ring", [BOW_TIE, [[10, 10], [60, 60], [110, 10], [110, 110], [60, 60], [10, 110]]], ids=["crosses", "touches"]
)
def test_an_outline_that_crosses_itself_is_refused_with_the_place(ring):
    refuse(r"The outline crosses itself near \(60, 60\); move the points there", {"outline": ring})


def test_a_spike_of_no_width_is_refused():
    refuse(r"The outline crosses itself near \(\d+, 10\)", {"outline": [*SQUARE[:2], [150, 10], *SQUARE[1:]]})


def test_a_hole_that_crosses_itself_is_refused():
    crossed = [[30, 30], [50, 50], [50, 30], [30, 50]]
    refuse(r"Hole 2 crosses itself near \(40, 40\)", {"outline": SQUARE, "holes": [OTHER_HOLE, crossed]})


@pytest.mark.parametrize("shift", [70, 150], ids=["across the edge", "outside"])
def test_a_hole_outside_the_outline_is_refused(shift):
    moved = shifted(HOLE, shift)
    sentence = r"Hole 1 reaches outside the outline near \(\d+, 40\); draw it inside"
    refuse(sentence, {"outline": SQUARE, "holes": [moved]})


@pytest.mark.parametrize(
    "second", [shifted(HOLE, 10, 10), [[35, 35], [45, 35], [45, 45]]], ids=["crossing", "one in the other"]
)
def test_holes_that_overlap_are_refused(second):
    sentence = r"Holes 2 and 3 overlap near \(4\d, \d\d\); draw one round both"
    refuse(sentence, {"outline": SQUARE, "holes": [OTHER_HOLE, HOLE, second]})


@pytest.mark.parametrize(
    "holes",
    [[shifted(HOLE, -20)], [HOLE, shifted(HOLE, 20)]],
    ids=["with the outline", "with each other"],
)
def test_holes_that_share_an_edge_are_refused(holes):
    sentence = r"Holes touch each other or the outline near \(\d+, \d+\); leave a gap"
    refuse(sentence, {"outline": SQUARE, "holes": holes})


def test_a_hole_may_touch_the_outline_in_one_point():
    (kept,) = parse({"outline": SQUARE, "holes": [[[10, 50], [30, 40], [30, 60]]]})
    assert outline.polygon(kept).area == 10_000 - 200


def test_wounds_that_overlap_are_refused():
    moved = shifted(SQUARE, 90)
    sentence = r"outlines of wounds 2 and 3 overlap near \(105, \d+\); move them apart, or draw one"
    refuse(sentence, {"outline": NEXT_TO_IT[::-1]}, {"outline": SQUARE}, {"outline": moved})


def test_a_wound_within_a_wound_is_refused_but_not_within_its_hole():
    inner = [[35, 35], [45, 35], [45, 45]]
    assert len(parse({"outline": SQUARE, "holes": [HOLE]}, {"outline": inner})) == 2
    refuse("wounds 1 and 2 overlap near", {"outline": SQUARE}, {"outline": inner})


def test_wounds_may_share_an_edge_even_when_its_decimals_were_rounded():
    neighbour = [[109.99, 20], [210, 20], [210, 90], [109.99, 90]]
    assert len(parse({"outline": SQUARE}, {"outline": neighbour})) == 2


@pytest.mark.parametrize(
    ("wound", "sentence"),
    [
        ({"outline": [[1, 1], [2, 2]]}, "The outline of wound 2 has 2 distinct points"),
        ({"outline": 7}, "The outline of wound 2 is not a list"),
        ({"outline": BOW_TIE}, "The outline of wound 2 crosses itself"),
        ({"outline": [[1, 1], [900, 1], [5, 5]]}, "The outline of wound 2 leaves the photo"),
        ({"outline": NEXT_TO_IT, "holes": [HOLE]}, "Hole 1 of wound 2 reaches outside"),
        ({"outline": NEXT_TO_IT, "holes": [HOLE[:2]]}, "Hole 1 of wound 2 has 2 distinct points"),
    ],
)
def test_of_several_wounds_the_sentence_says_which(wound, sentence):
    refuse(sentence, {"outline": SQUARE}, wound)


def test_one_outline_is_checked_alone():
    outline.check_outline(Outline(SQUARE, (HOLE,)), WIDTH, HEIGHT)
    with pytest.raises(OutlineError, match="The outline leaves the photo"):
        outline.check_outline(Outline(SQUARE), 100, 100)


# Files


def test_a_document_comes_back_as_it_went_out():
    wounds = [{"outline": SQUARE, "holes": [HOLE, OTHER_HOLE]}, {"outline": [[200.25, 5.5], [250, 5], [250, 40]]}]
    printed = json.loads(json.dumps(outline.document(parse(*wounds))))
    assert printed == {"wounds": [wounds[0], {**wounds[1], "holes": []}]}


@given(outlines())
def test_printing_moves_no_point_by_more_than_its_last_decimal(drawn):
    (again,) = outline.parse_outlines(outline.document([drawn]), WIDTH, HEIGHT)
    np.testing.assert_allclose(again.exterior, drawn.exterior, atol=0.005001)


def test_coordinates_have_two_decimals():
    printed = outline.document([Outline([[-0.001, 1 / 3], [9, 2 / 3], [5, 7]])])
    assert json.dumps(printed["wounds"][0]["outline"]) == "[[0.0, 0.33], [9.0, 0.67], [5.0, 7.0]]"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_file_is_read_in_any_unicode_encoding_and_other_keys_are_ignored(tmp_path, encoding):
    path = tmp_path / "outline.json"
    wound = {"source": "proposed", "outline": SQUARE, "holes": [HOLE], "area_cm2": {"value": 1.0}}
    path.write_text(json.dumps({"photo": {"path": "ä.jpg"}, "wounds": [wound], "flags": []}), encoding)
    (kept,) = outline.read_outlines(path, WIDTH, HEIGHT)
    assert outline.polygon(kept).area == 10_000 - 400


def test_a_missing_file_is_refused(tmp_path):
    with pytest.raises(OutlineError, match=r"outline file .*none.json was not found; check its name"):
        outline.read_outlines(tmp_path / "none.json", WIDTH, HEIGHT)


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(OutlineError, match=r"can't be opened \(.+\); check that it is a file"):
        outline.read_outlines(tmp_path, WIDTH, HEIGHT)


@pytest.mark.parametrize("content", [b"", b"{", b"\x89PNG\r\n\x1a\n\xff", b"[" * 200_000])
def test_a_file_that_is_not_json_is_refused(tmp_path, content):
    path = tmp_path / "outline.json"
    path.write_bytes(content)
    with pytest.raises(OutlineError, match=r"is not JSON \(.+\); save the outline again, in the form"):
        outline.read_outlines(path, WIDTH, HEIGHT)


@pytest.mark.parametrize("loaded", [[], [{"wounds": []}], {}, {"wounds": {}}, {"wounds": None}, 3, "x", None])
def test_json_of_another_form_is_refused(loaded):
    with pytest.raises(OutlineError, match=r"holds no list of wounds; expected one photo's outlines, in the form"):
        outline.parse_outlines(loaded, WIDTH, HEIGHT)


def test_a_file_without_wounds_is_refused():
    refuse("holds 0 wounds; draw at least one, or measure without the file to get a proposal")


@pytest.mark.parametrize("wound", [None, [], SQUARE, {}, {"holes": []}])
def test_a_wound_without_an_outline_is_refused(wound):
    refuse("The outline of wound 2 is missing; give each wound an 'outline'", {"outline": SQUARE}, wound)


@pytest.mark.parametrize("holes", [None, 1, {}, "x"])
def test_holes_of_another_form_are_refused(holes):
    refuse("The holes are not a list of rings; leave them out", {"outline": SQUARE, "holes": holes})


# Polygons


@given(outlines())
def test_a_polygon_comes_back_as_the_same_outline(drawn):
    again = outline.from_polygon(outline.polygon(drawn))
    np.testing.assert_array_equal(again.exterior, drawn.exterior)
    assert len(again.holes) == len(drawn.holes)


def test_an_outline_is_carried_into_millimetres_with_its_holes():
    wound = outline.map_outline(Outline(SQUARE, (HOLE,)), lambda points: points / 10)
    assert geometry.area_mm2(wound) == pytest.approx(100 - 4)
    assert geometry.perimeter_mm(wound) == pytest.approx(40 + 8)


def test_mapping_the_corners_maps_the_edges_under_a_homography():
    def to_mm(points):
        return points @ [[0.1, 0.02], [-0.01, 0.12]] / (1 + points @ [[0.001], [0.0005]])

    edges = zip(SQUARE, SQUARE[1:] + SQUARE[:1], strict=True)
    dense = np.concatenate([np.linspace(start, end, 50, endpoint=False) for start, end in edges])
    few, many = (outline.map_outline(Outline(ring), to_mm) for ring in (SQUARE, dense))
    assert few.area == pytest.approx(many.area, rel=1e-12)
    assert few.length == pytest.approx(many.length, rel=1e-12)


@pytest.mark.parametrize(
    "to_mm",
    [lambda points: points * nan, lambda points: points * [1, 0], lambda points: points[[0, 2, 1, 3]]],
    ids=["not finite", "flat", "crossing"],
)
def test_an_outline_without_a_sound_image_in_the_plane_is_refused(to_mm):
    with pytest.raises(OutlineError, match=r"can't be turned into millimetres: .* torn or crossing .*; check that"):
        outline.map_outline(Outline(SQUARE), to_mm)


def test_overlaps_of_known_size():
    one, other = box(0, 0, 2, 1), box(1, 0, 3, 1)
    assert outline.dice(one, other) == 0.5
    assert outline.iou(one, other) == pytest.approx(1 / 3)
    assert outline.dice(one, one) == outline.iou(one, one) == 1
    assert outline.dice(one, box(5, 5, 6, 6)) == outline.iou(one, box(5, 5, 6, 6)) == 0


@given(outlines(), outlines())
def test_dice_and_iou_tell_the_same(one, other):
    a, b = outline.polygon(one), outline.polygon(other)
    iou = outline.iou(a, b)
    assert outline.dice(a, b) == pytest.approx(2 * iou / (1 + iou))
    assert iou == pytest.approx(outline.iou(b, a))


@pytest.mark.parametrize("compare", [outline.dice, outline.iou])
def test_nothing_is_not_compared_with_nothing(compare):
    with pytest.raises(ValueError, match="Neither of the two outlines has an area"):
        compare(Polygon(), Polygon())


@given(outlines(), st.floats(0.1, 5))
def test_simplifying_moves_no_edge_by_more_than_twice_the_tolerance(drawn, tolerance_px):
    simpler = outline.simplify(drawn, tolerance_px)
    assert len(simpler.exterior) <= len(drawn.exterior)
    assert len(simpler.holes) == len(drawn.holes)
    assert outline.polygon(simpler).is_valid
    ring = Polygon(drawn.exterior).exterior
    assert Polygon(simpler.exterior).exterior.hausdorff_distance(ring) <= 2 * tolerance_px


# Masks


@pytest.mark.parametrize(
    ("radius", "bias", "error"), [(10, 3e-3, 2e-2), (30, 1e-3, 4e-3), (100, 2e-4, 1e-3), (300, 3e-5, 2e-4)]
)
def test_a_mask_has_the_area_of_its_outline(radius, bias, error):
    # a contour through the outermost pixels is 8.3, 3.2, 0.9 and 0.3 % off at these radii
    shifts = np.random.default_rng(1).random((20, 2))
    discs = [Outline(circle(*(radius + 5 + shift), radius)) for shift in shifts]
    side = 2 * radius + 12
    ratios = [outline.mask(disc, side, side).sum() / outline.polygon(disc).area for disc in discs]
    assert np.mean(ratios) == pytest.approx(1, abs=bias)
    np.testing.assert_allclose(ratios, 1, atol=error)


@settings(deadline=None, max_examples=30)
@given(outlines())
def test_a_mask_holds_the_pixels_whose_centres_are_inside(drawn):
    def fill(ring):
        return polygon2mask((HEIGHT, WIDTH), ring[:, ::-1])  # point in polygon; on the edge is on either side

    expected = fill(drawn.exterior)
    for hole in drawn.holes:
        expected &= ~fill(hole)
    filled = outline.mask(drawn, WIDTH, HEIGHT)
    ys, xs = np.nonzero(filled != expected)
    edge = outline.polygon(drawn).boundary
    assert (shapely.distance(edge, shapely.points(xs, ys)) < 1e-9).all()


def test_a_mask_counts_from_half_a_pixel_before_the_first_centre():
    filled = outline.mask(Outline([[1.5, 2.5], [4.5, 2.5], [4.5, 4.5], [1.5, 4.5]]), 8, 7)
    expected = np.zeros((7, 8), dtype=bool)
    expected[3:5, 2:5] = True
    np.testing.assert_array_equal(filled, expected)


def test_wounds_that_share_an_edge_through_centres_share_no_pixel():
    left, right = Outline([[1, 1], [4, 1], [4, 5], [1, 5]]), Outline([[4, 1], [7, 1], [7, 5], [4, 5]])
    both = outline.mask(left, 9, 9).astype(int) + outline.mask(right, 9, 9)
    assert both.max() == 1
    assert both.sum() == 6 * 4


@pytest.mark.parametrize("centre", [(0, 0), (399, 0), (200, 299), (-500, 100), (200, 900)])
def test_a_mask_is_cut_off_at_the_frame(centre):
    wide = Outline(circle(centre[0] + 1000, centre[1] + 1000, 50))
    expected = outline.mask(wide, 3000, 3000)[1000 : 1000 + HEIGHT, 1000 : 1000 + WIDTH]
    np.testing.assert_array_equal(outline.mask(Outline(circle(*centre, 50)), WIDTH, HEIGHT), expected)


@settings(deadline=None)
@given(outlines())
def test_a_mask_traced_and_filled_again_is_the_same_mask(drawn):
    filled = outline.mask(drawn, WIDTH, HEIGHT)
    again = np.zeros_like(filled)
    for traced in outline.from_mask(filled):
        outline.check_outline(traced, WIDTH, HEIGHT)
        again |= outline.mask(traced, WIDTH, HEIGHT)
    np.testing.assert_array_equal(again, filled)


@pytest.mark.parametrize(("radius", "at_least"), [(30, 0.97), (100, 0.99), (300, 0.997)])
def test_a_traced_mask_is_the_outline_it_was_filled_from(radius, at_least):
    middle = radius + 10.3
    drawn = Outline(circle(middle, middle, radius), (circle(middle + 2, middle, radius / 3),))
    side = 2 * radius + 20
    (traced,) = outline.from_mask(outline.mask(drawn, side, side))
    before, after = outline.polygon(drawn), outline.polygon(traced)
    assert len(traced.holes) == 1
    assert outline.iou(before, after) > at_least
    assert after.area == pytest.approx(before.area, rel=0.1 / radius)


@pytest.mark.parametrize("radius", [100, 300, 900])
def test_a_simplified_trace_keeps_area_and_perimeter(radius):
    # the pixel steps of the trace itself are 5.5 % too long
    side = 2 * radius + 20
    (traced,) = outline.from_mask(outline.mask(Outline(circle(radius + 9.7, radius + 9.2, radius, 2000)), side, side))
    stepped, smooth = outline.polygon(traced), outline.polygon(outline.simplify(traced, 1))
    assert stepped.length / (2 * pi * radius) == pytest.approx(1.055, abs=0.003)
    assert smooth.length / (2 * pi * radius) == pytest.approx(1, abs=0.003)
    assert smooth.area / (pi * radius**2) == pytest.approx(1, abs=0.001)
    assert 24 <= len(smooth.exterior.coords) <= 150


def test_areas_come_largest_first_and_specks_are_dropped():
    pixels = np.zeros((60, 80), dtype=bool)
    pixels[5:10, 5:10] = True  # 25 pixels
    pixels[20:50, 20:70] = True  # 1500, less its holes
    pixels[25:35, 30:40] = False
    pixels[45, 60] = False
    pixels[2, 70] = True  # a speck
    pixels[29:32, 34:37] = True  # a wound within the hole
    assert [len(traced.holes) for traced in outline.from_mask(pixels)] == [2, 0, 0, 0]
    kept = outline.from_mask(pixels, min_area_px=5)
    assert [len(traced.holes) for traced in kept] == [1, 0, 0]
    areas = [outline.polygon(traced).area for traced in kept]
    assert areas == pytest.approx([1400, 25, 9], abs=0.6)
    outline.check_outlines(kept, 80, 60)


def test_areas_that_meet_at_a_corner_are_apart():
    pixels = np.zeros((9, 9), dtype=bool)
    pixels[1:4, 1:4] = pixels[4:7, 4:7] = True
    traced = outline.from_mask(pixels)
    assert len(traced) == 2
    outline.check_outlines(traced, 9, 9)


def test_a_full_mask_is_traced_along_the_frame():
    (traced,) = outline.from_mask(np.ones((HEIGHT, WIDTH), dtype=bool))
    outline.check_outline(traced, WIDTH, HEIGHT)
    assert outline.polygon(traced).area == WIDTH * HEIGHT - 0.5  # an eighth of a pixel at each corner


def test_an_empty_mask_has_no_outline():
    assert outline.from_mask(np.zeros((5, 5), dtype=bool)) == ()


@pytest.mark.parametrize("pixels", [np.zeros((3, 3)), np.zeros((3, 3, 3), dtype=bool)])
def test_something_else_than_a_mask_is_refused(pixels):
    with pytest.raises(ValueError, match="A mask is a 2-d array of bool, not a"):
        outline.from_mask(pixels)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 2**32 - 1), st.floats(0.3, 0.7))
def test_any_mask_is_traced_into_sound_outlines(seed, share):
    pixels = np.random.default_rng(seed).random((24, 31)) < share
    traced = outline.from_mask(pixels)
    outline.check_outlines(traced, 31, 24)
    again = np.any([outline.mask(one, 31, 24) for one in traced], axis=0)
    np.testing.assert_array_equal(again, pixels)
