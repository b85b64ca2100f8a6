"""Bent, creased, stretched and several stickers on the whole path, from the photo to what is said of it."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon

from calibration.detect import find_stickers
from calibration.sticker import LAYOUTS
from measure.outline import Outline
from measure.photo import Photo
from measure.pipeline import complete, prepare
from measure.rendering import Camera, Limb, Scene, Sticker, Wound, render
from measure.rendering.sticker import outline_on_plane

CAMERA = Camera(width=2016, height=1512, distance_mm=280, tilt_deg=12, tilt_towards_deg=50)
SMALL = replace(CAMERA, width=1344, height=1008)
"""Corners and tiles tell the same to the same tolerance from 1.4 megapixels, rendered in less than half the time; a
strip needs 3 to tell a weak bend along it."""
WOUND = Wound(length_mm=30, width_mm=20)


def _measured(scene, warp=None):
    rendering = render(scene)
    pixels = rendering.pixels if warp is None else warp(rendering.pixels)
    photo = Photo("rendered", pixels, "0" * 64, None, scene.camera.focal)
    measurement = complete(prepare(photo, propose=False), [Outline(rendering.outline_px, rendering.holes_px)])
    return rendering, measurement


def _codes(measurement):
    return {flag.code for flag in measurement.flags}


def _failed(measurement):
    return {check.name: check for check in measurement.checks if not check.ok}


@pytest.mark.parametrize("axis", [0.0, 40.0, 90.0])
@pytest.mark.parametrize("radius", [40.0, 60.0, 120.0])
@pytest.mark.parametrize("layout", ["corner", "strip", "tile"])
def test_area_and_perimeter_are_taken_along_the_limb(layout, radius, axis):
    """Truth by construction: the renderer bends skin and sticker round a cylinder without stretching them."""
    wound = Wound(length_mm=15, width_mm=11) if layout == "tile" else WOUND
    camera = CAMERA if layout == "strip" else SMALL
    scene = Scene(stickers=(Sticker(layout=layout),), wound=wound, camera=camera, limb=Limb(radius, axis), seed=3)
    rendering, measurement = _measured(scene)
    (found,) = measurement.wounds
    assert found.area.value == pytest.approx(rendering.area_mm2, rel=0.01)
    assert found.perimeter.value == pytest.approx(rendering.wound_mm.length, rel=0.01)
    assert abs(found.area.value - rendering.area_mm2) < found.area.expanded_uncertainty
    assert "limb-corrected" in _codes(measurement)


def test_a_flat_plane_would_be_wrong_on_a_limb():
    """What the correction is worth: the same outline through the homography of the sticker's points."""
    scene = Scene(camera=SMALL, wound=WOUND, limb=Limb(80.0, 45.0), seed=3)
    rendering = render(scene)
    (sticker,) = find_stickers(rendering.pixels)
    homography = cv2.findHomography(sticker.points_px, sticker.points_mm, 0)[0]
    flat = cv2.perspectiveTransform(rendering.outline_px[:, None].astype(np.float64), homography)
    area = cv2.contourArea(flat.astype(np.float32))
    assert abs(area / rendering.area_mm2 - 1) > 0.03


def test_a_bent_sticker_is_followed_round_the_limb():
    scene = Scene(camera=SMALL, wound=WOUND, limb=Limb(80.0, 20.0), seed=3)
    (sticker,) = find_stickers(render(scene).pixels)
    assert sticker.share_seen > 0.9


def test_a_creased_sticker_is_flagged_and_its_numbers_are_less_certain():
    """Waves of 6 px through the photo: no plane and no cylinder fits them."""

    def creased(pixels):
        y, x = np.mgrid[: pixels.shape[0], : pixels.shape[1]].astype(np.float32)
        return cv2.remap(pixels, x, y + 6 * np.sin(x / 120), cv2.INTER_LINEAR)

    scene = Scene(camera=CAMERA, wound=WOUND, seed=3)
    _, smooth = _measured(scene)
    _, rough = _measured(scene, creased)
    assert "sticker-flat" not in _failed(smooth)
    assert "Press it down" in _failed(rough)["sticker-flat"].sentence
    share = "point localisation"
    assert rough.wounds[0].area.components[share] > 10 * smooth.wounds[0].area.components[share]


def test_a_strip_that_cannot_see_the_curve_says_so():
    """Along a weak bend a strip sees nothing of it when the photo is taken from afar."""
    far = replace(CAMERA, width=1200, height=900, distance_mm=380, tilt_deg=0)
    scene = Scene(stickers=(Sticker(layout="strip", gap_mm=20),), wound=WOUND, camera=far, seed=3)
    _, measurement = _measured(scene)
    (wound,) = measurement.wounds
    assert wound.area.components["curvature"] > 0.03
    assert "curve-unseen" in _codes(measurement)


def test_two_stickers_are_fitted_together():
    stickers = (Sticker(layout="tile"), Sticker(layout="tile", at_mm=(-8.0, 14.0), turn_deg=20.0))
    scene = Scene(stickers=stickers, wound=Wound(length_mm=15, width_mm=11), camera=SMALL, seed=3)
    rendering, both = _measured(scene)
    _, alone = _measured(replace(scene, stickers=stickers[:1]))
    (wound,) = both.wounds
    assert wound.area.value == pytest.approx(rendering.area_mm2, rel=2e-3)
    per_sigma = [
        measured.wounds[0].area.components["point localisation"] / measured.prepared.calibration.plane.sigma_px
        for measured in (both, alone)
    ]
    assert per_sigma[0] < 0.6 * per_sigma[1]
    (sentence,) = [flag.sentence for flag in both.flags if flag.code == "several-stickers"]
    assert sentence.endswith("Together they set the scale.")
    found = sorted(Polygon(outline).area for outline in both.prepared.calibration.sticker_outlines_px)
    true = [scene.view().project(outline_on_plane(LAYOUTS["tile"], pose)) for pose in rendering.poses]
    assert found == pytest.approx(sorted(Polygon(outline).area for outline in true), rel=0.01)


@pytest.mark.parametrize("second", [{"print_scale": 1.03}, {"lift_mm": 12.0}], ids=["larger print", "higher up"])
def test_a_second_sticker_that_disagrees_fails_the_check_of_the_print(second):
    stickers = (Sticker(), Sticker(layout="tile", at_mm=(22.0, 18.0), **second))
    _, measurement = _measured(Scene(stickers=stickers, wound=WOUND, camera=SMALL, seed=3))
    check = _failed(measurement)["print-scale"]
    assert check.value == pytest.approx(0.03 if "print_scale" in second else 12 / 268, abs=0.008)
    assert check.sentence.startswith("Two stickers differ in size by")
    (sentence,) = [flag.sentence for flag in measurement.flags if flag.code == "several-stickers"]
    assert sentence.endswith(
        "1 of them, 'corner' first, set the scale; the rest lie on another level or differ in size."
    )


def test_a_print_stretched_in_one_direction_fails_its_check():
    scene = Scene(stickers=(Sticker(print_stretch=1.02),), wound=WOUND, camera=CAMERA, seed=3)
    _, measurement = _measured(scene)
    failed = _failed(measurement)
    assert set(failed) == {"print-scale"}
    assert failed["print-scale"].value == pytest.approx(0.02, abs=0.002)


def test_skin_that_turns_away_fails_its_check():
    sticker = Sticker(layout="strip", gap_mm=14.0)
    scene = Scene(stickers=(sticker,), wound=WOUND, camera=CAMERA, limb=Limb(45.0, 0.0), seed=3)
    _, measurement = _measured(scene)
    assert "along the limb rather than round it" in _failed(measurement)["sticker-plane"].sentence
