"""Pictures of what lies beside wounds and is none: stickers, rulers, gauze, gloved fingers, drapes."""

from collections.abc import Iterator
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calibration.sheet import sticker_png
from calibration.sticker import LAYOUTS

Picture = NDArray[np.uint8]
"""RGBA, of shape (H, W, 4)."""

_SIDE = 256
_WHITE, _STAIN, _EXUDATE = (232, 230, 224), (120, 32, 28), (196, 170, 90)
_GLOVES = ((70, 120, 190), (225, 225, 230), (120, 90, 170), (40, 40, 46))
_DRAPES = ((50, 120, 90), (60, 110, 160), (150, 190, 210))


def covers(seed: int = 1) -> tuple[Picture, ...]:
    """Draw all of them, the same for the same seed."""
    random = np.random.default_rng(seed)
    return (
        *_stickers(),
        *(_gauze(random, stain) for stain in (None, None, _STAIN, _STAIN, _EXUDATE, _EXUDATE)),
        *(_finger(random, colour) for colour in _GLOVES for _ in range(2)),
        *(_drape(random, colour) for colour in _DRAPES),
        *(_ruler(random) for _ in range(3)),
    )


def _stickers() -> Iterator[Picture]:
    for layout in LAYOUTS.values():
        with Image.open(BytesIO(sticker_png(layout, 100))) as picture:
            yield np.asarray(picture.convert("RGBA"))


def _gauze(random: np.random.Generator, stain: tuple[int, int, int] | None) -> Picture:
    """Draw woven cotton, its border uneven, with or without a stain that has soaked in."""
    y, x = np.mgrid[:_SIDE, :_SIDE]
    period = random.uniform(5, 9)
    weave = 0.5 + 0.25 * (np.cos(2 * np.pi * x / period) + np.cos(2 * np.pi * y / period))
    colour = np.array(_WHITE)[None, None] * (0.82 + 0.18 * weave * _clouds(random))[..., None]
    if stain is not None:
        middle, reach = random.uniform(80, 176, 2), random.uniform(25, 80)
        spread = np.hypot(x - middle[0], y - middle[1]) / reach + 0.6 * (_clouds(random) - 0.5)
        soaked = np.clip(1.6 - 1.6 * spread, 0, 0.95)[..., None]
        colour = colour * (1 - soaked) + np.array(stain) * (0.7 + 0.3 * weave[..., None]) * soaked
    inset = 10 + 8 * _clouds(random)
    inside = np.minimum.reduce([x, y, _SIDE - 1 - x, _SIDE - 1 - y]) > inset
    return _picture(colour, inside)


def _finger(random: np.random.Generator, colour: tuple[int, int, int]) -> Picture:
    """Draw a rounded rod of thin rubber, lit from one side, with creases."""
    y, x = np.mgrid[:_SIDE, :_SIDE]
    half = random.uniform(36, 60)
    across = (x - 128) / half
    tip = np.hypot(x - 128, np.minimum(y - (half + 6), 0)) / half
    round_shade = np.sqrt(np.clip(1 - across**2, 0, 1))
    creases = 1 - 0.12 * np.cos(2 * np.pi * (y + 12 * _clouds(random)) / random.uniform(25, 60)) ** 8
    light = (0.45 + 0.55 * round_shade + 0.2 * across) * creases * (0.9 + 0.2 * _clouds(random))
    return _picture(np.array(colour)[None, None] * light[..., None], tip < 1)


def _drape(random: np.random.Generator, colour: tuple[int, int, int]) -> Picture:
    """Draw cloth with soft folds and one straight border."""
    y, x = np.mgrid[:_SIDE, :_SIDE]
    folds = 0.8 + 0.2 * np.cos(2 * np.pi * (x * np.cos(0.5) + y * np.sin(0.5) + 40 * _clouds(random)) / 90)
    fibres = 1 + 0.03 * random.standard_normal((_SIDE, _SIDE))
    return _picture(
        np.array(colour)[None, None] * (folds * fibres)[..., None], np.full((_SIDE, _SIDE), fill_value=True)
    )


def _ruler(random: np.random.Generator) -> Picture:
    """Draw a white strip with a line for each of many millimetres."""
    y, x = np.mgrid[:_SIDE, :_SIDE]
    step = random.uniform(3, 6)
    number = np.round(x / step)
    length = np.where(number % 10 == 0, 26, np.where(number % 5 == 0, 20, 14))
    line = (np.abs(x - number * step) < 0.8) & (y - 100 < length)
    colour = np.where(line[..., None], 25, np.array(_WHITE)[None, None])
    return _picture(colour, (y >= 100) & (y < 156))


def _clouds(random: np.random.Generator) -> NDArray[np.float64]:
    """Return smooth random values from 0 to 1."""
    coarse = Image.fromarray(random.random((6, 6)).astype(np.float32))
    return np.asarray(coarse.resize((_SIDE, _SIDE), Image.Resampling.BICUBIC), np.float64).clip(0, 1)


def _picture(colour: NDArray[np.float64], inside: NDArray[np.bool_]) -> Picture:
    alpha = np.where(inside, 255, 0)[..., None]
    return np.concatenate([np.clip(colour, 0, 255), alpha], axis=2).astype(np.uint8)
