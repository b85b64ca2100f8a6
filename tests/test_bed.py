"""A wound's bed: its pixels stand for the area of the outline on the plane, and its skin is what lies round it."""

import numpy as np
import pytest
import shapely
from painted import PX_PER_MM, SIZE, SKIN, Daylight, disc, outline_of, painted, straight, tilted
from shapely import affinity

from calibration.colour import lab
from calibration.projection import Bend
from measure.bed import MOST_PX, STEP_MM, bed_of

RED, PALE, WHITE = (38, 44, 26), (74, 8, 14), (100, 0, 0)
EGG = affinity.rotate(affinity.scale(disc(12), 1.3, 0.8), 35)


def bed(scale, polygon_mm, *shapes, keep_out=(), ground=SKIN):
    pixels = painted(scale, *(shapes or [(polygon_mm, RED)]), ground=ground)
    rings = [outline_of(each, scale).exterior for each in keep_out]
    return bed_of(pixels, Daylight(), scale.plane, outline_of(polygon_mm, scale), rings)


# Area


@pytest.mark.parametrize(
    "scale",
    [
        straight(),
        straight(3.5),
        tilted(20),
        tilted(40, towards_deg=200),
        straight(bend=Bend(1 / 40, 20.0, (3.0, 0.0))),
    ],
    ids=["straight", "coarse", "tilted by 20 degrees", "tilted by 40 degrees", "on a limb"],
)
@pytest.mark.parametrize(
    "polygon_mm",
    [EGG, disc(4), EGG - disc(4, 2, 1), shapely.box(-14, -2, 14, 2)],
    ids=["egg", "small", "with an island", "narrow"],
)
def test_pixels_stand_for_the_area_of_the_outline(scale, polygon_mm):
    found = bed(scale, polygon_mm)
    assert found.area_mm2.sum() == pytest.approx(polygon_mm.area, rel=0.01)
    assert found.area_mm2.min() >= 0


def test_far_parts_of_a_tilted_wound_stand_for_more_area_a_pixel():
    found = bed(tilted(40, towards_deg=0), EGG)
    middle = found.area_mm2.shape[0] // 2
    columns = found.area_mm2[middle][found.depth_mm[middle] > 1]
    assert max(columns[0], columns[-1]) > 1.15 * min(columns[0], columns[-1])
    assert (np.diff(columns) > 0).all() or (np.diff(columns) < 0).all()


# Depth


def test_depth_is_the_distance_from_the_edge():
    found = bed(straight(), disc(10))
    x, y = np.meshgrid(*(np.arange(side) for side in found.depth_mm.shape[::-1]))
    at_px = found.view.to_photo(np.column_stack([x.ravel(), y.ravel()]))
    away = np.hypot(*((at_px - (np.array(SIZE) - 1) / 2) / PX_PER_MM).T).reshape(x.shape)
    true = np.maximum(10 - away, 0)
    np.testing.assert_allclose(found.depth_mm, true, atol=0.3)  # a pixel
    assert (found.depth_mm[away > 10.2] == 0).all()


def test_an_island_is_no_depth():
    found = bed(straight(), disc(10) - disc(4))
    assert found.depth_mm.max() == pytest.approx(3.0, abs=0.3)


# Resolution


def test_a_small_wound_has_fine_pixels_and_a_large_one_few():
    small, large = bed(straight(), disc(8)), bed(straight(2.5), affinity.scale(disc(55), 1.3))
    assert small.mm_per_px == pytest.approx(STEP_MM, rel=0.05)
    assert max(large.view.picture.shape) <= MOST_PX


def test_specks_of_shine_go_and_patches_stay():
    spots = [(disc(0.15, x, y), WHITE) for x in range(-6, 7, 2) for y in (-3, 3)]
    found = bed(straight(), disc(10), (disc(10), RED), *spots, (disc(1.5), WHITE))
    seen = lab(found.linear)
    middle = np.array(seen.shape[:2]) // 2
    assert seen[middle[0], middle[1], 0] > 95
    rows, columns = np.indices(seen.shape[:2])
    elsewhere = (found.depth_mm > 1) & (np.hypot(rows - middle[0], columns - middle[1]) * found.mm_per_px > 2.5)
    np.testing.assert_allclose(seen[elsewhere], np.broadcast_to(RED, seen[elsewhere].shape), atol=2.5)


# Skin


def test_skin_is_what_lies_round_the_wound_but_for_its_rim():
    found = bed(straight(), disc(10), (disc(12.5), (55, 40, 20)), (disc(10), RED))
    assert lab(found.skin) == pytest.approx(SKIN, abs=0.7)


def test_stickers_and_other_wounds_are_no_skin():
    paper, other = shapely.box(10.5, -30, 40, 30), shapely.box(-40, -30, -14, 30)
    shapes = [(paper, WHITE), (other, RED), (disc(9), RED)]
    seen = bed(straight(), disc(9), *shapes, keep_out=(paper, other)).skin
    assert lab(seen) == pytest.approx(SKIN, abs=0.7)


def test_without_skin_in_the_photo_there_is_none():
    everything = shapely.box(-60, -50, 60, 50)
    assert bed(straight(), disc(9), (disc(9), RED), keep_out=(everything,)).skin is None
    filling = shapely.box(-49, -39, 49, 39)
    assert bed(straight(), filling, ground=PALE).skin is None


def test_a_wound_at_the_border_of_the_photo_has_its_skin_from_the_other_sides():
    scale = straight()
    found = bed(scale, disc(9, -40.5, -30))
    assert lab(found.skin) == pytest.approx(SKIN, abs=0.7)
    assert found.area_mm2.sum() == pytest.approx(disc(9).area, rel=0.01)
