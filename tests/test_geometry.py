"""Geometry on polygons: closed forms, published values, and what must not change when a wound is moved.

Each value has its source beside it.
"""

from math import cos, hypot, nan, pi, radians, sin, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import pdist
from scipy.special import ellipe
from shapely import affinity
from shapely.geometry import MultiPoint, Polygon, box

from measure import geometry
from measure.geometry import Convention

LONGEST = Convention.LONGEST_PERPENDICULAR
HEAD_TO_TOE = Convention.HEAD_TO_TOE

RECTANGLE = Polygon([(0, 0), (40, 0), (40, 30), (0, 30)])
FIVE_CORNERS = Polygon([(3, 4), (5, 11), (12, 8), (9, 5), (5, 6)])
L_SHAPE = Polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 40), (0, 40)])
TRIANGLE = Polygon([(0, 0), (40, 0), (0, 30)])


def ellipse(length_mm, width_mm, corners=20_000, turned_deg=0.0):
    """Inscribe a polygon in an ellipse round the origin; at 0 degrees its length runs along x."""
    angle = np.arange(corners) * 2 * pi / corners
    points = np.column_stack([length_mm / 2 * np.cos(angle), width_mm / 2 * np.sin(angle)])
    return affinity.rotate(Polygon(points), turned_deg, origin=(0, 0))


def exact_ellipse_perimeter(a, b):
    return 4 * a * ellipe(1 - (b / a) ** 2)


def regular(corners):
    return ellipse(2, 2, corners)


@st.composite
def wounds(draw):
    """Draw star-shaped outlines of 3 to 40 corners, 5 to 40 mm from a centre, some with a healed island."""
    corners = draw(st.integers(3, 40))
    radii = draw(st.lists(st.floats(5, 40), min_size=corners, max_size=corners))
    angles = np.arange(corners) * 2 * pi / corners
    outer = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    holes = [ellipse(2, 1.5, 12).exterior.coords] if draw(st.booleans()) else []
    return Polygon(outer, holes)


def numbers(wound, convention=LONGEST, head=(0.0, -1.0)):
    """Everything geometry says about a wound, in one row."""
    taken = geometry.extents(wound, convention, head)
    return np.array(
        [
            geometry.area_mm2(wound),
            geometry.perimeter_mm(wound),
            taken.length_mm,
            taken.width_mm,
            geometry.circularity(wound),
            geometry.solidity(wound),
            geometry.equivalent_diameter_mm(wound),
        ]
    )


# Closed forms and published values


def test_rectangle():
    # shoelace formula, any handbook; from memory, computed
    assert geometry.area_mm2(RECTANGLE) == 1200
    assert geometry.perimeter_mm(RECTANGLE) == 140
    assert geometry.circularity(RECTANGLE) == pytest.approx(0.76937, abs=5e-6)


def test_worked_example_of_the_shoelace_formula():
    # common worked example of the shoelace formula, from memory; recomputed
    assert geometry.area_mm2(FIVE_CORNERS) == 30.0
    assert geometry.perimeter_mm(FIVE_CORNERS) == pytest.approx(26.09006, abs=5e-6)


def test_l_shape():
    # computed by hand; the farthest corners are (40, 0) and (0, 40)
    taken = geometry.extents(L_SHAPE, LONGEST)
    assert geometry.area_mm2(L_SHAPE) == 700
    assert taken.length_mm == pytest.approx(40 * sqrt(2), rel=1e-12)  # 56.5685
    assert taken.width_mm == pytest.approx(25 * sqrt(2), rel=1e-12)  # 35.3553
    assert geometry.solidity(L_SHAPE) == pytest.approx(700 / 1150, rel=1e-12)


def test_right_triangle():
    # computed; its smallest caliper width, 24, is also its extent at right angles to the hypotenuse
    taken = geometry.extents(TRIANGLE, LONGEST)
    assert geometry.area_mm2(TRIANGLE) == 600
    assert (taken.length_mm, taken.width_mm) == pytest.approx((50, 24), rel=1e-12)


def test_ellipse_estimate():
    # wound literature quotes L x W x pi x 0.25 (termedia.pl, measurement accuracy in wound healing)
    assert geometry.ellipse_area_mm2(1, 1) == pytest.approx(0.785398, abs=5e-7)
    assert geometry.length_x_width_mm2(50, 30) / geometry.ellipse_area_mm2(50, 30) == pytest.approx(4 / pi)


def test_fifty_by_thirty_ellipse():
    # exact perimeter 4 a E(1 - b2/a2); computed with scipy.special.ellipe
    wound = ellipse(50, 30)
    assert geometry.area_mm2(wound) == pytest.approx(1178.0972, abs=1e-4)
    assert geometry.perimeter_mm(wound) == pytest.approx(127.63499, abs=5e-6)
    assert geometry.circularity(wound) == pytest.approx(0.90876, abs=5e-6)
    assert geometry.equivalent_diameter_mm(wound) == pytest.approx(sqrt(50 * 30), abs=1e-4)


@pytest.mark.parametrize(
    ("ratio", "first", "second"),
    [(2, -2.8e-6, -4.6e-10), (5, -2.1e-4, -8.5e-7), (10, -8.4e-4, -1.2e-5)],
)
def test_ramanujan_approximations(ratio, first, second):
    # Ramanujan 1914, formulae from memory; errors recomputed with scipy.special.ellipe. The polygon is
    # compared with both, so that perimeter_mm is checked against something other than the elliptic integral
    a, b = float(ratio), 1.0
    one = pi * (3 * (a + b) - sqrt((3 * a + b) * (a + 3 * b)))
    h = ((a - b) / (a + b)) ** 2
    two = pi * (a + b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h)))
    exact = exact_ellipse_perimeter(a, b)
    assert one / exact - 1 == pytest.approx(first, rel=0.02)
    assert two / exact - 1 == pytest.approx(second, rel=0.05)
    assert geometry.perimeter_mm(ellipse(2 * a, 2 * b)) == pytest.approx(two, rel=2 * abs(second) + 1e-7)


@pytest.mark.parametrize(("ratio", "perimeter"), [(2, 9.688448), (3, 13.364893), (5, 21.010045), (10, 40.639742)])
def test_exact_ellipse_perimeters(ratio, perimeter):
    # computed with scipy.special.ellipe
    assert geometry.perimeter_mm(ellipse(2 * ratio, 2)) == pytest.approx(perimeter, abs=1e-6)


@pytest.mark.parametrize(
    ("wound", "expected"),
    [
        (regular(20_000), 1.0),
        (regular(4), 0.785398),
        (regular(3), 0.604600),
        (regular(6), 0.906900),
        (ellipse(2, 1), 0.841165),
    ],
    ids=["circle", "square", "equilateral triangle", "regular hexagon", "ellipse 2:1"],
)
def test_circularity(wound, expected):
    # thinness ratio 4 pi A / P2, as imagej.net defines it; values computed
    assert geometry.circularity(wound) == pytest.approx(expected, abs=1e-6)


def test_caliper_diameters_of_an_ellipse():
    # extents over all directions; Cauchy: the mean over directions is perimeter / pi. Computed
    wound = ellipse(50, 30, corners=720)
    directions = [(cos(angle), sin(angle)) for angle in np.arange(360) * pi / 360]
    spans = [geometry.extents(wound, HEAD_TO_TOE, head).length_mm for head in directions]
    assert max(spans) == pytest.approx(50, abs=1e-9)
    assert min(spans) == pytest.approx(30, abs=1e-9)
    assert np.mean(spans) == pytest.approx(40.6275, abs=1e-3)


@pytest.mark.parametrize(("turned_deg", "along_x", "along_y"), [(30, 45.826, 36.056), (45, 41.231, 41.231)])
def test_body_axis_extents_of_a_turned_ellipse(turned_deg, along_x, along_y):
    # 2 sqrt(a2 cos2 + b2 sin2); computed
    taken = geometry.extents(ellipse(50, 30, turned_deg=turned_deg), HEAD_TO_TOE)
    assert taken.width_mm == pytest.approx(along_x, abs=5e-4)
    assert taken.length_mm == pytest.approx(along_y, abs=5e-4)


def test_a_square_of_25_mm_is_six_and_a_quarter_square_centimetres():
    # 625 mm2 are 6.25 cm2, not 62.5
    assert geometry.area_mm2(box(0, 0, 25, 25)) == 625
    assert geometry.area_mm2(box(0, 0, 25, 25)) / 10**2 == 6.25


@pytest.mark.parametrize(
    ("turned_deg", "longest", "head_to_toe"), [(0, 27.3, 27.3), (30, 27.3, 40.25), (45, 27.3, 44.3)]
)
def test_length_times_width_overestimates_an_ellipse(turned_deg, longest, head_to_toe):
    # computed; 27.3 % at any angle by the longest length, up to 44.3 % by the body axis
    # (at 30 degrees 4 sqrt(525 x 325) / (375 pi) = 1.40249; 40.3 is quoted)
    wound = ellipse(50, 30, turned_deg=turned_deg)
    for convention, expected in ((LONGEST, longest), (HEAD_TO_TOE, head_to_toe)):
        taken = geometry.extents(wound, convention)
        product = geometry.length_x_width_mm2(taken.length_mm, taken.width_mm)
        assert 100 * (product / geometry.area_mm2(wound) - 1) == pytest.approx(expected, abs=0.05)


def test_a_rectangle_is_as_long_as_its_diagonal():
    # computed; 50 x 48, so that length times width doubles the area
    taken = geometry.extents(RECTANGLE, LONGEST)
    assert (taken.length_mm, taken.width_mm) == pytest.approx((50, 48), rel=1e-12)
    assert geometry.length_x_width_mm2(taken.length_mm, taken.width_mm) == pytest.approx(2 * 1200)


@pytest.mark.parametrize(
    ("corners", "area_loss", "perimeter_loss"),
    [(12, 4.5, 1.1), (24, 1.1, 0.29), (36, 0.5, 0.13), (72, 0.13, 0.03)],
)
def test_few_corners_lose_area(corners, area_loss, perimeter_loss):
    # computed; the perimeter is that of a circle. An ellipse's depends on where its corners lie
    wound = ellipse(50, 30, corners)
    assert 100 * (1 - wound.area / (375 * pi)) == pytest.approx(area_loss, rel=0.1)
    assert 100 * (1 - regular(corners).length / (2 * pi)) == pytest.approx(perimeter_loss, rel=0.1)


# Holes


def test_a_healed_island_is_subtracted_and_its_edge_counts():
    island = box(10, 10, 20, 15)
    wound = Polygon(RECTANGLE.exterior, [island.exterior])
    assert geometry.area_mm2(wound) == 1200 - 50
    assert geometry.perimeter_mm(wound) == 140 + 30
    assert geometry.circularity(wound) < geometry.circularity(RECTANGLE)
    assert geometry.solidity(wound) == pytest.approx(1150 / 1200)


@pytest.mark.parametrize("convention", Convention)
def test_extents_look_at_the_outer_ring_only(convention):
    wound = Polygon(RECTANGLE.exterior, [box(10, 10, 20, 15).exterior])
    with_island = geometry.extents(wound, convention)
    without = geometry.extents(RECTANGLE, convention)
    assert (with_island.length_mm, with_island.width_mm) == (without.length_mm, without.width_mm)


# The lines to draw


def test_head_to_toe_lines_start_at_the_head_and_touch_both_sides():
    taken = geometry.extents(RECTANGLE, HEAD_TO_TOE)
    assert (taken.length_mm, taken.width_mm) == (30, 40)
    np.testing.assert_allclose(taken.length_line, [[20, 0], [20, 30]])
    np.testing.assert_allclose(sorted(taken.width_line.tolist()), [[0, 15], [40, 15]])


def test_the_width_line_lies_midway_between_the_points_it_spans():
    # The diagonal's farthest points to both sides are corners at different places along it
    taken = geometry.extents(RECTANGLE, LONGEST)
    np.testing.assert_allclose(taken.width_line.mean(axis=0), [20, 15])


def test_the_length_line_joins_the_two_farthest_points():
    taken = geometry.extents(L_SHAPE, LONGEST)
    np.testing.assert_allclose(sorted(taken.length_line.tolist()), [[0, 40], [40, 0]], atol=1e-12)


def test_of_equal_lengths_the_one_with_the_greater_width_counts():
    # An equilateral triangle with 10 mm sides is 8.66 mm wide along each; the fourth corner adds 1 mm to one
    height = 10 * sin(radians(60))
    wound = MultiPoint([(0, 0), (10, 0), (5, height), (5, -1)]).convex_hull
    taken = geometry.extents(wound, LONGEST)
    assert (taken.length_mm, taken.width_mm) == pytest.approx((10, height + 1), rel=1e-12)


@given(wounds(), st.sampled_from(Convention))
def test_lines_are_as_long_as_the_numbers_and_at_right_angles(wound, convention):
    taken = geometry.extents(wound, convention)
    along, across = np.diff(taken.length_line, axis=0)[0], np.diff(taken.width_line, axis=0)[0]
    assert hypot(*along) == pytest.approx(taken.length_mm)
    assert hypot(*across) == pytest.approx(taken.width_mm)
    assert along @ across == pytest.approx(0, abs=1e-9)


@given(wounds(), st.sampled_from(Convention))
def test_the_box_over_both_lines_holds_the_wound_tightly(wound, convention):
    taken = geometry.extents(wound, convention)
    points = np.array(wound.exterior.coords)
    for line in (taken.length_line, taken.width_line):
        direction = (line[1] - line[0]) / hypot(*(line[1] - line[0]))
        span = points @ direction
        np.testing.assert_allclose([span.min(), span.max()], line @ direction, atol=1e-9)


# What must not change


@given(wounds())
def test_the_longest_length_is_the_greatest_distance_between_corners(wound):
    farthest = pdist(np.array(wound.exterior.coords)).max()
    assert geometry.extents(wound, LONGEST).length_mm == pytest.approx(farthest, rel=1e-12)


@given(wounds(), st.floats(0, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_turning_and_shifting_change_nothing(wound, turned_deg, dx, dy):
    moved = affinity.translate(affinity.rotate(wound, turned_deg, origin=(0, 0)), dx, dy)
    np.testing.assert_allclose(numbers(moved), numbers(wound), rtol=1e-8)


@given(wounds(), st.floats(0, 360))
def test_head_to_toe_turns_with_the_head(wound, turned_deg):
    turn = radians(turned_deg)
    turned = affinity.rotate(wound, turned_deg, origin=(0, 0))
    head = (sin(turn), -cos(turn))  # (0, -1) turned by the same angle
    np.testing.assert_allclose(numbers(turned, HEAD_TO_TOE, head), numbers(wound, HEAD_TO_TOE), rtol=1e-9)


@given(wounds(), st.floats(0.01, 100), st.sampled_from(Convention))
def test_rescaling_scales_lengths_once_and_areas_twice(wound, s, convention):
    scaled = affinity.scale(wound, s, s, origin=(0, 0))
    factors = np.array([s**2, s, s, s, 1, 1, s])
    np.testing.assert_allclose(numbers(scaled, convention), numbers(wound, convention) * factors, rtol=1e-8)


@given(wounds(), st.integers(0, 40), st.sampled_from(Convention))
def test_the_order_of_the_corners_does_not_matter(wound, start, convention):
    corners = np.roll(np.array(wound.exterior.coords)[:-1], start, axis=0)[::-1]
    reordered = Polygon(corners, [ring.coords[::-1] for ring in wound.interiors])
    np.testing.assert_allclose(numbers(reordered, convention), numbers(wound, convention), rtol=1e-9)


@given(wounds(), st.sampled_from(Convention))
def test_a_mirror_image_measures_the_same(wound, convention):
    mirrored = affinity.scale(wound, -1, 1, origin=(0, 0))
    np.testing.assert_allclose(numbers(mirrored, convention), numbers(wound, convention), rtol=1e-9)


@given(wounds(), st.floats(0.1, 50))
def test_the_length_of_the_head_direction_does_not_matter(wound, factor):
    head = np.array([0.3, -0.8])
    np.testing.assert_allclose(numbers(wound, HEAD_TO_TOE, factor * head), numbers(wound, HEAD_TO_TOE, head), rtol=1e-9)


@given(wounds())
def test_a_healed_island_subtracts_exactly(wound):
    whole = Polygon(wound.exterior)
    islands = [Polygon(ring) for ring in wound.interiors]
    rest = geometry.area_mm2(whole) - sum(geometry.area_mm2(island) for island in islands)
    assert geometry.area_mm2(wound) == pytest.approx(rest, rel=1e-12)


@given(wounds())
def test_shape_numbers_keep_their_bounds(wound):
    taken = geometry.extents(wound, LONGEST)
    assert 0 < geometry.circularity(wound) < 1
    assert 0 < geometry.solidity(wound) <= 1 + 1e-12
    assert geometry.aspect_ratio(taken.length_mm, taken.width_mm) >= 1 - 1e-12


def test_head_to_toe_may_be_wider_than_long():
    taken = geometry.extents(RECTANGLE, HEAD_TO_TOE)
    assert geometry.aspect_ratio(taken.length_mm, taken.width_mm) == 0.75


def test_the_names_of_the_conventions_are_those_of_the_contract():
    assert [str(convention) for convention in Convention] == ["longest-perpendicular", "head-to-toe"]
    assert geometry.extents(RECTANGLE, "head-to-toe").convention is HEAD_TO_TOE


# Refusals

NOT_NUMBERS = shapely.transform(RECTANGLE, lambda corners: np.where(corners == [40, 30], nan, corners))
MEASURES = [
    geometry.area_mm2,
    geometry.perimeter_mm,
    geometry.circularity,
    geometry.solidity,
    geometry.equivalent_diameter_mm,
    lambda wound: geometry.extents(wound, LONGEST),
]


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize(
    ("wound", "sentence"),
    [
        (Polygon(), "The wound has no outline; draw one before measuring it"),
        (NOT_NUMBERS, "coordinates that are not numbers; draw it again"),
        (Polygon([(0, 0), (9, 9), (9, 0), (0, 9)]), r"is not sound \(Self-intersection\[4.5 4.5\]\)"),
        (box(0, 0, 1e-200, 1e-200), "encloses no area; draw it round the whole wound"),
    ],
    ids=["empty", "not a number", "crosses itself", "no area"],
)
def test_a_wound_that_cannot_be_measured_is_refused(measure, wound, sentence):
    with pytest.raises(ValueError, match=sentence):
        measure(wound)


def test_an_unknown_convention_is_refused():
    sentence = "'widest' is no way to take length and width; use 'longest-perpendicular' or 'head-to-toe'"
    with pytest.raises(ValueError, match=sentence):
        geometry.extents(RECTANGLE, "widest")


@pytest.mark.parametrize("head", [(0, 0), (nan, 1), (1, 2, 3)])
def test_a_head_that_points_nowhere_is_refused(head):
    with pytest.raises(ValueError, match=r"is no direction for the head; give \(x, y\)"):
        geometry.extents(RECTANGLE, HEAD_TO_TOE, head)
