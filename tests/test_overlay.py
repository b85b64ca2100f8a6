"""The picture: what is drawn, where, and how it is written."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from measure.canvas import MAX_SIDE_PX, Canvas
from measure.outline import read_outlines
from measure.overlay import PictureError, draw_measurement, draw_prepared, write_picture
from measure.photo import read_photo
from measure.pipeline import complete, prepare


@pytest.fixture(scope="module")
def measurement(first_sample):
    photo = read_photo(first_sample.photo)
    prepared = prepare(photo, propose=False)
    return complete(prepared, read_outlines(first_sample.outline, photo.width, photo.height))


def _blue(picture):
    """Pixels of the edge's own light blue."""
    return np.abs(picture.astype(int) - (64, 224, 255)).max(axis=2) < 12


def test_whole_photo_is_reduced_and_the_photo_left_alone(measurement):
    photo = measurement.prepared.photo
    before = photo.pixels.copy()
    picture = draw_measurement(measurement)
    assert max(picture.shape[:2]) == MAX_SIDE_PX
    assert picture.shape[1] / picture.shape[0] == pytest.approx(photo.width / photo.height, abs=1e-3)
    assert np.array_equal(photo.pixels, before)


def test_the_outline_is_drawn_where_the_wound_is(measurement):
    """The drawn line passes within its own width of every vertex."""
    picture = draw_measurement(measurement)
    scale = picture.shape[1] / measurement.prepared.photo.width
    ys, xs = np.nonzero(_blue(picture))
    drawn = np.column_stack([xs, ys])
    for vertex in measurement.wounds[0].outline.exterior[::25]:
        place = (vertex + 0.5) * scale - 0.5
        assert np.linalg.norm(drawn - place, axis=1).min() < 4


def test_photo_points_go_where_their_pixel_goes():
    """Pixel centres are whole numbers: the middle of a 4 x 4 block is the middle of the pixel it becomes."""
    canvas = Canvas(np.zeros((100, 4 * MAX_SIDE_PX, 3), dtype=np.uint8), (0, 0, 4 * MAX_SIDE_PX, 100))
    assert canvas.place(np.array([[1.5, 1.5], [5.5, 9.5]])) == pytest.approx(np.array([[0, 0], [1, 2]]))


def test_close_view_holds_wound_and_sticker_larger(measurement):
    close, whole = draw_measurement(measurement, close=True), draw_measurement(measurement)
    assert np.ptp(np.nonzero(_blue(close))[1]) > 1.5 * np.ptp(np.nonzero(_blue(whole))[1])


def test_a_prepared_photo_shows_the_sticker_alone(measurement):
    picture = draw_prepared(measurement.prepared)
    assert _blue(picture).any()
    assert _blue(picture).sum() < _blue(draw_measurement(measurement)).sum()


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.jpeg"])
def test_pictures_are_written_in_rgb(name, tmp_path):
    red = np.zeros((20, 30, 3), dtype=np.uint8)
    red[..., 0] = 250
    write_picture(red, tmp_path / name)
    with Image.open(tmp_path / name) as back:
        assert back.size == (30, 20)
        assert np.asarray(back.convert("RGB")).astype(int)[10, 10] == pytest.approx((250, 0, 0), abs=6)


def test_another_ending_is_refused(tmp_path):
    with pytest.raises(PictureError, match=r"'a\.gif' does not end in \.png or \.jpg"):
        write_picture(np.zeros((4, 4, 3), dtype=np.uint8), tmp_path / "a.gif")


def test_a_folder_that_is_not_there_is_refused():
    with pytest.raises(PictureError, match="can't be written"):
        write_picture(np.zeros((4, 4, 3), dtype=np.uint8), Path("/nowhere/at/all/a.png"))
