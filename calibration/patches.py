"""What a photo shows of a sticker's colour patches and of its white paper, before anything is made of it.

Paper is read in the white cells of the hem beside a saddle point that was matched there: a glove or a pad over the
hem hides the saddle point too, so such cells are paper. It is also read in the fields to write in, which are wider.
These and the patches have no such witness; what doesn't fit the others is sorted out later, by the fit.

Of each place the inner part is read, away from the blurred border. Its light is the mean of the middle half of its
pixels in each channel: nearly as steady as the mean, and as little misled by specks of writing or glare as the median,
which in the dark would be one of few 8-bit values.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from calibration.detect import Sticker
from calibration.plane import Plane
from calibration.sticker import Hem, Points, Rect

Values = NDArray[np.float64]

PAPER = "paper"
"""Name of the readings of white paper in the fields to write in."""

HEM = "hem"
"""Name of the readings of white cells of the hem: paper too, but JPEG carries some colour over from black beside it."""

CLIPPED_FROM = 250
"""Encoded, 0 to 255: a camera's curve ends softly and JPEG blurs it, so what is this bright may have been brighter."""

DARK_BELOW = 0.0012
"""Linear light, 4 of 255: less is rounded by more than an eighth, and noise below 0 has been cut away from it."""

_INNER = 0.44  # of a side: leaves 0.56 mm of a patch of 2 mm to the blur, and 0.9 mm of one of 3.3 mm
_SIDE = 12  # samples along a side: as many pixels as the smallest patch's inner part has at 0.07 mm a px
_CLIPPED_SHARE = 0.02  # of the samples
_UNEVEN, _UNEVEN_DARK = 0.18, 0.006  # spread of brightness, relative and in linear light; strong noise leaves 0.05
_INDEPENDENT = 0.25  # of the samples: blur and JPEG tie neighbours together
_ENCODING = 2.0  # 8-bit values: what JPEG's coarse colour carries over from beside, of an edge of a hundred values
_NORMAL = 1.349  # quartiles of a normal distribution lie so many standard deviations apart

_GRID = np.stack(np.meshgrid(*[(np.arange(_SIDE) + 0.5) / _SIDE - 0.5] * 2), axis=-1).reshape(-1, 2)


@dataclass(frozen=True, eq=False)
class Reading:
    """What the photo shows of one patch, or of one place of white paper.

    Attributes
    ----------
    name : str
        Of the patch's colour, `PAPER` or `HEM`.
    place : tuple of float
        Its middle (x, y) in px of the photo.
    light : ndarray of shape (3,)
        Linear light, 0 to 1.
    noise : ndarray of shape (3,)
        Standard uncertainty of that by noise and rounding.
    readable : ndarray of bool, shape (3,)
        Which channels are neither clipped nor too dark.
    unused : str
        Why it does not count, in words; empty where it does.
    residual : float
        Its colour difference (CIEDE2000) from what was printed, left out of the fit; NaN where that was not tried.
    """

    name: str
    place: tuple[float, float]
    light: Values
    noise: Values
    readable: NDArray[np.bool_]
    unused: str = ""
    residual: float = float("nan")


def read_patches(pixels: NDArray[np.uint8], sticker: Sticker, plane: Plane) -> list[Reading]:
    """Read each patch of the sticker that set the plane, in the order of its layout."""
    patches = sticker.layout.patches
    return _read(pixels, [patch.name for patch in patches], [patch.place for patch in patches], plane)


def read_paper(pixels: NDArray[np.uint8], sticker: Sticker, plane: Plane) -> list[Reading]:
    """Read the fields to write in, and the white cells of the hem beside the saddle points that were found."""
    cells = _white_cells(sticker.layout.hem, sticker.points_mm[: sticker.saddles])
    fields = [field.place for field in sticker.layout.fields]
    return _read(pixels, [PAPER] * len(fields) + [HEM] * len(cells), fields + cells, plane)


def _white_cells(hem: Hem, saddles: Points) -> list[Rect]:
    """Return the white cells that touch some of the hem's saddle points (N, 2) in mm."""
    corners = np.rint((saddles - (hem.x, hem.y)) / hem.pitch).astype(int)
    near = {(int(c) - right, int(r) - down) for c, r in corners for right in (0, 1) for down in (0, 1)}
    white = sorted((c, r) for c, r in near & hem.cells if (c + r) % 2)
    return [Rect(hem.x + c * hem.pitch, hem.y + r * hem.pitch, hem.pitch, hem.pitch) for c, r in white]


def _read(pixels: NDArray[np.uint8], names: Sequence[str], places: Sequence[Rect], plane: Plane) -> list[Reading]:
    """Read the inner part of some places (mm) on the plane."""
    if not places:
        return []
    corner_and_size = np.array([(place.x, place.y, place.width, place.height) for place in places])
    middle, size = corner_and_size[:, :2] + corner_and_size[:, 2:] / 2, corner_and_size[:, 2:]
    mm = middle[:, np.newaxis] + _INNER * size[:, np.newaxis] * _GRID
    px = plane.to_px(mm.reshape(-1, 2)).reshape(mm.shape)
    high = np.array(pixels.shape[1::-1]) - 1
    inside = np.asarray(np.logical_and(px >= 0, px <= high).all(axis=(1, 2)))
    columns, rows = np.moveaxis(np.rint(np.where(inside[:, np.newaxis, np.newaxis], px, 0)).astype(int), 2, 0)
    values = np.sort(pixels[rows, columns], axis=1)
    light, noise, spread = _levels(values)
    clipped = (values >= CLIPPED_FROM).mean(axis=1) > _CLIPPED_SHARE
    dark = light < DARK_BELOW
    uneven = spread > _UNEVEN * light.mean(axis=1) + _UNEVEN_DARK
    readable = ~clipped & ~dark & inside[:, np.newaxis] & ~uneven[:, np.newaxis]
    centres = px.mean(axis=1)
    return [
        Reading(
            name,
            (float(centres[i, 0]), float(centres[i, 1])),
            light[i],
            noise[i],
            readable[i],
            _reason(inside=inside[i], uneven=uneven[i], clipped=clipped[i], dark=dark[i]),
        )
        for i, name in enumerate(names)
    ]


def _levels(values: NDArray[np.uint8]) -> tuple[Values, Values, Values]:
    """Return light, its uncertainty (N, 3) and the spread of brightness (N,) of samples (N, K, 3) in rising order."""
    linear = linear_light()[values].astype(np.float64)
    count = linear.shape[1]
    quarter = count // 4
    light = linear[:, quarter : count - quarter].mean(axis=1)
    spread = (linear[:, count - quarter] - linear[:, quarter]) / _NORMAL
    step = np.interp(light, linear_light()[:-1], np.diff(linear_light()))
    noise = np.hypot(spread / np.sqrt(_INDEPENDENT * count), _ENCODING * step)
    return light, noise, spread.mean(axis=1)


def _reason(*, inside: np.bool_, uneven: np.bool_, clipped: NDArray[np.bool_], dark: NDArray[np.bool_]) -> str:
    if not inside:
        return "outside the photo"
    if clipped.all():
        return "too bright"
    if dark.all():
        return "too dark"
    return "uneven" if uneven else ""
