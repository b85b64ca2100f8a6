"""Photographs with their wounds' masks, to learn from and to try on."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from measure.learn.groups import listed, read_groups
from measure.learn.mask import read_mask
from measure.learn.picture import ExamplesError, opened

SIDE = 768
"""Larger photographs are reduced to this long side; a wound of 1 % of the frame is still 77 px wide."""

_ENDINGS = (".jpg", ".jpeg", ".png")
_OF_SYSTEMS = ("Thumbs.db", "desktop.ini")  # what Windows leaves in folders of pictures

_BLACK = 3  # 8-bit; JPEG leaves padding not quite black, and no photograph is so dark from side to side

_BANDS = (0.0, 0.005, 0.02)
"""Shares of the frame that part the wounds into small, middle and large, for a fair split."""


@dataclass(frozen=True, eq=False)
class Example:
    """One photograph and what a person marked as wound in it.

    Attributes
    ----------
    name : str
        Of its file, without ending.
    group : str
        Photographs of the same wound, whatever the day, share it and are never parted.
    photo : ndarray of uint8, shape (H, W, 3)
        RGB.
    mask : ndarray of bool, shape (H, W)
        True where there is wound; nowhere, if there is none.
    """

    name: str
    group: str
    photo: NDArray[np.uint8]
    mask: NDArray[np.bool_]

    @property
    def share(self) -> float:
        """Return the part of the frame that is wound."""
        return float(self.mask.mean())


@dataclass(frozen=True, eq=False)
class Material:
    """What a network learns from.

    Attributes
    ----------
    examples : tuple of Example
    also : tuple of Example
        More of them that nothing is tried on, such as rendered scenes.
    covers : tuple of ndarray of uint8, shape (H, W, 4)
        RGBA pictures of things that lie on skin and are no wound, to be laid on some views.
    """

    examples: tuple[Example, ...]
    also: tuple[Example, ...] = ()
    covers: tuple[NDArray[np.uint8], ...] = ()


def read_examples(folder: str | Path, side: int = SIDE) -> tuple[Example, ...]:
    """Read ``photos/NAME.jpg`` (or .jpeg, .png) with ``masks/NAME.png``, and ``groups.csv``, if there is one.

    ``groups.csv`` has the columns name and group; without it each photograph is a group of its own.

    Raises
    ------
    ExamplesError
        If there are no photographs, one lacks its mask, the two differ in size, or one of the files can't be used.
    """
    folder = Path(folder)
    paths = _photo_paths(folder)
    groups = read_groups(folder / "groups.csv", paths)
    return tuple(_read(path, folder / "masks" / f"{path.stem}.png", groups[path.stem], side) for path in paths)


def _photo_paths(folder: Path) -> list[Path]:
    found = sorted(path for path in (folder / "photos").glob("*") if not path.name.startswith("."))
    strange = [path.name for path in found if path.suffix.lower() not in _ENDINGS and path.name not in _OF_SYSTEMS]
    if strange:
        raise ExamplesError(
            f"{folder / 'photos'} holds what is no JPEG or PNG: {listed(strange)}; save these photographs as .jpg or "
            ".png, and take out what is none."
        )
    paths = [path for path in found if path.suffix.lower() in _ENDINGS]
    if not paths:
        raise ExamplesError(
            f"No photographs were found in {folder / 'photos'}; put them there as .jpg or .png, and for each a mask of "
            f"the same name in {folder / 'masks'} (.png, white where there is wound)."
        )
    twice = [one.name for one, other in pairwise(paths) if one.stem == other.stem]
    if twice:
        raise ExamplesError(f"Photographs differ by their ending alone: {listed(twice)}; give each a name of its own.")
    return paths


def _read(photo_path: Path, mask_path: Path, group: str, side: int) -> Example:
    photo = opened(photo_path, "take it out, or save it as JPEG or PNG again").convert("RGB")
    mask = Image.fromarray(read_mask(mask_path)).convert("L")
    if photo.size != mask.size:
        raise ExamplesError(
            f"{photo_path.name} is {photo.width} x {photo.height} pixels, its mask {mask.width} x {mask.height}; "
            "save the mask in the size of the photograph, as it is seen upright."
        )
    photo.thumbnail((side, side), Image.Resampling.BOX)
    mask.thumbnail((side, side), Image.Resampling.BOX)
    pixels, marked = np.array(photo), np.array(mask) > 127
    height, width = _unpadded(pixels, marked)
    return Example(photo_path.stem, group, pixels[:height, :width], marked[:height, :width])


def _unpadded(photo: NDArray[np.uint8], mask: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the height and width without black padding below and at the right, where nothing is marked."""
    used = (photo.max(axis=2) > _BLACK) | mask
    if not used.any():
        return used.shape[0], used.shape[1]
    return int(np.flatnonzero(used.any(axis=1))[-1]) + 1, int(np.flatnonzero(used.any(axis=0))[-1]) + 1


def split(
    examples: Sequence[Example], share: float = 0.2, empty_share: float = 0.4
) -> tuple[tuple[Example, ...], tuple[Example, ...]]:
    """Part examples into those to learn from and those held out, whole groups at a time.

    Which groups are held out follows from their names alone (the order of their SHA-256), the same in every run and
    on every machine, in each band of wound size for itself. Of photographs without a wound, which are few, a larger
    share is held out.

    Returns
    -------
    tuple of tuple of Example
        To learn from; held out.
    """
    members: dict[str, list[Example]] = {}
    for example in examples:
        members.setdefault(example.group, []).append(example)
    bands: dict[int, list[str]] = {}
    for group, of_group in members.items():
        band = sum(max(example.share for example in of_group) > limit for limit in _BANDS)
        bands.setdefault(band, []).append(group)
    out: set[str] = set()
    for band, names in bands.items():
        ordered = sorted(names, key=_digest)
        out.update(ordered[: round(len(ordered) * (share if band else empty_share))])
    return (
        tuple(example for example in examples if example.group not in out),
        tuple(example for example in examples if example.group in out),
    )


def _digest(group: str) -> str:
    return hashlib.sha256(group.encode()).hexdigest()
