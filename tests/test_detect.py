"""Finding stickers: in any orientation, in shadow, partly covered; and never where there is none."""

from functools import lru_cache

import cv2
import numpy as np
import pytest

from calibration.detect import MIN_SADDLES, find_stickers, project
from calibration.errors import StickerCutOffError, StickerMirroredError, StickerNotFoundError
from calibration.sticker import LAYOUTS
from measure.rendering import Camera, Cover, Light, Scene, Sensor, Sticker, render

SMALL = {"width": 1600, "height": 1200}
ALL = pytest.mark.parametrize("layout", LAYOUTS)


@lru_cache(maxsize=16)
def _shot(layout, **changes):
    camera = Camera(**SMALL | {key: value for key, value in changes.items() if key in Camera.__dataclass_fields__})
    scene = Scene(stickers=(Sticker(layout=layout),) if layout else (), camera=camera)
    return render(scene)


def _off(rendering, found, number=0):
    """Distances in px between the saddle points found and the true ones."""
    to_px = rendering.homography @ rendering.poses[number]
    true = project(to_px, found.points_mm[: found.saddles])
    return np.linalg.norm(found.points_px[: found.saddles] - true, axis=1)


@ALL
@pytest.mark.parametrize("roll", [0, 90, 137, 180, 270])
def test_finds_the_sticker_at_any_rotation(layout, roll):
    rendering = _shot(layout, roll_deg=float(roll))
    (found,) = find_stickers(rendering.pixels)
    assert found.layout.name == layout
    assert found.share_seen == 1
    assert not found.cut_off


@ALL
def test_saddle_points_are_found_to_a_tenth_of_a_pixel_without_bias(layout):
    rendering = _shot(layout, tilt_deg=25.0)
    (found,) = find_stickers(rendering.pixels)
    assert np.sqrt(np.mean(_off(rendering, found) ** 2)) < 0.1
    to_px = rendering.homography @ rendering.poses[0]
    bias = (found.points_px - project(to_px, found.points_mm))[: found.saddles].mean(axis=0)
    assert np.abs(bias).max() < 0.03


@pytest.mark.parametrize("blur", [0.0, 1.0, 2.0])
def test_blur_moves_no_saddle_point(blur):
    """Outer corners of a printed marker move inward by about a pixel under blur; crossings must not."""
    camera = Camera(width=2400, height=1800)
    rendering = render(Scene(camera=camera, sensor=Sensor(blur_px=blur)))
    (found,) = find_stickers(rendering.pixels)
    to_px = rendering.homography @ rendering.poses[0]
    outward = found.points_px - project(to_px, found.points_mm)
    middle = project(to_px, np.array([[40.0, 30.0]]))
    away = found.points_px - middle
    inward = -(outward * away).sum(axis=1) / np.linalg.norm(away, axis=1)
    assert np.sqrt(np.mean(_off(rendering, found) ** 2)) < 0.1
    assert abs(inward[: found.saddles].mean()) < 0.02


@ALL
@pytest.mark.parametrize(("width", "distance"), [(1155, 250.0), (1600, 400.0), (4032, 600.0)])
def test_finds_it_from_1_megapixel_and_from_600_mm(layout, width, distance):
    camera = Camera(width=width, height=width * 3 // 4, distance_mm=distance, tilt_deg=30.0)
    rendering = render(Scene(stickers=(Sticker(layout=layout),), camera=camera))
    (found, *_) = find_stickers(rendering.pixels)
    assert found.layout.name == layout


@ALL
def test_finds_it_half_in_shadow(layout):
    light = Light(shadow=0.7, shadow_towards_deg=30.0, shadow_softness_mm=3.0)
    rendering = render(Scene(stickers=(Sticker(layout=layout),), camera=Camera(**SMALL), light=light))
    (found,) = find_stickers(rendering.pixels)
    assert found.share_seen > 0.7


@ALL
@pytest.mark.parametrize("kind", ["glove", "gauze"])
def test_finds_it_with_three_tenths_covered(layout, kind):
    cover = Cover(kind=kind, fraction=0.3)
    rendering = render(Scene(stickers=(Sticker(layout=layout),), camera=Camera(**SMALL), cover=cover))
    (found,) = find_stickers(rendering.pixels)
    assert MIN_SADDLES <= found.saddles < len(LAYOUTS[layout].saddles)
    assert _off(rendering, found).max() < 0.7


def test_reads_a_print_of_a_grey_printer():
    rendering = render(Scene(stickers=(Sticker(grey=True),), camera=Camera(**SMALL)))
    (found,) = find_stickers(rendering.pixels)
    assert found.share_seen == 1


def test_points_are_in_pixels_of_a_photo_larger_than_the_working_picture():
    rendering = render(Scene(camera=Camera(**SMALL)))
    factor = 4
    large = cv2.resize(rendering.pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC)
    (found,), (small,) = find_stickers(large), find_stickers(rendering.pixels)
    moved = (small.points_px[: small.saddles] + 0.5) * factor - 0.5
    apart = found.points_px[: found.saddles] - moved
    assert np.abs(apart.mean(axis=0)).max() < 0.2  # half a pixel of the small picture would be 1.5 here
    assert np.abs(apart).max() < 0.6


def test_a_panorama_keeps_its_proportions():
    """Reducing rounds width and height to whole pixels, so each has a factor of its own."""
    from calibration.detect import _working_picture

    gray, scale = _working_picture(np.zeros((225, 12000), np.uint8))
    assert scale == pytest.approx((12000 / gray.shape[1], 225 / gray.shape[0]))
    assert scale[0] != scale[1]


def test_accepts_grey_pictures():
    rendering = _shot("strip")
    assert find_stickers(cv2.cvtColor(rendering.pixels, cv2.COLOR_RGB2GRAY))[0].layout.name == "strip"


def test_tells_several_stickers_apart():
    stickers = (Sticker(layout="corner"), Sticker(layout="tile", at_mm=(22.0, 18.0)))
    rendering = render(Scene(stickers=stickers, camera=Camera(**SMALL)))
    found = find_stickers(rendering.pixels)
    assert [sticker.layout.name for sticker in found] == ["corner", "tile"]


def test_tells_two_stickers_of_one_layout_apart():
    stickers = (Sticker(layout="tile", at_mm=(-50.0, 15.0)), Sticker(layout="tile", at_mm=(25.0, 15.0), turn_deg=70.0))
    rendering = render(Scene(stickers=stickers, camera=Camera(**SMALL)))
    found = find_stickers(rendering.pixels)
    assert [sticker.layout.name for sticker in found] == ["tile", "tile"]
    assert all(sticker.share_seen == 1 for sticker in found)


def test_says_when_part_of_the_sticker_is_outside_the_photo():
    rendering = _shot("corner")
    (found,) = find_stickers(rendering.pixels)
    right = int(found.points_px[:, 0].max()) - 60
    (cut,) = find_stickers(np.ascontiguousarray(rendering.pixels[:, :right]))
    assert cut.cut_off
    assert cut.saddles < found.saddles


@pytest.mark.parametrize("side", ["left", "top", "right", "bottom"])
def test_a_sticker_cut_anywhere_within_a_cell_is_found_or_refused(side):
    """Saddle points come to lie on, beside and just outside the border of the photo."""
    rendering = _shot("corner")
    pixels = rendering.pixels
    (found,) = find_stickers(pixels)
    low, high = found.points_px.min(axis=0).astype(int), found.points_px.max(axis=0).astype(int)
    for cut in range(14):
        part = {
            "left": pixels[:, low[0] + 20 + cut :],
            "top": pixels[low[1] + 20 + cut :],
            "right": pixels[:, : high[0] - 20 - cut],
            "bottom": pixels[: high[1] - 20 - cut],
        }[side]
        (cut_off, *_) = find_stickers(np.ascontiguousarray(part))
        assert cut_off.cut_off


def test_refuses_a_sticker_whose_hem_is_covered():
    rendering = _shot("corner")
    to_px = rendering.homography @ rendering.poses[0]
    covered = rendering.pixels.copy()
    for left, top, right, bottom in ((0, 0, 80, 7), (0, 0, 7, 60), (69, 0, 80, 20), (0, 50, 20, 60)):
        corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom)], dtype=float)
        cv2.fillConvexPoly(covered, np.rint(project(to_px, corners)).astype(np.int32), (190, 150, 130))
    with pytest.raises(StickerCutOffError, match="Only a small part of a 'corner' sticker can be seen"):
        find_stickers(covered)


@ALL
def test_refuses_a_mirrored_photo(layout):
    mirrored = np.ascontiguousarray(_shot(layout).pixels[:, ::-1])
    with pytest.raises(StickerMirroredError, match="mirror image"):
        find_stickers(mirrored)


def test_finds_nothing_in_a_photo_without_a_sticker():
    with pytest.raises(StickerNotFoundError, match="No calibration sticker was found"):
        find_stickers(_shot(None).pixels)


@pytest.mark.parametrize("seed", range(4))
def test_finds_nothing_in_noise(seed):
    noise = np.random.default_rng(seed).integers(0, 256, (600, 800), dtype=np.uint8)
    for sigma in (0.1, 1.0, 3.0):
        with pytest.raises(StickerNotFoundError):
            find_stickers(cv2.normalize(cv2.GaussianBlur(noise, (0, 0), sigma), None, 0, 255, cv2.NORM_MINMAX))


def test_other_boards_and_markers_are_not_stickers():
    """A ChArUco board of the same dictionary, and each of our markers alone: identity without a hem is nothing."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    board = cv2.aruco.CharucoBoard((7, 5), 40.0, 25.0, dictionary).generateImage((1400, 1000), marginSize=40)
    with pytest.raises((StickerNotFoundError, StickerCutOffError)):
        find_stickers(board)
    for number in (6, 18, 22):
        page = np.full((600, 600), 255, np.uint8)
        page[200:320, 200:320] = cv2.aruco.generateImageMarker(dictionary, number, 120)
        with pytest.raises(StickerNotFoundError):
            find_stickers(page)


@pytest.mark.parametrize("number", [6, 13, 18, 22])
def test_a_board_that_shares_a_marker_is_no_sticker(number):
    """A checkerboard with markers of the same dictionary between its squares, drawn by OpenCV."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    board = cv2.aruco.CharucoBoard((5, 7), 0.04, 0.02, dictionary, np.arange(number, number + 17))
    drawn = cv2.cvtColor(board.generateImage((900, 1200), marginSize=40), cv2.COLOR_GRAY2RGB)
    with pytest.raises((StickerNotFoundError, StickerCutOffError)):
        find_stickers(drawn)


def test_a_stippled_picture_is_refused():
    """Thousands of dots, each of which might be a marker of a pixel a cell."""
    random = np.random.default_rng(1)
    dots = np.where(random.random((500, 500)) < 0.3, 0, 255).astype(np.uint8)
    with pytest.raises(StickerNotFoundError):
        find_stickers(np.repeat(dots[..., None], 3, axis=2))
