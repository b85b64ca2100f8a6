"""The scenes that colour and tissue are tried on."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from measure.rendering import TISSUES, render, tissue_fractions, tissue_in_photo
from measure.rendering.truth import stickers_mm
from tests.benchmarks.lit import LAMPS, SHOTS, lit

LAYOUTS = ("corner", "strip", "tile")


@pytest.mark.parametrize("layout", LAYOUTS)
def test_beds_skins_and_poses_span_what_was_asked(layout):
    scenes = [lit(layout, number, 640) for number in range(200)]
    beds = np.array([[scene.wound.tissue[name] for name in TISSUES] for scene in scenes])
    np.testing.assert_allclose(beds.sum(axis=1), 1)
    assert beds.min() >= 0
    assert beds.max() <= 0.7
    assert (beds.max(axis=0) > 0.5).sum() >= 3
    assert (beds[:, TISSUES.index("epithelial")] > 0.35).mean() < 0.05
    for values, low, high in (
        ([scene.skin.ita_deg for scene in scenes], -60, 60),
        ([scene.camera.distance_mm for scene in scenes], 200, 400),
        ([scene.camera.tilt_deg for scene in scenes], 0, 25),
        ([scene.wound.redness for scene in scenes], 0, 1),
        ([scene.wound.moisture for scene in scenes], 0.2, 0.9),
    ):
        assert low <= min(values) < low + 0.05 * (high - low)
        assert high - 0.05 * (high - low) < max(values) <= high


@pytest.mark.parametrize("layout", LAYOUTS)
def test_wound_and_sticker_are_whole_in_the_photo_and_apart(layout):
    for number in range(40):
        scene = lit(layout, number, 640)
        (sticker, _), *_ = stickers_mm(scene)
        assert sticker.distance(scene.wound_mm()) >= 4 - 1e-9
        seen = scene.view().project(shapely.get_coordinates(shapely.MultiPolygon([sticker, scene.wound_mm()])))
        assert (seen >= 0).all()
        assert (seen <= (scene.camera.width - 1, scene.camera.height - 1)).all()


def test_the_same_number_is_the_same_wound_under_every_lamp_and_look():
    scene = lit("corner", 3, 320)
    shown, true = tissue_in_photo(scene), tissue_fractions(scene)
    changed = {name: change(scene) for name, change in (LAMPS | SHOTS).items()}
    for other in changed.values():
        assert (other.wound, other.camera, other.skin, other.seed) == (
            scene.wound,
            scene.camera,
            scene.skin,
            scene.seed,
        )
    mixed = changed["mixture 1"]
    np.testing.assert_array_equal(tissue_in_photo(mixed), shown)
    assert tissue_fractions(mixed) == true
    assert mixed.light != changed["mixture 2"].light
    assert changed["mixture 1"] == LAMPS["mixture 1"](lit("corner", 3, 320))


def test_what_hides_tissue_changes_no_other_thing():
    bare, hidden = lit("strip", 5, 320), lit("strip", 5, 320, blood=0.2, residue=0.1)
    assert replace(hidden, wound=replace(hidden.wound, blood=0.0, residue=0.0)) == bare


def test_lamps_colour_and_darken_the_photo():
    scene = replace(lit("corner", 1, 160), stickers=())
    plain, warm, cold, dark = (
        render(LAMPS[name](scene)).pixels.reshape(-1, 3).mean(axis=0)
        for name in ("6500 K", "2700 K", "7500 K", "-1.5 EV")
    )
    assert warm[2] < 0.8 * plain[2]
    assert cold[0] < plain[0]
    assert (dark < 0.8 * plain).all()
