"""The renderer is the ruler of the other tests: here it is measured itself."""

import csv
import json
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import shapely
from PIL import Image
from scipy.optimize import least_squares
from scipy.special import erf
from shapely.geometry import Polygon
from skimage.color import rgb2lab

from calibration.sticker import LAYOUTS
from measure.rendering import (
    TISSUES,
    Camera,
    Cover,
    ExifFacts,
    Light,
    Limb,
    Scene,
    Sensor,
    Skin,
    Sticker,
    Wound,
    cast,
    jpeg,
    outline_in_photo,
    polygon_in_photo,
    render,
    tissue_fractions,
    wound_cover,
)
from measure.rendering.rendering import _Stage, _strips
from measure.rendering.samples import FOLDER, SAMPLES, outline_of, truth_of
from measure.rendering.sensor import decoded, encoded
from measure.rendering.skin import tone
from measure.rendering.sticker import outline_on_plane, printed

SMALL = Camera(width=900, height=680, focal_px=3028.0)
QUIET = Sensor(blur_px=0.9, read_noise=0.0, shot_noise=0.0)


def on_plane(pixels, homography):
    seen = np.column_stack([pixels, np.ones(len(pixels))]) @ np.linalg.inv(homography).T
    return seen[:, :2] / seen[:, 2:]


def sharp_light(scene):
    """Linear light of the whole photo before noise and rounding."""
    stage = _Stage(scene)
    strips = _strips(scene.camera.height, scene.sensor.reach)
    return np.vstack([scene.sensor.blurred(stage.light_of(strip))[strip.inner] for strip in strips])


def fitted_crossing(light, start, edges):
    """Place of a checker corner: two blurred steps whose directions are known, fitted to 11 x 11 pixels."""
    column, row = np.rint(start).astype(int)
    rows, columns = np.mgrid[row - 5 : row + 6, column - 5 : column + 6]
    window = light[row - 5 : row + 6, column - 5 : column + 6]

    def misfit(guess):
        x, y, middle, height, width = guess
        steps = [erf(((columns - x) * edge[1] - (rows - y) * edge[0]) / width) for edge in edges]
        return (middle + height * steps[0] * steps[1] - window).ravel()

    return least_squares(misfit, [*start, 0.4, 0.4, 1.3]).x[:2]


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
@pytest.mark.parametrize(
    ("camera", "turn"),
    [
        (replace(SMALL, tilt_deg=0), 0),
        (replace(SMALL, tilt_deg=33, tilt_towards_deg=200, roll_deg=71), 8),
        (replace(SMALL, tilt_deg=20, k1=0.08), 8),
    ],
    ids=["straight", "tilted", "distorted"],
)
def test_printed_crossings_land_where_the_homography_says(layout, camera, turn):
    scene = Scene(stickers=(Sticker(layout, turn_deg=turn),), camera=camera, sensor=QUIET, light=Light(gradient=0))
    light = sharp_light(scene)[..., 1]
    pose, view = scene.poses()[0], scene.view()
    saddles = LAYOUTS[layout].saddles[::3]
    errors = []
    for saddle in saddles:
        cross = (saddle + np.array([(0, 0), (0.3, 0), (0, 0.3)])) @ pose[:2, :2].T + pose[:2, 2]
        centre, right, down = view.project(cross)
        if (centre > 8).all() and (centre < np.array([camera.width, camera.height]) - 8).all():
            edges = [side / np.hypot(*side) for side in (right - centre, down - centre)]
            errors.append(fitted_crossing(light, centre, edges) - centre)
    assert len(errors) >= 7
    assert np.abs(np.mean(errors, axis=0)).max() < 0.005
    assert np.sqrt(np.mean(np.square(errors))) < 0.01
    assert np.abs(errors).max() < 0.02


@pytest.mark.parametrize(
    "wound", [Wound(), Wound("lobed", island_mm=7), Wound("ellipse", 18, 12)], ids=["blob", "island", "ellipse"]
)
@pytest.mark.parametrize(
    "camera", [SMALL, replace(SMALL, tilt_deg=35, roll_deg=130), replace(SMALL, k1=0.06)], ids=["usual", "tilted", "k1"]
)
def test_the_wound_fills_as_many_pixels_as_its_outline_encloses(wound, camera):
    scene = Scene(wound=wound, camera=camera)
    outline, holes = outline_in_photo(scene)
    assert wound_cover(scene).sum(dtype=float) == pytest.approx(Polygon(outline, holes).area, rel=5e-4)


def test_the_outline_goes_back_to_the_plane():
    scene = Scene(wound=Wound("lobed", island_mm=6), camera=replace(SMALL, tilt_deg=30, roll_deg=50))
    outline, holes = outline_in_photo(scene)
    plane = scene.view().homography()
    back = Polygon(on_plane(outline, plane), [on_plane(hole, plane) for hole in holes])
    assert back.area == pytest.approx(scene.wound_mm().area, rel=1e-9)
    assert len(holes) == 1


@pytest.mark.parametrize("shape", ["blob", "lobed", "ellipse"])
def test_a_wound_is_as_long_and_wide_as_asked(shape):
    left, top, right, bottom = Scene(wound=Wound(shape, 37, 21)).wound_mm().bounds
    assert (right - left, bottom - top) == pytest.approx((37, 21))


def test_an_ellipse_has_the_area_of_an_ellipse():
    area = Scene(wound=Wound("ellipse", 30, 20)).wound_mm().area
    assert area == pytest.approx(np.pi * 15 * 10, rel=5e-5)


def test_an_island_that_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="make it smaller"):
        Scene(wound=Wound(length_mm=20, width_mm=12, island_mm=14)).wound_mm()


@pytest.mark.parametrize("k1", [0.0, -0.06, 0.1])
def test_pixels_and_millimetres_are_each_others_inverse(k1):
    view = Scene(camera=replace(SMALL, tilt_deg=25, roll_deg=-40, k1=k1)).view()
    columns, rows = np.array([0.0, 300.0, 899.0]), np.array([0.0, 500.0, 679.0])
    x, y = view.millimetres(columns, rows)
    back = view.project(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    expected = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    np.testing.assert_allclose(back, expected, atol=2e-3)


def test_the_camera_stands_as_far_and_as_tilted_as_it_says():
    view = Scene(camera=replace(SMALL, distance_mm=240, tilt_deg=28, roll_deg=15, aim_mm=(3, -4))).view()
    np.testing.assert_allclose(view.project(np.array([[3.0, -4.0]])), [[449.5, 339.5]])
    assert np.linalg.norm(view.standpoint - np.array([3, -4, 0])) == pytest.approx(240)
    assert np.degrees(np.arccos(view.rotation[2, 2])) == pytest.approx(28)


def test_without_tilt_the_scale_is_focal_length_by_distance():
    view = Scene(camera=replace(SMALL, distance_mm=250, tilt_deg=0)).view()
    assert view.px_per_mm(np.array(view.aim_mm)) == pytest.approx(3028 / 250)


def test_a_lifted_sticker_is_seen_as_if_the_camera_were_nearer():
    view = Scene(camera=replace(SMALL, distance_mm=300, tilt_deg=0, aim_mm=(0, 0))).view()
    low, high = (view.project(np.array([[40.0, 0.0]]), lift) - (449.5, 339.5) for lift in (0.0, 10.0))
    assert high[0, 0] / low[0, 0] == pytest.approx(300 / 290)


def test_a_sticker_of_wrong_size_is_posed_so():
    pose = Scene(stickers=(Sticker(turn_deg=30, print_scale=1.02),)).poses()[0]
    assert np.sqrt(np.linalg.det(pose[:2, :2])) == pytest.approx(1.02)


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
@pytest.mark.parametrize("turn", [0, 35, 160])
def test_a_sticker_keeps_its_gap_to_the_wound(layout, turn):
    scene = Scene(stickers=(Sticker(layout, turn_deg=turn, gap_mm=5),))
    sticker = Polygon(outline_on_plane(LAYOUTS[layout], scene.poses()[0]))
    assert sticker.distance(scene.wound_mm()) >= 5 - 1e-9


TURNED = replace(SMALL, tilt_deg=25, tilt_towards_deg=130, roll_deg=-40, k1=-0.02)


@pytest.mark.parametrize("lift", [0.0, 4.0])
@pytest.mark.parametrize("axis", [0, 50])
def test_a_limb_as_wide_as_a_mountain_is_the_plane(axis, lift):
    flat = Scene(camera=TURNED).view()
    curved = replace(flat, limb=Limb(1e6, axis, through_mm=(8, -3)))
    points = np.random.default_rng(1).uniform(-40, 40, (50, 2))
    assert np.abs(curved.project(points, lift) - flat.project(points, lift)).max() < 0.01


@pytest.mark.parametrize("limb", [Limb(40), Limb(60, 70, through_mm=(5, 9)), Limb(120, -30)])
@pytest.mark.parametrize("lift", [0.0, 3.0])
def test_on_a_limb_pixels_and_millimetres_are_each_others_inverse(limb, lift):
    view = Scene(camera=TURNED, limb=limb).view()
    columns, rows = np.linspace(0, 899, 7), np.linspace(0, 679, 5)
    x, y = view.millimetres(columns, rows, lift)
    seen = (limb.depth(x, y) > 0).ravel()
    back = view.project(np.column_stack([x.ravel(), y.ravel()]).astype(float), lift)
    expected = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    assert seen.mean() > 0.6
    np.testing.assert_allclose(back[seen], expected[seen], atol=2e-3)


def test_from_straight_above_a_limb_shows_its_sines():
    # A point at arc s of a cylinder of radius r = R + h, seen from D above the skin's top: f r sin(s/r) / (D + R - r
    # cos(s/r)); 50 mm, 3 mm, 250 mm and an arc of 21.2 mm give 3028 x 53 sin 0.4 / (300 - 53 cos 0.4) px.
    camera = replace(SMALL, distance_mm=250, tilt_deg=0, aim_mm=(0, 0))
    points = np.array([[7.0, 21.2]])
    x, y = (Scene(camera=camera, limb=Limb(50)).view().project(points, 3.0) - (449.5, 339.5))[0]
    depth = 300 - 53 * np.cos(0.4)
    assert (x, y) == pytest.approx((3028 * 7 / depth, 3028 * 53 * np.sin(0.4) / depth))
    upright = Scene(camera=camera, limb=Limb(50, 90)).view().project(points[:, ::-1], 3.0) - (449.5, 339.5)
    np.testing.assert_allclose(upright, [[y, x]])


def test_a_ray_beside_a_limb_meets_what_lies_behind_it():
    limb = Limb(30)
    view = Scene(stickers=(), camera=replace(SMALL, focal_px=700, tilt_deg=0, aim_mm=(0, 0)), limb=limb).view()
    _, arc = view.millimetres(np.array([449.5]), np.arange(680.0))
    seen = limb.depth(np.zeros(680), arc[:, 0]) > 0
    # the tangent from 300 mm above the top touches where the sine of its angle to the axis is 30 / 330
    half = 700 * np.tan(np.arcsin(30 / 330))
    assert seen.sum() == pytest.approx(2 * half, abs=1)
    assert (np.sign(arc[:, 0]) == np.sign(np.arange(680.0) - 339.5)).all()


@pytest.mark.parametrize("limb", [Limb(40, 90), Limb(60, 20, through_mm=(3, 4))])
def test_on_a_limb_the_pixels_of_a_wound_cover_its_area_along_the_skin(limb):
    scene = Scene(wound=Wound("lobed", 36, 26, island_mm=6), camera=replace(SMALL, tilt_deg=15), limb=limb)
    view, half = scene.view(), 0.5
    columns, rows = np.arange(900.0), np.arange(680.0)
    right, left = (view.millimetres(columns + side, rows) for side in (half, -half))
    down, up = (view.millimetres(columns, rows + side) for side in (half, -half))
    (ax, ay), (bx, by) = (
        [p.astype(float) - m for p, m in zip(*ends, strict=True)] for ends in ((right, left), (down, up))
    )
    area = (wound_cover(scene) * np.abs(ax * by - ay * bx)).sum()
    assert area == pytest.approx(scene.wound_mm().area, rel=5e-3)


def test_on_a_limb_the_outline_is_cut_into_edges_that_stay_straight():
    scene = Scene(camera=TURNED, limb=Limb(50, 40))
    square = Polygon([(-15, -15), (15, -15), (15, 15), (-15, 15)])
    outline, _ = polygon_in_photo(scene.view(), square)
    finer, _ = polygon_in_photo(scene.view(), shapely.segmentize(square, 0.01))
    assert len(outline) == 4 * 60
    assert Polygon(outline).area == pytest.approx(Polygon(finer).area, rel=1e-4)


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_on_a_limb_printed_crossings_land_where_the_view_says(layout):
    camera = replace(SMALL, tilt_deg=15, roll_deg=20)
    scene = Scene(stickers=(Sticker(layout),), camera=camera, limb=Limb(60, 30), sensor=QUIET, light=Light(gradient=0))
    light = sharp_light(scene)[..., 1]
    pose, view = scene.poses()[0], scene.view()
    errors = []
    for saddle in LAYOUTS[layout].saddles[::5]:
        cross = (saddle + np.array([(0, 0), (0.1, 0), (0, 0.1)])) @ pose[:2, :2].T + pose[:2, 2]
        centre, right, down = view.project(cross)
        if (centre > 8).all() and (centre < np.array([camera.width, camera.height]) - 8).all():
            edges = [side / np.hypot(*side) for side in (right - centre, down - centre)]
            errors.append(fitted_crossing(light, centre, edges) - centre)
    assert len(errors) >= 5
    assert np.sqrt(np.mean(np.square(errors))) < 0.02


def test_the_side_of_a_limb_is_darker_than_its_top():
    limb = Limb(50, 0)
    across = np.array([0.0, 25.0, 50.0])
    # Lambert: 0.45 from all sides, 0.55 by the cosine of the angle; light along the limb adds nothing sideways
    expected = 0.45 + 0.55 * np.cos(across / 50)
    np.testing.assert_allclose(limb.shade(np.zeros(3), across, (1.0, 0.0)), expected, rtol=1e-6)


def test_a_print_may_be_stretched_down_the_layout():
    pose = Scene(stickers=(Sticker(turn_deg=30, print_scale=1.01, print_stretch=1.005),)).poses()[0]
    assert np.linalg.norm(pose[:2, :2], axis=0) == pytest.approx((1.01, 1.01 * 1.005))
    assert pose[:2, 0] @ pose[:2, 1] == pytest.approx(0, abs=1e-12)


def test_tissue_covers_the_shares_asked_for():
    asked = {"granulation": 0.4, "slough": 0.3, "necrotic": 0.2, "epithelial": 0.1}
    true = tissue_fractions(Scene(wound=Wound("lobed", 50, 35, island_mm=8, tissue=asked), camera=SMALL))
    assert list(true) == [*TISSUES, "unclear"]
    assert true == pytest.approx(asked | {"unclear": 0}, abs=0.002)


@pytest.mark.parametrize("ita", [-55, -20, 15, 35, 60])
def test_skin_has_its_typology_angle(ita):
    lightness, _, b = rgb2lab(encoded(tone(ita)[None, None]))[0, 0]
    assert np.degrees(np.arctan2(lightness - 50, b)) == pytest.approx(ita, abs=1.5)


def test_light_of_6500_kelvin_is_neutral_and_less_is_warm():
    assert cast(6500) == pytest.approx((1, 1, 1))
    red, green, blue = cast(3000)
    assert red > green > blue
    red, green, blue = cast(7500)
    assert red < green < blue


def test_a_shadow_darkens_its_half():
    scene = Scene(stickers=(), skin=Skin(body="trunk"), camera=replace(SMALL, width=240, height=180), sensor=QUIET)
    lit = decoded(render(scene).pixels)
    shaded = decoded(render(replace(scene, light=Light(shadow=0.6, shadow_towards_deg=0))).pixels)
    ratio = (shaded / lit).mean(axis=(0, 2))
    assert ratio[0] == pytest.approx(1, abs=0.03)
    assert ratio[-1] == pytest.approx(0.4, abs=0.03)


@pytest.mark.parametrize(("layout", "fraction"), [("corner", 0.3), ("strip", 0.3), ("tile", 0.25)])
@pytest.mark.parametrize("kind", ["glove", "gauze"])
def test_a_cover_hides_just_its_share_of_the_sticker(layout, fraction, kind):
    scene = Scene(stickers=(Sticker(layout, turn_deg=20, gap_mm=9),), cover=Cover(kind, fraction))
    sticker = Polygon(outline_on_plane(LAYOUTS[layout], scene.poses()[0]))
    assert scene.cover_mm().intersection(sticker).area / sticker.area == pytest.approx(fraction, abs=1e-3)


def test_a_cover_over_the_wound_is_refused():
    with pytest.raises(ValueError, match="hides a part of the wound"):
        Scene(cover=Cover(towards_mm=(40, 40), from_deg=90)).cover_mm()


def test_a_grey_print_has_no_colour():
    colour, grey = (printed("tile", grey, (), 10)[..., :3].astype(float) for grey in (False, True))
    inside = grey[..., 1] > 0
    ratio = grey[inside] / grey[inside][:, 1:2]
    assert np.ptp(ratio, axis=0).max() < 0.01
    assert np.ptp(colour[inside] / np.maximum(colour[inside][:, 1:2], 1), axis=0).max() > 0.5


def test_the_same_seed_gives_the_same_photo_and_another_one_does_not():
    scene = Scene(camera=replace(SMALL, width=160, height=120, focal_px=400))
    first, again, other = (render(each).pixels for each in (scene, scene, replace(scene, seed=2)))
    np.testing.assert_array_equal(first, again)
    assert (first != other).mean() > 0.5


def test_noise_is_that_of_linear_light():
    sensor = Sensor(read_noise=0.01, shot_noise=0.001)
    grey = np.full((300, 300, 3), 0.2, np.float32)
    noisy = decoded(sensor.developed(grey, np.random.default_rng(1)))
    assert noisy.mean() == pytest.approx(0.2, abs=5e-4)
    assert noisy.std() == pytest.approx(np.sqrt(0.01**2 + 0.001 * 0.2), rel=0.02)


def test_blur_moves_nothing():
    spot = np.zeros((41, 41, 3), np.float32)
    spot[20, 20] = 1
    blurred = Sensor(blur_px=1.5, motion_px=7.3, motion_deg=33).blurred(spot)[..., 0].astype(float)
    rows, columns = np.mgrid[:41, :41]
    assert blurred.sum() == pytest.approx(1, abs=1e-5)
    assert ((blurred * columns).sum(), (blurred * rows).sum()) == pytest.approx((20, 20), abs=1e-4)


def test_a_photo_may_lack_sticker_and_wound():
    rendering = render(Scene(stickers=(), wound=None, camera=replace(SMALL, width=160, height=120)))
    assert rendering.outline_px.shape == (0, 2)
    assert rendering.poses == ()
    assert rendering.tissue == {}
    assert rendering.pixels.shape == (120, 160, 3)


def test_several_stickers_can_lie_in_one_photo():
    stickers = (Sticker("tile"), Sticker("tile", turn_deg=180))
    rendering = render(Scene(stickers=stickers, camera=replace(SMALL, width=300, height=400, focal_px=1000)))
    assert len(rendering.poses) == 2
    np.testing.assert_allclose(rendering.sticker_to_plane, rendering.poses[0])


@pytest.mark.parametrize("orientation", [1, 2, 3, 4, 5, 6, 7, 8])
def test_a_turned_file_shows_the_upright_photo(orientation):
    from PIL import ImageOps

    pixels = np.zeros((32, 64, 3), np.uint8)
    pixels[:16, :16] = 255
    with Image.open(BytesIO(jpeg(pixels, 95, ExifFacts(orientation=orientation)))) as stored:
        upright = np.asarray(ImageOps.exif_transpose(stored))
    assert np.abs(upright.astype(int) - pixels).mean() < 2


def test_the_file_carries_the_facts_of_the_lens_and_the_time():
    rendering = render(Scene(camera=replace(SMALL, width=160, height=120, focal_px=None)))
    with Image.open(BytesIO(jpeg(rendering))) as photo:
        details = photo.getexif().get_ifd(0x8769)
    assert details[0xA405] == 26
    assert details[0x9003] == "2024:03:04 10:15:00"
    with Image.open(BytesIO(jpeg(rendering, facts=None))) as photo:
        assert not photo.getexif()


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_a_sample_has_its_truth_beside_it(sample):
    with (FOLDER / "truth.csv").open(encoding="utf-8") as file:
        row = next(row for row in csv.DictReader(file) if row["file"] == f"{sample.name}.jpg")
    for column, value in truth_of(sample).items():
        expected = value if isinstance(value, str) else pytest.approx(value, abs=0.11 if "percent" in column else 1e-4)
        assert (row[column] if isinstance(value, str) else float(row[column])) == expected


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_the_outline_file_of_a_sample_encloses_its_area(sample):
    written = json.loads((FOLDER / f"{sample.name}.outline.json").read_text(encoding="utf-8"))
    plane = sample.scene.view().homography()
    rings, again = (
        [wound["outline"], *wound["holes"]] for wound in (written["wounds"][0], outline_of(sample)["wounds"][0])
    )
    np.testing.assert_allclose(np.vstack(rings), np.vstack(again), atol=0.011)
    outline, *holes = (on_plane(np.array(ring), plane) for ring in rings)
    assert shapely.Polygon(outline, holes).area == pytest.approx(sample.scene.wound_mm().area, rel=1e-4)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_a_sample_is_a_telephone_photo_of_modest_size(sample):
    path = FOLDER / f"{sample.name}.jpg"
    assert path.stat().st_size < 1.5e6
    with Image.open(path) as photo:
        assert photo.size == (sample.scene.camera.width, sample.scene.camera.height)
        details = photo.getexif().get_ifd(0x8769)
    assert details[0xA405] == 26
    assert details[0x9003] == sample.taken_at
