"""Redness round a wound: near the truth of rendered scenes, and a sentence where it can't be told."""

import json
import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from skimage.color import rgb2lab

from calibration.colour import linear_light
from calibration.correction import fit_colour
from calibration.detect import find_stickers
from calibration.fit import fit_plane
from calibration.plane import Plane
from calibration.projection import Bend, Projection
from calibration.sticker import LAYOUTS
from measure.control import FAR_MM, RADIUS_MM, ControlError
from measure.outline import Outline, OutlineError
from measure.redness import (
    BANDS_MM,
    CAUSES,
    DARKER_SKIN,
    LEAST_SEEN,
    NO_CONTROL,
    NoRedness,
    measure_redness,
    redness_document,
    redness_lines,
)
from measure.rendering import Camera, Cover, Light, Scene, Sensor, Skin, Sticker, Wound, cast, render
from measure.rendering.sticker import outline_on_plane
from measure.scale import Calibration

CAMERA = Camera(width=880, height=660, distance_mm=300)
WOUND = Wound(length_mm=34, width_mm=24, redness=0.6)
SCENE = Scene(wound=WOUND, skin=Skin(ita_deg=40), camera=CAMERA, seed=31)
CLEAN = Sensor(blur_px=0.5, read_noise=0.0, shot_noise=0.0)
EVEN = Light(gradient=0.0, vignetting=0.0)


class KnownLight:
    """A colour correction that divides by the light of the scene."""

    lab_sigma = np.array([1.0, 0.8, 0.8])

    def __init__(self, scene):
        self.scene, self.view = scene, scene.view()

    def reflectance(self, picture, origin, step):
        """Divide each pixel's light by what fell on it."""
        columns, rows = (
            (np.arange(picture.shape[axis]) + 0.5) * step[1 - axis] - 0.5 + origin[1 - axis] for axis in (1, 0)
        )
        fall = self.scene.light.fall(self.view, columns, rows)
        return linear_light()[picture] / (fall[..., np.newaxis] * self.scene.light.strength)

    def light_sigma(self, places_px):
        """Take the light for known to 2 %."""
        return np.full(len(places_px), 0.02)


def calibration_of(scene):
    """Give the scale of a scene as it truly is."""
    view, camera = scene.view(), scene.camera
    centre = (camera.width - 1) / 2, (camera.height - 1) / 2
    plane = Plane(Projection(view.homography(), camera.focal, centre), {}, "pose", 0.1, camera.tilt_deg, 0.1)
    outlines = [
        view.project(outline_on_plane(LAYOUTS[sticker.layout], pose))
        for sticker, pose in zip(scene.stickers, scene.poses(), strict=True)
    ]
    return TrueScale("sticker", plane, (), {}, outlines)


class TrueScale(Calibration):
    """A scale whose sticker lies where the scene has it."""

    def __init__(self, source, plane, stickers, scale_components, outlines):
        super().__init__(source, plane, stickers, scale_components)
        object.__setattr__(self, "outlines", outlines)

    @property
    def sticker_outlines_px(self):
        """Outlines in the photo."""
        return self.outlines


_KEPT = {}


def rendered(scene):
    """Render a scene once; scenes hold mappings, so their words stand for them."""
    if repr(scene) not in _KEPT:
        _KEPT[repr(scene)] = render(scene)
    return _KEPT[repr(scene)]


def measured(scene, control_px=None, pixels=None, others=()):
    photo = rendered(scene)
    outlines = [Outline(photo.outline_px, photo.holes_px), *others]
    pixels = photo.pixels if pixels is None else pixels
    return measure_redness(pixels, KnownLight(scene), calibration_of(scene), outlines, 0, control_px)


def true_colours(scene):
    """Give Lab (N, 3) of the bare skin of a scene in even white light, and its places on the plane (N, 2)."""
    view = scene.view()
    bare = replace(scene, stickers=(), light=EVEN, sensor=CLEAN, camera=replace(scene.camera, aim_mm=view.aim_mm))
    photo = rendered(bare).pixels[::4, ::4]
    rows, columns = np.indices(photo.shape[:2]) * 4.0
    x, y = view.millimetres(columns[0], rows[:, 0])
    return rgb2lab(photo).reshape(-1, 3), np.column_stack([x.ravel(), y.ravel()])


def from_wound_mm(scene):
    """Give the distance of each pixel from the wound's edge, from every other pixel of every other row."""
    width, height = scene.camera.width, scene.camera.height
    x, y = scene.view().millimetres(np.arange(0.5, width, 2), np.arange(0.5, height, 2))
    away = shapely.distance(scene.wound_mm().simplify(0.05), shapely.points(x.ravel(), y.ravel())).reshape(x.shape)
    return np.repeat(np.repeat(away, 2, axis=0), 2, axis=1)[:height, :width]


def truth(scene, control_px):
    """Give the true differences of a* beside the sticker, by band, and the true Lab of the control patch."""
    colours, places = true_colours(scene)
    control = calibration_of(scene).plane.to_mm(np.array([control_px]))[0]
    patch = np.median(colours[np.hypot(*(places - control).T) < RADIUS_MM], axis=0)
    away = shapely.distance(scene.wound_mm().simplify(0.05), shapely.points(places))
    layout = shapely.Polygon(outline_on_plane(LAYOUTS[scene.stickers[0].layout], scene.poses()[0]))
    bare = shapely.distance(layout, shapely.points(places)) > 2
    bands = [bare & (away > max(low, 0.5)) & (away <= high) for low, high in BANDS_MM]
    return np.array([np.median(colours[band, 1]) - patch[1] for band in bands]), patch


def differences(redness):
    return np.array([band.delta_a for band in redness.bands])


# Near the truth


@pytest.mark.parametrize("ita", [-50, -10, 20, 40, 58])
def test_redness_is_near_the_truth_on_every_tone(ita):
    scene = replace(SCENE, skin=Skin(ita_deg=ita), seed=40)
    redness = measured(scene)
    true, patch = truth(scene, redness.control_px)
    assert differences(redness) == pytest.approx(true, abs=0.6)
    assert redness.control_lab == pytest.approx(patch, abs=0.6)


@pytest.mark.parametrize("body", ["shin", "heel", "sacrum", "trunk"])
def test_redness_is_near_the_truth_on_every_part_of_the_body(body):
    scene = replace(SCENE, skin=Skin(ita_deg=45, body=body), seed=41)
    redness = measured(scene)
    seen = np.array([band.seen for band in redness.bands])
    true, _ = truth(scene, redness.control_px)
    assert (seen > 0.4).all()
    assert differences(redness)[:2] == pytest.approx(true[:2], abs=0.8)


def test_unreddened_skin_has_none_within_its_uncertainty():
    """Of 24 bands on 8 skins at most 2 may lie outside k = 2, where 1 is expected."""
    values, sigmas = [], []
    for seed in range(8):
        plain = Wound(length_mm=30, width_mm=22, redness=0.0, maceration=0.0)
        scene = Scene(wound=plain, skin=Skin(ita_deg=55 - 14 * seed), camera=CAMERA, seed=50 + seed)
        redness = measured(scene)
        values += [band.delta_a for band in redness.bands]
        sigmas += [band.standard_uncertainty for band in redness.bands]
    assert np.count_nonzero(np.abs(values) > 2 * np.array(sigmas)) <= 2
    assert max(sigmas) < 2.5


@pytest.mark.parametrize("ita", [55, 20, -45])
def test_redder_skin_gives_more_and_it_fades_outwards(ita):
    found = []
    for strength in (0.0, 0.3, 0.6, 1.0):
        scene = replace(SCENE, skin=Skin(ita_deg=ita), wound=replace(WOUND, redness=strength), seed=60)
        found.append(differences(measured(scene, control_px=far_place(scene))))
    rises = np.diff(found, axis=0)
    assert (rises[:, :2] > 0).all()
    assert found[-1][0] > found[-1][1] > found[-1][2]


def far_place(scene):
    """Give a place of the photo 50 mm to the right of the wound's edge."""
    right = scene.wound_mm().bounds[2]
    return scene.view().project(np.array([[right + 50.0, 5.0]]))[0]


@pytest.mark.parametrize("kelvin", [2700, 4000, 5500, 7500])
def test_the_colour_of_the_light_does_not_matter_once_it_is_known(kelvin):
    place = far_place(SCENE)
    white = measured(replace(SCENE, light=EVEN), place)
    redness = measured(replace(SCENE, light=Light(gains=cast(kelvin), gradient=0.3)), place)
    assert differences(redness) == pytest.approx(differences(white), abs=0.5)
    assert redness.ita_deg == pytest.approx(white.ita_deg, abs=2)


def test_the_sticker_alone_tells_scale_and_colour():
    """As a photo is measured: plane and correction from the sticker, in warm light that falls unevenly."""
    light = Light(gains=cast(2700), gradient=0.25)
    scene = replace(SCENE, light=light, camera=Camera(width=1600, height=1200, distance_mm=280))
    pixels = rendered(scene).pixels
    stickers = find_stickers(pixels)
    plane = fit_plane(stickers, 1600, 1200, None)
    scale = Calibration("sticker", plane, stickers, {})
    outlines = [Outline(rendered(scene).outline_px)]
    redness = measure_redness(pixels, fit_colour(pixels, stickers, plane), scale, outlines)
    true, patch = truth(scene, redness.control_px)
    assert differences(redness) == pytest.approx(true, abs=0.7)
    assert abs(redness.ita_deg - math.degrees(math.atan((patch[0] - 50) / patch[2]))) < 2 * redness.ita_sigma


@pytest.mark.parametrize("tilt", [0, 15, 30])
def test_the_tilt_of_the_camera_does_not_matter(tilt):
    scene = replace(SCENE, camera=replace(CAMERA, tilt_deg=tilt, tilt_towards_deg=30, aim_mm=(0.0, 0.0)))
    redness = measured(scene, far_place(scene))
    true, _ = truth(scene, far_place(scene))
    assert differences(redness) == pytest.approx(true, abs=0.6)


# The tone of the skin


@pytest.mark.parametrize("ita", [-60, -45, -30, -10, 10, 25, 41, 50, 60])
def test_the_typology_angle_is_that_of_the_skin(ita):
    """The control patch is one of skin whose pigment differs from place to place: by some 4 degrees."""
    scene = replace(SCENE, skin=Skin(ita_deg=ita, veins=0.0), seed=70)
    redness = measured(scene)
    _, patch = truth(scene, redness.control_px)
    assert redness.ita_deg == pytest.approx(math.degrees(math.atan((patch[0] - 50) / patch[2])), abs=2.5)
    assert redness.ita_deg == pytest.approx(ita, abs=9)
    assert 0.5 < redness.ita_sigma < 8


@pytest.mark.parametrize(("ita", "cautious"), [(58, False), (40, False), (18, True), (-45, True)])
def test_on_darker_skin_redness_is_called_a_poor_sign(ita, cautious):
    redness = measured(replace(SCENE, skin=Skin(ita_deg=ita)))
    assert (DARKER_SKIN in redness.sentences) == cautious
    assert redness.sentences[-1] == CAUSES
    assert "infect" not in " ".join(redness.sentences)


# The control patch


@pytest.mark.parametrize("body", ["shin", "heel", "forefoot", "sacrum"])
def test_the_proposed_patch_lies_on_clear_skin_far_from_the_wound(body):
    scene = replace(SCENE, skin=Skin(ita_deg=30, body=body, hair=0.2))
    redness = measured(scene)
    place = calibration_of(scene).plane.to_mm(np.array([redness.control_px]))[0]
    patch = shapely.Point(place).buffer(redness.control_radius_mm)
    pose = scene.poses()[0]
    assert patch.distance(scene.wound_mm()) > FAR_MM - RADIUS_MM
    assert patch.disjoint(shapely.Polygon(outline_on_plane(LAYOUTS["corner"], pose)))
    assert not redness.chosen
    assert redness.control_away_mm == pytest.approx(shapely.Point(place).distance(scene.wound_mm()), abs=1)
    colours, places = true_colours(scene)
    inside = colours[np.hypot(*(places - place).T) < RADIUS_MM]
    assert inside[:, 0].std() < 5


def test_a_mole_and_the_border_of_a_shadow_are_no_place_for_it():
    whole = measured(SCENE)
    x, y = whole.control_px
    spoilt = rendered(SCENE).pixels.copy()
    cv2.circle(spoilt, (round(x), round(y)), 9, (80, 50, 40), -1)
    again = measured(SCENE, pixels=spoilt)
    px_per_mm = SCENE.view().px_per_mm(np.zeros(2))
    assert np.hypot(again.control_px[0] - x, again.control_px[1] - y) > 9 + 0.8 * RADIUS_MM * px_per_mm


def test_where_only_near_skin_is_left_it_is_taken_and_that_is_said():
    pixels = rendered(SCENE).pixels.copy()
    pixels[from_wound_mm(SCENE) > 20] = (70, 120, 190)
    redness = measured(SCENE, pixels=pixels)
    assert 7 < redness.control_away_mm < 20
    assert any("may be reddened itself" in sentence for sentence in redness.sentences)


def test_brown_wood_and_another_limb_are_no_place_for_it():
    """Both lie farther off than the skin round the wound; cloth lies between."""
    pixels, away = rendered(SCENE).pixels.copy(), from_wound_mm(SCENE)
    pixels[away > 32] = (70, 120, 190)
    for colour, columns in (((74, 66, 48), slice(0, 140)), ((206, 150, 126), slice(740, 880))):
        pixels[:, columns] = colour
    assert measured(SCENE, pixels=pixels).control_away_mm < 32


def test_without_skin_there_is_no_number_but_a_sentence():
    pixels = np.full_like(rendered(SCENE).pixels, (70, 120, 190))
    assert measured(SCENE, pixels=pixels) == NoRedness(NO_CONTROL)


def test_a_chosen_patch_is_taken_as_it_is():
    place = far_place(SCENE)
    redness = measured(SCENE, place)
    assert redness.chosen
    assert redness.control_px == pytest.approx(tuple(place), abs=3)


def test_a_patch_may_be_chosen_near_the_wound_and_that_is_said():
    right = SCENE.wound_mm().bounds[2]
    place = SCENE.view().project(np.array([[right + 12.0, 0.0]]))[0]
    assert any("may be reddened itself" in sentence for sentence in measured(SCENE, place).sentences)


@pytest.mark.parametrize(
    ("place_mm", "why"),
    [
        ((0, 0), "into a wound"),
        ("sticker", "onto the sticker"),
        ((-20, -105), "too little skin"),
        ((2000, 0), "too far"),
    ],
)
def test_a_patch_off_the_skin_is_refused(place_mm, why):
    pose = SCENE.poses()[0]
    corner = outline_on_plane(LAYOUTS["corner"], pose)[0]
    at_mm = corner if place_mm == "sticker" else np.array(place_mm, dtype=float)
    with pytest.raises(ControlError, match=why):
        measured(SCENE, SCENE.view().project(at_mm[np.newaxis])[0])


# What is seen


def test_a_sticker_and_the_frame_take_their_share_of_a_band():
    beside = measured(SCENE)
    bare = measured(replace(SCENE, stickers=(Sticker("tile", gap_mm=45),), camera=replace(CAMERA, aim_mm=(0.0, 0.0))))
    assert beside.bands[2].seen < 0.7 < bare.bands[2].seen


def test_a_band_that_is_hardly_seen_has_no_number():
    pixels, away = rendered(SCENE).pixels.copy(), from_wound_mm(SCENE)
    pixels[(away > 4) & (away <= 10.5)] = (240, 240, 236)
    redness = measured(SCENE, pixels=pixels)
    hidden = redness.bands[1]
    assert hidden.seen < LEAST_SEEN
    assert math.isnan(hidden.delta_a)
    assert math.isnan(hidden.standard_uncertainty)
    assert not math.isnan(redness.bands[2].delta_a)
    assert any("5 to 10 mm" in sentence and "can be seen" in sentence for sentence in redness.sentences)
    assert redness_document(redness)["bands"][1]["delta_a"] is None
    json.dumps(redness_document(redness), allow_nan=False)


def test_another_wound_is_no_skin():
    """Its bed is a painted disc of blood's colour; where it isn't known as a wound it would be reddened skin."""
    alone = measured(SCENE, far_place(SCENE))
    right = SCENE.wound_mm().bounds[2]
    ring = np.asarray(shapely.Point(right + 10, 0).buffer(6).exterior.coords)[:-1]
    other = Outline(SCENE.view().project(ring))
    both = measured(SCENE, far_place(SCENE), others=(other,))
    assert both.bands[1].seen < alone.bands[1].seen - 0.03
    assert both.control_away_mm < alone.control_away_mm


def test_a_glove_over_the_sticker_is_no_skin():
    scene = replace(SCENE, cover=Cover("glove", 0.2))
    redness = measured(scene, far_place(scene))
    true, _ = truth(SCENE, far_place(SCENE))
    assert differences(redness) == pytest.approx(true, abs=1.0)


def test_an_outline_that_cannot_be_laid_flat_is_refused():
    scale = calibration_of(SCENE)
    projection = replace(scale.plane.projection, bend=Bend(1 / 5, 0.0, (0.0, 0.0)))
    beyond = TrueScale("sticker", replace(scale.plane, projection=projection), (), {}, [])
    outline = Outline(rendered(SCENE).outline_px)
    with pytest.raises(OutlineError, match="millimetres"):
        measure_redness(rendered(SCENE).pixels, KnownLight(SCENE), beyond, [outline])


# The uncertainty


def test_a_correction_that_is_less_sure_counts_only_as_far_as_colours_differ():
    """A doubled sigma doubles that component, and it stays well under sigma itself for like colours."""
    photo = rendered(SCENE)
    correction = KnownLight(SCENE)
    correction.lab_sigma = 2 * KnownLight.lab_sigma
    outlines = [Outline(photo.outline_px)]
    sure = measured(SCENE).bands
    unsure = measure_redness(photo.pixels, correction, calibration_of(SCENE), outlines).bands
    for band, other in zip(sure, unsure, strict=True):
        assert other.components["colour correction"] == pytest.approx(2 * band.components["colour correction"])
        assert band.components["mottling"] == other.components["mottling"]
    assert sure[2].components["colour correction"] < 0.5 * KnownLight.lab_sigma[1]


def test_the_light_counts_by_a_third():
    """a* goes with the cube root of light: 2 % at the band and at the control of about equal a*."""
    band = measured(SCENE).bands[2]
    a = measured(SCENE).control_lab[1]
    assert band.components["light"] == pytest.approx(math.sqrt(2) * 0.02 / 3 * a, rel=0.15)


# What is said


def test_the_document_carries_everything():
    redness = measured(SCENE)
    document = redness_document(redness)
    assert document["control"]["place_px"] == pytest.approx(list(redness.control_px), rel=1e-5)
    assert document["control"]["skin"] == redness.skin_class
    assert [band["to_mm"] for band in document["bands"]] == [5, 10, 20]
    for part, band in zip(document["bands"], redness.bands, strict=True):
        squares = sum(share**2 for share in part["components"].values())
        assert part["standard_uncertainty"] == pytest.approx(math.sqrt(squares), rel=1e-4)
        assert part["seen"] == pytest.approx(band.seen, rel=1e-5)
    assert document["sentences"][-1] == CAUSES


def test_without_a_control_the_document_says_why():
    assert redness_document(NoRedness(NO_CONTROL)) == {"control": None, "bands": [], "sentences": [NO_CONTROL]}
    assert redness_lines(NoRedness(NO_CONTROL)) == [NO_CONTROL]


def test_the_lines_give_each_band_with_its_uncertainty():
    redness = measured(SCENE)
    lines = redness_lines(redness)
    for band, line in zip(redness.bands, lines, strict=False):
        assert f"{band.delta_a:+.1f} +- {2 * band.standard_uncertainty:.1f}" in line
    assert redness.skin_class in lines[3]
    assert lines[-1] == CAUSES


def test_the_photo_is_left_alone():
    pixels = rendered(SCENE).pixels.copy()
    pixels.flags.writeable = False
    measured(SCENE, pixels=pixels)
    np.testing.assert_array_equal(pixels, rendered(SCENE).pixels)
