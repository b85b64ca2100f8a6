"""What the renderer says is true of each pixel agrees with what it paints."""

from dataclasses import replace

import numpy as np
import pytest
from skimage.color import rgb2lab

from calibration.sticker import LAYOUTS
from measure.rendering import (
    CLASSES,
    OUTSIDE,
    Camera,
    Light,
    Scene,
    Sensor,
    Skin,
    Sticker,
    Wound,
    redness_round,
    reflectance_in_photo,
    render,
    tissue_fractions,
    tissue_in_photo,
    wound_cover,
)
from measure.rendering.sensor import decoded, encoded
from measure.rendering.sticker import PAPER

SMALL = Camera(width=640, height=480, focal_px=2000.0, distance_mm=250.0, tilt_deg=0.0, aim_mm=(0.0, 0.0))
FOUR = {"granulation": 0.4, "slough": 0.25, "necrotic": 0.2, "epithelial": 0.15}
WIDE = Camera(width=640, height=480, distance_mm=300.0)
EVEN = Light(gradient=0.0, vignetting=0.0)
SHARP = Sensor(blur_px=0.0, read_noise=0.0, shot_noise=0.0)
TRUNK = Skin(body="trunk")


def beside(scene, name):
    """Places in the photo, (x, y), of the middles of a sticker's patches of this name."""
    middles = np.array(
        [p.place.corners.mean(axis=0) for p in LAYOUTS[scene.stickers[0].layout].patches if p.name == name]
    )
    pose = scene.poses()[0]
    return np.rint(scene.view().project(middles @ pose[:2, :2].T + pose[:2, 2])).astype(int)


def test_the_map_in_the_photo_has_the_fractions_of_the_wound():
    scene = Scene(wound=Wound(tissue=FOUR, blood=0.1, residue=0.1, island_mm=5), camera=SMALL)
    shown = tissue_in_photo(scene)
    inside = shown != OUTSIDE
    counts = np.bincount(shown[inside], minlength=len(CLASSES)) / inside.sum()
    assert dict(zip(CLASSES, counts, strict=True)) == pytest.approx(tissue_fractions(scene), abs=0.003)
    assert inside.sum() == pytest.approx(wound_cover(scene).sum(), rel=0.002)


def test_the_map_names_the_colours_that_the_photo_shows():
    scene = Scene(wound=Wound(tissue=FOUR), camera=SMALL)
    shown, lab = tissue_in_photo(scene), rgb2lab(render(scene).pixels)
    lightness, a, _ = (np.array([np.median(lab[shown == n][:, axis]) for n in range(4)]) for axis in range(3))
    granulation, slough, necrotic, epithelial = range(4)
    assert necrotic == lightness.argmin()
    assert a[granulation] > a[epithelial] > a[slough]
    assert min(lightness[slough], lightness[epithelial]) > lightness[granulation] + 10


def test_a_sticker_over_the_wound_hides_its_tissue():
    scene = Scene(stickers=(Sticker("tile", at_mm=(0.0, -13.0)),), camera=SMALL)
    covered, bare = tissue_in_photo(scene), tissue_in_photo(replace(scene, stickers=()))
    x, y = np.rint(scene.view().project(np.array([[3.0, 0.0]]))).astype(int)[0]
    assert bare[y, x] != OUTSIDE
    assert covered[y, x] == OUTSIDE


def test_without_a_wound_there_is_no_tissue():
    assert (tissue_in_photo(Scene(wound=None, camera=SMALL)) == OUTSIDE).all()


@pytest.mark.parametrize("kind", ["blood", "residue"])
def test_what_lies_on_the_bed_takes_its_fraction_and_leaves_the_rest_in_proportion(kind):
    wound = Wound(tissue=FOUR)
    true = tissue_fractions(Scene(wound=replace(wound, **{kind: 0.3}), camera=SMALL))
    expected = {name: 0.7 * share for name, share in FOUR.items()} | {"unclear": 0.3}
    assert true == pytest.approx(expected, abs=0.003)


def test_blood_and_residue_add_up():
    wound = Wound(tissue={"granulation": 1.0}, blood=0.2, residue=0.25)
    assert tissue_fractions(Scene(wound=wound, camera=SMALL))["unclear"] == pytest.approx(0.45, abs=0.003)


def test_a_wound_may_lie_under_blood_as_a_whole():
    true = tissue_fractions(Scene(wound=Wound(blood=1.0), camera=SMALL))
    assert true["unclear"] == pytest.approx(1.0)


def test_blood_is_darker_and_more_saturated_than_granulation_and_hides_the_granules():
    scene = Scene(wound=Wound(tissue={"granulation": 1.0}, blood=0.4, moisture=0.3), camera=SMALL)
    shown = tissue_in_photo(scene)
    lab = rgb2lab(encoded(reflectance_in_photo(scene)))
    granulation, blood = (lab[shown == CLASSES.index(name)] for name in ("granulation", "unclear"))
    assert np.median(blood[:, 0]) < np.median(granulation[:, 0])
    saturation = [np.median(np.hypot(each[:, 1], each[:, 2]) / each[:, 0]) for each in (granulation, blood)]
    assert saturation[1] > 1.2 * saturation[0]
    steps, alike = np.abs(np.diff(lab[..., 0], axis=1)), shown[:, 1:] == shown[:, :-1]
    rough = [np.median(steps[alike & (shown[:, 1:] == CLASSES.index(name))]) for name in ("granulation", "unclear")]
    assert rough[1] < 0.3 * rough[0]


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_residue_has_no_colour_of_a_tissue(seed):
    scene = Scene(wound=Wound(tissue=FOUR, residue=0.3), camera=SMALL, seed=seed)
    shown = tissue_in_photo(scene)
    lab = rgb2lab(encoded(reflectance_in_photo(scene)))
    middles = np.array([np.median(lab[shown == n], axis=0) for n in range(len(CLASSES))])
    assert np.linalg.norm(middles[:4] - middles[4], axis=1).min() > 15


def test_in_even_light_the_photo_is_the_reflectance():
    scene = Scene(wound=Wound(tissue=FOUR), skin=TRUNK, camera=SMALL, light=EVEN, sensor=SHARP, stickers=())
    truth = reflectance_in_photo(scene)
    assert np.abs(encoded(truth).astype(int) - render(scene).pixels).max() <= 1


def test_the_reflectance_knows_nothing_of_the_light():
    scene = Scene(camera=SMALL, light=EVEN)
    lamp = Light(gains=(1.0, 0.7, 0.4), exposure_ev=-1.0, gradient=0.5, vignetting=0.4, shadow=0.5)
    first, second = (reflectance_in_photo(replace(scene, light=light)) for light in (scene.light, lamp))
    np.testing.assert_array_equal(first, second)


def test_a_window_of_the_reflectance_is_a_part_of_the_whole():
    scene = Scene(camera=SMALL)
    part = reflectance_in_photo(scene, (130, 70, 330, 410))
    np.testing.assert_allclose(part, reflectance_in_photo(scene)[70:410, 130:330], atol=1e-6)


def test_a_patch_reflects_what_was_printed():
    scene = Scene(stickers=(Sticker("strip"),), camera=replace(SMALL, focal_px=1200.0))
    truth, (x, y) = reflectance_in_photo(scene), beside(scene, "moderate red")[0]
    # the reference value, over an ink that still reflects 0.035 of the paper's light
    printed = (0.035 + 0.965 * decoded((197, 80, 95))) * PAPER
    np.testing.assert_allclose(truth[y, x], printed, atol=2e-3)


@pytest.mark.parametrize("ita", [55, 10, -45])
@pytest.mark.parametrize("seed", [1, 2])
def test_skin_that_is_not_reddened_has_no_redness_but_its_mottling(ita, seed):
    scene = Scene(wound=Wound(redness=0, maceration=0), skin=replace(TRUNK, ita_deg=ita), camera=WIDE, seed=seed)
    # 1 is about three times what mottled skin of this size strays; new skin along the edge is in the first band
    assert [band.change for band in redness_round(scene)] == pytest.approx([0, 0, 0], abs=1.0)


@pytest.mark.parametrize("ita", [55, 10, -45])
def test_redness_fades_with_distance_and_grows_with_its_strength(ita):
    strengths = (0.0, 0.5, 1.0)
    scene = Scene(skin=replace(TRUNK, ita_deg=ita), camera=WIDE)
    bands = [redness_round(replace(scene, wound=Wound(redness=strength))) for strength in strengths]
    changes = np.array([[band.change for band in each] for each in bands])
    assert (np.diff(changes, axis=0) > 0).all()
    assert (np.diff(changes[1:], axis=1) < 0).all()
    assert changes[2, 0] > 2


def test_redness_is_that_of_the_skin_whatever_the_light():
    scene = Scene(camera=WIDE, skin=TRUNK)
    lamp = replace(scene, light=Light(gains=(1.0, 0.6, 0.3), exposure_ev=-1, shadow=0.6, from_deg=10))
    assert redness_round(scene) == redness_round(lamp)


def test_where_no_skin_is_far_from_the_wound_redness_is_unknown():
    scene = Scene(camera=replace(SMALL, distance_mm=150.0), stickers=())
    assert all(np.isnan(band.change) for band in redness_round(scene))


def test_redness_round_no_wound_is_refused():
    with pytest.raises(ValueError, match="has no wound"):
        redness_round(Scene(wound=None))
