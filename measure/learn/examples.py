"""Photographs with their wounds' masks, to learn from and to try on."""

import csv
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calibration.errors import EbblineError

SIDE = 768
"""Larger photographs are reduced to this long side; a wound of 1 % of the frame is still 77 px wide."""

_BLACK = 12  # 8-bit; JPEG leaves padding not quite black

_BANDS = (0.0, 0.005, 0.02)
"""Shares of the frame that part the wounds into small, middle and large, for a fair split."""


class ExamplesError(EbblineError):
    """A folder of examples can't be used; the text says why and what to do."""

    code = "unusable-examples"


@dataclass(frozen=True, eq=False)
class Example:
    """One photograph and what a person marked as wound in it.

    Attributes
    ----------
    name : str
        Of its file, without ending.
    group : str
        Photographs of the same wound on the same day share it, and are never parted.
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
        If there are no photographs, one lacks its mask, or the two differ in size.
    """
    folder = Path(folder)
    paths = sorted(path for path in (folder / "photos").glob("*") if path.suffix.lower() in {".jpg", ".jpeg", ".png"})
    if not paths:
        raise ExamplesError(
            f"No photographs were found in {folder / 'photos'}; put them there as .jpg or .png, and for each a mask of "
            f"the same name in {folder / 'masks'} (.png, white where there is wound)."
        )
    groups = _groups(folder / "groups.csv")
    return tuple(_read(path, folder / "masks" / f"{path.stem}.png", groups.get(path.stem), side) for path in paths)


def _groups(path: Path) -> dict[str, str]:
    if not path.exists():
        return {}
    with path.open(newline="", encoding="utf-8") as lines:
        rows = csv.DictReader(lines)
        if not {"name", "group"} <= set(rows.fieldnames or ()):
            raise ExamplesError(f"{path} has the columns {rows.fieldnames}; expected are name and group.")
        return {row["name"]: row["group"] for row in rows}


def _read(photo_path: Path, mask_path: Path, group: str | None, side: int) -> Example:
    photo = _opened(photo_path, "RGB", "take it out, or save it as JPEG or PNG again")
    mask = _opened(mask_path, "L", "draw one, all black where there is no wound")
    if photo.size != mask.size:
        raise ExamplesError(
            f"{photo_path.name} is {photo.width} x {photo.height} pixels, its mask {mask.width} x {mask.height}; "
            "save the mask in the size of the photograph."
        )
    photo.thumbnail((side, side), Image.Resampling.BOX)
    mask.thumbnail((side, side), Image.Resampling.BOX)
    pixels, marked = np.array(photo), np.array(mask) > 127
    height, width = _unpadded(pixels)
    return Example(photo_path.stem, group or photo_path.stem, pixels[:height, :width], marked[:height, :width])


def _unpadded(photo: NDArray[np.uint8]) -> tuple[int, int]:
    """Return the height and width without black padding below and at the right."""
    lit = photo.max(axis=2) > _BLACK
    if not lit.any():
        return lit.shape[0], lit.shape[1]
    return int(np.flatnonzero(lit.any(axis=1))[-1]) + 1, int(np.flatnonzero(lit.any(axis=0))[-1]) + 1


def _opened(path: Path, mode: str, remedy: str) -> Image.Image:
    try:
        with Image.open(path) as picture:
            return picture.convert(mode)
    except (OSError, ValueError) as error:
        raise ExamplesError(f"{path} is missing or can't be read as a picture; {remedy}.") from error


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
