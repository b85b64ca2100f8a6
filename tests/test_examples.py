"""Examples to learn from: read with their masks and groups, refused with a sentence, parted fairly."""

import numpy as np
import pytest
from discs import disc, example, folder_of, many_examples
from PIL import Image, ImageOps

from measure.learn.examples import Example, read_examples, split
from measure.learn.mask import read_mask
from measure.learn.picture import ExamplesError


@pytest.fixture(scope="module")
def many():
    return many_examples()


# The folder


def test_a_folder_is_read_with_its_groups(tmp_path):
    written = [example("a", "one"), example("b", "one", spot=None)]
    first, second = read_examples(folder_of(tmp_path, written, {"a": "one", "b": "one"}))
    assert (first.name, first.group, second.group) == ("a", "one", "one")
    assert np.array_equal(first.photo, written[0].photo)
    assert np.array_equal(first.mask, written[0].mask)
    assert second.share == 0


def test_without_groups_each_photo_is_its_own(tmp_path):
    assert [each.group for each in read_examples(folder_of(tmp_path, [example("a"), example("b")]))] == ["a", "b"]


def test_black_padding_is_taken_off(tmp_path):
    padded = np.zeros((120, 96, 3), np.uint8)
    padded[:96] = example().photo
    mask = np.zeros((120, 96), np.bool_)
    mask[:96] = example().mask
    (read,) = read_examples(folder_of(tmp_path, [Example("a", "a", padded, mask)]))
    assert read.photo.shape == (96, 96, 3)
    assert read.mask.shape == (96, 96)


def test_large_photos_are_reduced_with_their_mask(tmp_path):
    large = example(side=400, spot=(200, 200, 100))
    (read,) = read_examples(folder_of(tmp_path, [large]), side=100)
    assert read.mask.shape == (100, 100)
    assert read.share == pytest.approx(large.share, rel=0.02)


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda path: [each.unlink() for each in (path / "photos").iterdir()], "No photographs were found"),
        (lambda path: (path / "masks" / "a.png").unlink(), "is missing or can't be read as a picture; draw one"),
        (lambda path: (path / "photos" / "a.png").write_text("text"), "can't be read as a picture; take it out"),
        (lambda path: Image.new("L", (5, 5)).save(path / "masks" / "a.png"), "its mask 5 x 5"),
        (lambda path: (path / "groups.csv").write_text("x,y\n1,2\n"), "expected are name and group"),
        (lambda path: (path / "groups.csv").write_bytes("name,group\na,B\xe4r\n".encode("latin-1")), "CSV UTF-8"),
        (lambda path: (path / "groups.csv").write_text("name,group\na,1\nb,1\n"), "not there: b; correct"),
        (lambda path: (path / "groups.csv").write_text("name,group\n"), r"no group for a\.png; give"),
        (lambda path: (path / "groups.csv").write_text("name,group\na,\n"), r"no group for a\.png; give"),
        (lambda path: (path / "groups.csv").write_text("name,group\na,1\na.png,2\n"), "two groups, 1 and 2"),
        (
            lambda path: [(path / "photos" / name).touch() for name in ("b.heic", "c.TIF")],
            r"PNG: b\.heic, c\.TIF; save",
        ),
        (lambda path: (path / "photos" / "a.jpg").touch(), "differ by their ending alone: a.jpg"),
    ],
)
def test_a_folder_that_cant_be_used_is_refused(tmp_path, spoil, said):
    folder_of(tmp_path, [example("a")])
    spoil(tmp_path)
    with pytest.raises(ExamplesError, match=said):
        read_examples(tmp_path)


def test_a_table_may_name_files_and_begin_with_a_mark_of_its_encoding(tmp_path):
    folder_of(tmp_path, [example("p00"), example("p01")])
    (tmp_path / "groups.csv").write_text("name,group\np00.png,B\xe4r\np01,B\xe4r\n", encoding="utf-8-sig")
    assert [each.group for each in read_examples(tmp_path)] == ["B\xe4r", "B\xe4r"]


def test_what_systems_leave_in_a_folder_is_passed_over(tmp_path):
    folder_of(tmp_path, [example("a")])
    for name in (".DS_Store", "Thumbs.db"):
        (tmp_path / "photos" / name).touch()
    assert len(read_examples(tmp_path)) == 1


def test_what_is_marked_or_not_truly_black_is_never_taken_for_padding(tmp_path):
    photo = np.full((120, 100, 3), 150, np.uint8)
    photo[:, 80:], photo[90:] = 6, 0
    marked = np.zeros((120, 100), np.bool_)
    marked[80:101, 10:30] = True
    (read,) = read_examples(folder_of(tmp_path, [Example("a", "a", photo, marked)]))
    assert read.photo.shape == (101, 100, 3)
    assert read.mask.sum() == marked.sum()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_photo_and_mask_are_turned_upright_as_the_camera_noted(tmp_path, orientation):
    """Once the mask was stored as the photo was, once it was drawn on the upright photo."""
    upright = example(side=96, spot=(30, 40, 14))
    photo, mask = Image.fromarray(upright.photo[:, :80]), Image.fromarray(upright.mask[:, :80])
    exif = Image.Exif()
    exif[0x0112] = orientation
    undo = {1: 1, 2: 2, 3: 3, 4: 4, 5: 5, 6: 8, 7: 7, 8: 6}[orientation]  # TIFF 6.0, tag 274: 6 and 8 are quarter turns
    back = Image.Exif()
    back[0x0112] = undo
    stored = []
    for picture in (photo, mask):
        picture.getexif().update(back)
        stored.append(ImageOps.exif_transpose(picture))
    folder_of(tmp_path, [upright])
    stored[0].save(tmp_path / "photos" / "a.png", exif=exif)
    stored[1].save(tmp_path / "masks" / "a.png", exif=exif)
    (read,) = read_examples(tmp_path)
    assert np.array_equal(read.photo, upright.photo[:, :80])
    assert np.array_equal(read.mask, upright.mask[:, :80])
    mask.save(tmp_path / "masks" / "a.png")
    assert np.array_equal(read_examples(tmp_path)[0].mask, upright.mask[:, :80])


def test_a_picture_that_would_fill_the_memory_is_refused(tmp_path, monkeypatch):
    folder_of(tmp_path, [example("a")])
    for pixels in (96 * 96 - 1, 96 * 96 // 2 - 1):  # Pillow warns at its limit and raises at twice that
        monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", pixels)
        with pytest.raises(ExamplesError, match="megapixels, the most that is read"):
            read_examples(tmp_path)


# Masks


def masked(path, levels, **saved):
    Image.fromarray(levels).save(path, **saved)
    return read_mask(path)


@pytest.mark.parametrize(("ground", "wound"), [(0, 255), (0, 1), (0, 128), (10, 11)])
def test_of_two_values_the_larger_is_the_wound(tmp_path, ground, wound):
    marked = disc(96, 48, 48, 20)
    levels = np.where(marked, wound, ground).astype(np.uint8)
    deep = np.where(marked, wound * 257, ground * 257).astype(np.uint16)
    rgb = np.repeat(levels[..., np.newaxis], 3, axis=2)
    opaque = np.dstack([rgb, np.full_like(levels, 255)])
    for form in (levels, deep, rgb, opaque):
        assert np.array_equal(masked(tmp_path / "a.png", form), marked)


def test_an_empty_mask_is_no_wound(tmp_path):
    assert not masked(tmp_path / "a.png", np.zeros((9, 9), np.uint8)).any()


@pytest.mark.parametrize("quality", [30, 60, 90])
def test_a_mask_that_was_a_jpeg_is_read_as_it_was_drawn(tmp_path, quality):
    marked = disc(200, 90, 100, 50.3)
    read = masked(tmp_path / "a.png", np.where(marked, 255, 0).astype(np.uint8), format="JPEG", quality=quality)
    assert np.count_nonzero(read != marked) < 0.01 * marked.sum()


def test_a_smooth_edge_is_parted_in_the_middle(tmp_path):
    rows, columns = np.indices((200, 200))
    smooth = np.clip(50 - np.hypot(columns - 100, rows - 100) + 0.5, 0, 1)
    read = masked(tmp_path / "a.png", (255 * smooth).astype(np.uint8))
    assert np.array_equal(read, disc(200, 100, 100, 50))


def _coloured(marked):
    return np.where(marked[..., np.newaxis], (255, 0, 0), (0, 0, 0)).astype(np.uint8)


def _transparent(marked):
    return np.dstack([np.full((*marked.shape, 3), 255), np.where(marked, 255, 0)]).astype(np.uint8)


def _of_three_values(marked):
    return (marked.astype(np.uint8) + disc(96, 48, 48, 9)).astype(np.uint8)


def _with_an_edge_to_be_passed_over(marked):
    """Label 1 for the wound, 255 for its edge."""
    return np.where(marked, 1, np.where(disc(96, 48, 48, 40), 255, 0)).astype(np.uint8)


def _slope(marked):
    return np.broadcast_to(np.linspace(0, 255, marked.shape[1]).astype(np.uint8), marked.shape).copy()


def _white(marked):
    return np.full(marked.shape, 255, np.uint8)


@pytest.mark.parametrize(
    ("drawn", "said"),
    [
        (_coloured, "has colours; expected is a grey picture of two values"),
        (_transparent, "has transparent parts; expected"),
        (_of_three_values, "more than two values"),
        (_with_an_edge_to_be_passed_over, "more than two values"),
        (_slope, "more than two values"),
        (_white, "the same all over, and not black"),
    ],
)
def test_masks_of_other_forms_are_refused_by_name(tmp_path, drawn, said):
    with pytest.raises(ExamplesError, match=rf"p07\.png .*{said}"):
        masked(tmp_path / "p07.png", drawn(disc(96, 48, 48, 36)))


# The split


def test_groups_are_never_parted_and_the_split_is_always_the_same(many):
    seen, out = split(many)
    assert {each.group for each in seen} & {each.group for each in out} == set()
    assert len(seen) + len(out) == len(many)
    assert 0.1 < len(out) / len(many) < 0.35
    assert [each.name for each in split(many[::-1])[1]] == [each.name for each in out][::-1]


def test_every_size_of_wound_is_held_out(many):
    _, out = split(many)
    assert any(each.share == 0 for each in out)
    assert any(each.share > 0.02 for each in out)
