"""Plain rulers are read to 1 %, or refused; millimetres are never taken for inches."""

from functools import cache

import cv2
import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from calibration.errors import RulerError, RulerNotFoundError, RulerUnclearError
from calibration.graduation import EIGHTHS, HALF_MILLIMETRES, INCH_MM, MILLIMETRES, SIXTEENTHS, read_division
from calibration.ruler import Ruler, find_ruler, ruler_plane
from measure.rendering import Camera, Sensor, View
from measure.rendering.plain_ruler import PlainRuler, lay
from tests.benchmarks.rulers import background, photo

WIDTH = 2016
"""Of the photos here: half of a 12-megapixel one, from half the distance."""

SIZE = (WIDTH, WIDTH * 3 // 4)

SCALE_GOAL = 0.01
"""Relative: a plain ruler's scale on a clean photo is to be within 1 %."""


def _laid(ruler, *, distance_mm=150.0, tilt=(0.0, 0.0), turn_deg=20.0, blur_px=0.8, **more):
    camera = Camera(WIDTH, WIDTH * 3 // 4, None, distance_mm, *tilt, aim_mm=(0.0, 0.0))
    homography = View(camera, (0.0, 0.0)).homography()
    return lay(background(WIDTH), ruler, homography, turn_deg=turn_deg, sensor=Sensor(blur_px=blur_px), **more)


def _error(seen, ruler):
    middle = (ruler.points_px[0] + ruler.points_px[-1]) / 2
    return ruler_plane(ruler, SIZE).mm_per_px(middle) / seen.mm_per_px_along(ruler.points_px) - 1


def _ruler(**more):
    return PlainRuler(**{"length_mm": 110.0, "width_mm": 25.0} | more)


@cache
def _upright():
    seen = _laid(_ruler())
    return seen, find_ruler(seen.pixels)


@pytest.mark.parametrize("turn_deg", range(0, 360, 30))
def test_scale_is_right_at_any_angle(turn_deg):
    seen = _laid(_ruler(), turn_deg=turn_deg)
    ruler = find_ruler(seen.pixels)
    assert ruler.unit == "mm"
    assert abs(_error(seen, ruler)) < SCALE_GOAL


@pytest.mark.parametrize("towards_deg", [0, 45, 90, 200])
@pytest.mark.parametrize("tilt_deg", [15, 35])
def test_scale_along_the_ruler_is_right_under_tilt(tilt_deg, towards_deg):
    seen = _laid(_ruler(), tilt=(tilt_deg, towards_deg))
    assert abs(_error(seen, find_ruler(seen.pixels))) < SCALE_GOAL


@pytest.mark.parametrize("blur_px", [0.5, 1.0, 1.5, 2.0])
@pytest.mark.parametrize("edges", [("mm", ""), ("inch/16", "")])
def test_blur_does_not_move_the_scale(edges, blur_px):
    seen = _laid(_ruler(edges=edges), blur_px=blur_px)
    assert abs(_error(seen, find_ruler(seen.pixels))) < SCALE_GOAL


@pytest.mark.parametrize(
    ("edges", "unit"),
    [
        (("mm", ""), "mm"),
        (("half mm", ""), "mm"),
        (("inch/16", ""), "inch"),
        (("inch/8", ""), "inch"),
        (("mm", "inch/16"), "mm"),
        (("inch/10", "mm"), "mm"),
    ],
    ids="-".join,
)
def test_reads_what_the_edges_carry(edges, unit):
    seen = _laid(_ruler(edges=edges), distance_mm=120.0, turn_deg=5.0)
    ruler = find_ruler(seen.pixels)
    assert ruler.unit == unit
    assert abs(_error(seen, ruler)) < SCALE_GOAL


@pytest.mark.parametrize("paper", [(0.85, 0.85, 0.82), (0.8, 0.62, 0.12), (0.45, 0.62, 0.75)])
@pytest.mark.parametrize("opacity", [1.0, 0.6])
def test_the_colour_of_the_ruler_does_not_matter(paper, opacity):
    seen = _laid(_ruler(paper=paper, opacity=opacity))
    assert abs(_error(seen, find_ruler(seen.pixels))) < SCALE_GOAL


def test_light_lines_on_a_dark_ruler_are_read():
    seen = _laid(_ruler(paper=(0.05, 0.05, 0.06), ink=(0.8, 0.8, 0.8)))
    assert abs(_error(seen, find_ruler(seen.pixels))) < SCALE_GOAL


def test_a_covered_part_is_bridged_in_number():
    """Graduations on both sides of a cover belong to one row: their places in mm are right across the gap."""
    seen = _laid(_ruler(), covered=0.2, seed=4)
    ruler = find_ruler(seen.pixels)
    true = np.linalg.norm(seen.mm_of(ruler.points_px) - seen.mm_of(ruler.points_px[:1]), axis=1)
    assert ruler.positions_mm == pytest.approx(true, abs=0.1)
    assert np.diff(ruler.positions_mm).max() > 5


def test_points_lie_on_the_graduations():
    """The first drawn line stands 5 mm from the ruler's end and the others whole millimetres from it."""
    seen, ruler = _upright()
    along = (seen.mm_of(ruler.points_px) - seen.pose[:2, 2]) @ seen.pose[:2, 0]
    place = along - (5.0 - 110.0 / 2)
    assert np.abs(place - np.rint(place)).max() < 0.05
    assert len(place) > 95
    assert len(ruler.points_px) == len(ruler.positions_mm)


def test_sigma_is_about_how_far_the_points_are_off():
    seen, ruler = _upright()
    along = (seen.mm_of(ruler.points_px) - seen.pose[:2, 2]) @ seen.pose[:2, 0]
    off_px = (along - np.rint(along)) / seen.mm_per_px_along(ruler.points_px)
    assert np.std(off_px) < 2 * ruler.sigma_px + 0.02


def test_outline_holds_the_graduations_and_stays_near_the_ruler():
    seen, ruler = _upright()
    outline = Polygon(ruler.outline_px)
    body = Polygon(seen.corners_of(_ruler()))
    assert outline.contains(LineString(ruler.points_px))
    assert outline.intersection(body).area > 0.85 * outline.area


@pytest.mark.parametrize("kind", ["mm", "inch", "both"])
@pytest.mark.parametrize("number", range(1, 17))
def test_units_are_never_mixed_up_on_hard_photos(kind, number):
    seen = photo(kind, "hard", number, WIDTH)
    try:
        ruler = find_ruler(seen.pixels)
    except RulerError:
        return
    assert kind in {ruler.unit, "both"}
    assert abs(_error(seen, ruler)) < SCALE_GOAL


@pytest.mark.parametrize("kind", ["mm", "inch", "both"])
def test_clean_photos_are_hardly_refused(kind):
    read = 0
    for number in range(1, 9):
        seen = photo(kind, "clean", number, WIDTH)
        try:
            ruler = find_ruler(seen.pixels)
        except RulerError:
            continue
        read += 1
        assert abs(_error(seen, ruler)) < SCALE_GOAL
    assert read >= 7


@pytest.mark.parametrize(
    ("edges", "more"),
    [
        (("comb", ""), {}),
        (("inch/10", ""), {}),
        (("mm", ""), {"mm_lengths": (3.0, 3.0, 3.0)}),
    ],
    ids=["comb", "tenths", "equal"],
)
def test_lengths_that_tell_nothing_are_refused(edges, more):
    seen = _laid(_ruler(edges=edges, numbers=False, **more))
    with pytest.raises(RulerUnclearError, match="don't tell millimetres from inches"):
        find_ruler(seen.pixels)


def test_centimetres_alone_are_refused():
    seen = _laid(_ruler(edges=("cm", "")))
    with pytest.raises(RulerError):
        find_ruler(seen.pixels)


def test_a_short_piece_is_refused():
    seen = _laid(_ruler(length_mm=28.0), distance_mm=100.0)
    with pytest.raises(RulerError):
        find_ruler(seen.pixels)


def _checkerboard():
    rows, columns = np.mgrid[:900, :1200] // 24
    return np.where((rows + columns) % 2, 230, 30)


def _stripes():
    return np.broadcast_to(128 + 90 * np.sin(np.arange(1200) * 2 * np.pi / 14), (900, 1200))


def _text():
    page = np.full((900, 1200), 240, np.uint8)
    for line in range(30):
        text = " ".join(
            ["illi mill hill still", "minimum will fill", "little 1111 in the"][(line + k) % 3] for k in range(4)
        )
        cv2.putText(page, text, (20, 40 + 28 * line), cv2.FONT_HERSHEY_SIMPLEX, 0.6, 20, 1, cv2.LINE_AA)
    return page


def _noise():
    return np.random.default_rng(3).integers(0, 256, (900, 1200))


@pytest.mark.parametrize("picture", [_checkerboard, _stripes, _text, _noise])
def test_what_is_no_ruler_is_refused(picture):
    gray = np.asarray(picture()).astype(np.uint8)
    with pytest.raises((RulerNotFoundError, RulerUnclearError)):
        find_ruler(np.repeat(gray[..., None], 3, axis=2))


def test_says_what_is_missing_where_nothing_is_seen():
    with pytest.raises(RulerNotFoundError, match="at least 20 mm of sharp graduations are needed"):
        find_ruler(background(WIDTH))
    with pytest.raises(RulerNotFoundError):
        find_ruler(np.zeros((30, 40, 3), np.uint8))


TENS = [5.0 if k % 10 == 0 else 4.0 if k % 5 == 0 else 3.0 for k in range(45)]
TWENTIES = [5.0 if k % 20 == 0 else 4.0 if k % 10 == 0 else 3.0 if k % 2 == 0 else 2.0 for k in range(90)]


def _halves(parts, count):
    """Lengths in steps of an inch ruler: each halving of the inch is a step shorter."""
    highest = parts.bit_length() - 1
    return [2.0 + min(highest, (k & -k).bit_length() - 1 if k else highest) for k in range(count)]


@pytest.mark.parametrize(
    ("lengths", "division"),
    [
        (TENS, MILLIMETRES),
        (TWENTIES, HALF_MILLIMETRES),
        (_halves(16, 45), SIXTEENTHS),
        ([0.5 * length for length in _halves(8, 45)], EIGHTHS),
    ],
)
@pytest.mark.parametrize("start", [0, 3, 7])
def test_the_pattern_of_lengths_tells_the_division(lengths, division, start):
    noise = np.random.default_rng(start).normal(0, 0.08, len(lengths) - start)
    away = np.linspace(1.0, 0.8, len(noise))  # lines shrink away from a tilted camera
    assert read_division((np.array(lengths[start:]) + noise) * away) is division


def test_unseen_lines_are_left_out():
    lengths = np.array(TENS)
    lengths[12:20] = np.nan
    assert read_division(lengths) is MILLIMETRES


@pytest.mark.parametrize(
    "lengths",
    [
        [3.0] * 40,
        _halves(16, 14),  # halves and inches, but not enough of them to tell eighths from sixteenths
        _halves(32, 45),
        _halves(8, 45),  # slender eighths, or sixteenths whose half inches are as long as their inches
        [5.0 if k % 12 == 0 else 3.0 for k in range(48)],
        [3.4 if k % 10 == 0 else 2.4 if k % 5 == 0 else 1.2 for k in range(45)],  # tenths of an inch are as stubby
    ],
)
def test_patterns_that_might_be_another_are_refused(lengths):
    with pytest.raises(RulerUnclearError):
        read_division(np.array(lengths))


def _invented(step_px=10.0, count=101, perspective=0.0, step_mm=1.0):
    k = np.arange(count, dtype=np.float64)
    along = k * step_px / (1 + perspective * k)
    points = np.column_stack([100 + along * 0.6, 50 + along * 0.8])
    return Ruler("mm", points, k * step_mm, 0.1, points[[0, -1, -1, 0]])


def test_plane_has_the_scale_of_evenly_spaced_points():
    plane = ruler_plane(_invented(step_px=8.0, step_mm=INCH_MM / 16), SIZE)
    assert plane.mm_per_px(np.array([300.0, 300.0])) == pytest.approx(INCH_MM / 16 / 8)
    assert plane.model == "ruler"
    assert np.isnan(plane.tilt_deg)


def test_plane_has_the_scale_of_the_middle_under_perspective():
    """Position k lies at s = 10 k / (1 + k/500): dk/ds = (1 + k/500)^2 / 10; half of s(100) = 833.3 is k = 45.45."""
    plane = ruler_plane(_invented(perspective=1 / 500), SIZE)
    assert plane.mm_per_px(np.zeros(2)) == pytest.approx((1 + 45.4545 / 500) ** 2 / 10, rel=1e-3)


def test_uncertainty_is_that_of_a_straight_line_fit():
    """u(slope)/slope = sigma / (step sqrt(sum (k - mean)^2)), 85850 for 101 points (Draper and Smith 1998, 1.4)."""
    plane = ruler_plane(_invented(), SIZE)
    spread = plane.propagate(lambda moved: np.array([np.log(moved.mm_per_px(np.zeros(2)))]))
    assert spread["point localisation"] == pytest.approx(0.1 / (10 * np.sqrt(85850)), rel=1e-3)
