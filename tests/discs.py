"""Examples made of discs: what shows a wound is red, and the mask says where."""

import csv

import numpy as np
from PIL import Image

from measure.learn.examples import Example


def disc(side, x, y, radius):
    rows, columns = np.indices((side, side))
    return np.hypot(columns - x, rows - y) < radius


def example(name="a", group="a", side=96, spot=(48, 48, 20)):
    mask = disc(side, *spot) if spot else np.zeros((side, side), np.bool_)
    photo = np.where(mask[..., np.newaxis], (170, 40, 40), (200, 160, 140)).astype(np.uint8)
    return Example(name, group, photo, mask)


def many_examples():
    """Return 48 of them in 24 groups; a sixth shows no wound."""
    random = np.random.default_rng(1)
    spots = [(*random.uniform(30, 66, 2), random.uniform(8, 22)) if n % 6 else None for n in range(48)]
    return [example(f"p{n:02}", f"g{n // 2:02}", spot=spot) for n, spot in enumerate(spots)]


def folder_of(path, examples, groups=None):
    """Write examples as the files that ``ebbline learn`` reads."""
    (path / "photos").mkdir()
    (path / "masks").mkdir()
    for each in examples:
        Image.fromarray(each.photo).save(path / "photos" / f"{each.name}.png")
        Image.fromarray(each.mask).save(path / "masks" / f"{each.name}.png")
    if groups:
        with (path / "groups.csv").open("w", newline="") as file:
            csv.writer(file).writerows([("name", "group"), *groups.items()])
    return path
