"""The close-ups that proposals are trained on: their masks are true, and what lies about is no wound."""

import csv
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PIL import Image
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from skimage.color import rgb2hsv, rgb2lab

from measure.rendering import Camera, Scene, Sensor, Skin, Wound, outline_in_photo
from measure.rendering.closeup import CloseUp
from measure.rendering.distance import depth_inside
from measure.rendering.mark import MARKS, Mark
from measure.rendering.raster import Raster
from measure.rendering.stain import STAINS, Stain
from measure.rendering.thing import COLOURS, Thing
from measure.rendering.training import SHARES, SIDE, WITHOUT, _whole, closeup, picture, write_all

CAMERA = Camera(300, 300, 300 * 250 / 100, 250.0, aim_mm=(0.0, 0.0))  # 3 px per mm
BARE = Scene(
    (), None, Skin(30, body="trunk", veins=0, relief=0), CAMERA, sensor=Sensor(0.5, read_noise=0, shot_noise=0)
)
WOUNDED = replace(BARE, wound=Wound(length_mm=30, width_mm=20))


def in_photo(scene):
    return Polygon(*outline_in_photo(scene))


@pytest.mark.parametrize("number", [3, 4, 12])
def test_a_close_up_is_the_same_for_every_run(number):
    pixels, mask = picture(5, number)
    again, mask_again = picture(5, number)
    assert pixels.shape == (SIDE, SIDE, 3)
    assert mask.shape == (SIDE, SIDE)
    assert (pixels == again).all()
    assert (mask == mask_again).all()


@pytest.mark.parametrize("island", [0.0, 7.0])
def test_the_mask_is_as_large_as_the_outline(island):
    scene = replace(WOUNDED, wound=Wound("ellipse", 30, 24, island_mm=island))
    _, mask = CloseUp(scene).render()
    assert mask.sum() == pytest.approx(in_photo(scene).area, rel=0.01)


def test_every_wound_is_in_the_mask():
    straight = replace(WOUNDED, camera=replace(CAMERA, tilt_deg=0.0))
    _, alone = CloseUp(straight).render()
    _, mask = CloseUp(straight, others=((Wound("ellipse", 12, 10), (30.0, -20.0)),)).render()
    assert mask[149 - 60, 149 + 90]
    assert mask.sum() - alone.sum() == pytest.approx(np.pi * 6 * 5 * 9, rel=0.02)  # at 3 px per mm


@pytest.mark.parametrize("kind", sorted(COLOURS))
def test_what_a_thing_hides_is_no_wound(kind):
    thing = Thing(kind, (0.0, 0.0), 0.0, size_mm=60.0, colour=COLOURS[kind][0])
    pixels, mask = CloseUp(WOUNDED, things=(thing,)).render()
    _, whole = CloseUp(WOUNDED).render()
    hidden = shapely.contains_xy(
        Polygon(WOUNDED.view().project(shapely.get_coordinates(thing.shape().buffer(-0.5).exterior))),
        *np.meshgrid(np.arange(300.0), np.arange(300.0)),
    )
    assert (mask <= whole).all()
    assert not mask[hidden].any()
    assert 0.2 < mask.sum() / whole.sum() < 0.8
    empty, none = CloseUp(BARE, things=(thing,)).render()
    assert not none.any()
    inside = shapely.contains_xy(
        Polygon(WOUNDED.view().project(shapely.get_coordinates(thing.shape().buffer(-3).exterior))),
        *np.meshgrid(np.arange(300.0), np.arange(300.0)),
    )
    assert np.abs(empty[inside].astype(int) - pixels[inside]).max() <= 2  # no wound shines through


@pytest.mark.parametrize("kind", ["glove", "drape"])
def test_gloves_and_drapes_have_their_colour(kind):
    for colour in COLOURS[kind]:
        if np.ptp(colour) < 20:
            continue  # white has no hue
        thing = Thing(kind, (-30.0, 0.0), 0.0, colour=colour)
        pixels, _ = CloseUp(BARE, things=(thing,)).render()
        seen = np.median(pixels[140:160, 100:200].reshape(-1, 3), axis=0)
        hue, wanted = (rgb2hsv(np.array(rgb).reshape(1, 1, 3) / 255)[0, 0, 0] for rgb in (seen, colour))
        assert abs(hue - wanted) < 0.06


@pytest.mark.parametrize("kind", STAINS)
def test_a_stain_colours_the_gauze_round_its_middle_alone(kind):
    clean = Thing("gauze", (-45.0, 0.0), 0.0, size_mm=80.0)
    stained = replace(clean, stains=(Stain(kind, (0.0, 0.0), 24.0),))
    (without, _), (with_it, _) = (CloseUp(BARE, things=(thing,)).render() for thing in (clean, stained))
    difference = np.linalg.norm(rgb2lab(with_it) - rgb2lab(without), axis=2)
    assert difference[140:160, 140:160].mean() > 15
    assert difference[140:160, 220:240].mean() < 1


@pytest.mark.parametrize("kind", MARKS)
def test_a_mark_is_seen_where_it_lies_and_is_no_wound(kind):
    mark = Mark(kind, (10.0, 5.0), 14.0, 12.0)
    plain, _ = CloseUp(replace(BARE, skin=replace(BARE.skin, ita_deg=50))).render()
    marked, mask = CloseUp(replace(BARE, skin=replace(BARE.skin, ita_deg=50)), marks=(mark,)).render()
    x, y = np.rint(BARE.view().project(np.array([[10.0, 5.0]]))[0]).astype(int)
    difference = np.abs(marked.astype(int) - plain).sum(axis=2)
    assert difference[y - 4 : y + 5, x - 4 : x + 5].mean() > 12
    assert difference[:60, :60].max() <= 2
    assert not mask.any()


def test_about_a_quarter_shows_no_wound_and_the_rest_the_share_that_was_asked_for():
    shown = [closeup(6, number) for number in range(200)]
    without = sum(each.scene.wound is None for each in shown)
    assert abs(without - WITHOUT * 200) < 18.4  # 3 standard deviations of 6.1
    frame = box(-0.5, -0.5, SIDE - 0.5, SIDE - 0.5)
    alone = [each.scene for each in shown if each.scene.wound and not each.others]
    shares = [in_photo(scene).buffer(0).intersection(frame).area / SIDE**2 for scene in alone]
    within = [SHARES[0] * 0.8 <= share <= SHARES[1] * 1.2 for share in shares]  # tilt, and the wound's true shape
    assert np.mean(within) > 0.9
    layouts = {each.scene.stickers[0].layout for each in shown if each.scene.stickers}
    assert layouts == {"corner", "strip", "tile"}


def test_an_island_that_does_not_fit_is_left_out():
    narrow = replace(WOUNDED, wound=Wound("lobed", 30, 12, island_mm=14))
    with pytest.raises(ValueError, match="make it smaller"):
        narrow.wound_mm()
    assert _whole(narrow).wound.island_mm == 0
    fits = replace(WOUNDED, wound=Wound("ellipse", 30, 24, island_mm=6))
    assert _whole(fits) == fits


def test_photos_masks_and_groups_are_written(tmp_path):
    names = list(write_all(tmp_path, 3, 9))
    with (tmp_path / "groups.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["name"] for row in rows] == names
    assert len({row["group"] for row in rows}) == 3
    for number, name in enumerate(names, 1):
        with Image.open(tmp_path / "photos" / f"{name}.jpg") as photo:
            assert (photo.format, photo.mode, photo.size) == ("JPEG", "RGB", (SIDE, SIDE))
        with Image.open(tmp_path / "masks" / f"{name}.png") as mask:
            assert mask.mode == "1"
            assert (np.asarray(mask) == picture(9, number)[1]).all()


def test_depth_inside_several_polygons_is_that_of_the_nearest():
    parts = Point(3, 5).buffer(2, 64), affinity.translate(Point(0, 0).buffer(1.5, 64), 9, 5)
    raster = Raster.over((0, 0, 12, 10), 4)
    both = depth_inside(shapely.union_all(parts), raster)
    each = np.maximum(*(depth_inside(part, raster) for part in parts))
    near = np.abs(each) < 0.9
    np.testing.assert_allclose(both[near], each[near], atol=0.02)
