"""Examples to learn from: read with their masks and groups, refused with a sentence, parted fairly."""

import csv

import numpy as np
import pytest
from PIL import Image

from measure.learn.examples import Example, ExamplesError, read_examples, split


def disc(side, x, y, radius):
    rows, columns = np.indices((side, side))
    return np.hypot(columns - x, rows - y) < radius


def example(name="a", group="a", side=96, spot=(48, 48, 20)):
    mask = disc(side, *spot) if spot else np.zeros((side, side), np.bool_)
    photo = np.where(mask[..., np.newaxis], (170, 40, 40), (200, 160, 140)).astype(np.uint8)
    return Example(name, group, photo, mask)


def folder_of(path, examples, groups=None):
    (path / "photos").mkdir()
    (path / "masks").mkdir()
    for each in examples:
        Image.fromarray(each.photo).save(path / "photos" / f"{each.name}.png")
        Image.fromarray(each.mask).save(path / "masks" / f"{each.name}.png")
    if groups:
        with (path / "groups.csv").open("w", newline="") as file:
            csv.writer(file).writerows([("name", "group"), *groups.items()])
    return path


@pytest.fixture(scope="module")
def many():
    random = np.random.default_rng(1)
    spots = [(*random.uniform(30, 66, 2), random.uniform(8, 22)) if n % 6 else None for n in range(48)]
    return [example(f"p{n:02}", f"g{n // 2:02}", spot=spot) for n, spot in enumerate(spots)]


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
    ],
)
def test_a_folder_that_cant_be_used_is_refused(tmp_path, spoil, said):
    folder_of(tmp_path, [example("a")])
    spoil(tmp_path)
    with pytest.raises(ExamplesError, match=said):
        read_examples(tmp_path)


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
