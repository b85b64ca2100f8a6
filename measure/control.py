"""The control patch: a disc of the person's own skin, unreddened, to which the skin round a wound is compared.

A nurse chooses it, or it is proposed by these rules. A patch must be skin of the same part of
the body nearly all over and lie clear of every wound.
Of those the one is taken that is farthest from the wounds' edges, as even, as usual for the skin far from them, and as
well lit as there is: each of the four gives a factor between 0 and 1, and the product counts.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.flat import STEP_MM, Mask
from measure.periwound import Periwound
from measure.skin import Map

RADIUS_MM = 4.5
"""Of the patch: some 60 mm2, over which pores and noise average out, and small enough to fit beside a toe."""

FAR_MM = 25.0
"""From here on skin counts as out of a wound's reach: redness that goes beyond 20 mm is more than mild by guidelines on
the diabetic foot (IWGDF/IDSA 2023), and the patch itself reaches 4.5 mm back."""

_ENOUGH_MM = 40.0  # farther is no better
_CLEAR_MM = 3.0  # from a wound's edge to that of the patch, the least: new and soaked skin ends there
_MOSTLY = 0.85  # of a proposed patch must be skin; sparse hair takes up to a tenth of it
_LEAST_A = (
    4.0  # a* of skin of every tone is above 5 (from memory); wood and shaded cloth may look as brown, but less red
)
_AT_LEAST = 0.6  # of a patch that a person chose
_GRID = 2  # pixels of the raster a place that is looked at: 1 mm
_UNEVEN = 2.5  # L* units of spread within a patch that tell against it; pores make about 1, a shadow's edge 5
_UNUSUAL = 1.5  # a* units from usual far skin that tell against it, two spreads of even skin
_DIM = 5.0  # L* units below well-lit skin that tell against it, as light a fifth weaker makes on light skin
_WELL_LIT = 75  # percentile of L* of far skin
_USUAL_SPREAD = np.array((2.0, 0.8, 1.0))  # L*, a*, b* from patch to patch of healthy skin (from memory)
_BEYOND_MM = 1000.0  # no photo shows skin farther off
_USUAL_WEIGHT = 3.0  # as many patches' worth that is believed where few can be seen


class ControlError(EbblineError):
    """A place chosen for the control patch that can't be used."""

    code = "unusable-control"


@dataclass(frozen=True, eq=False)
class Control:
    """A control patch.

    Attributes
    ----------
    place_px : tuple of float
        Its middle in the photo.
    radius_mm : float
        On the wound plane.
    chosen : bool
        Whether a person chose it.
    away_mm : float
        From its middle to the nearest edge of a wound.
    lab : ndarray of shape (3,)
        Median L*, a*, b* of its skin.
    spread : ndarray of shape (3,)
        Standard deviation of L*, a*, b* from patch to patch of the skin far from wounds: its mottling.
    """

    place_px: tuple[float, float]
    radius_mm: float
    chosen: bool
    away_mm: float
    lab: NDArray[np.float64]
    spread: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Patches:
    """Discs round places 1 mm apart: share of skin, and of skin joined to the wound, mean Lab, and spread of L*."""

    share: Map
    joined: Map
    mean: Map
    uneven: Map
    away_mm: Map

    @property
    def usable(self) -> Mask:
        """Whether a disc may be the control."""
        clear = self.away_mm >= RADIUS_MM + _CLEAR_MM
        return np.asarray((self.joined >= _MOSTLY) & (self.mean[..., 1] >= _LEAST_A) & clear)


def proposed_control(around: Periwound) -> Control | None:
    """Propose a control patch; None where no skin is left to take."""
    patches = _patches(around)
    usable = patches.usable
    if not usable.any():
        return None
    far = _far(patches, usable)
    worth = np.where(usable, _worth(patches, far), -1)
    row, column = np.unravel_index(np.argmax(worth), worth.shape)
    middle = np.array(((column + 0.5) * _GRID - 0.5, (row + 0.5) * _GRID - 0.5))
    return _control(around, middle, _mottling(patches, far), chosen=False)


def chosen_control(around: Periwound, place_mm: Points) -> Control:
    """Take the control patch that a person chose, round a place of the photo.

    Raises
    ------
    ControlError
        If it lies on a wound or a sticker, or does not show skin.
    """
    if not np.isfinite(place_mm).all():
        raise ControlError(_refusal("lies off the skin"))
    middle = around.flat.from_mm(place_mm[np.newaxis])[0]
    inside = _disc(around, middle)
    if not inside.any():
        raise ControlError(_refusal("lies too far from the wound"))
    if (around.from_any_mm[inside] == 0).any():
        raise ControlError(_refusal("reaches into a wound"))
    if around.stickers[inside].any():
        raise ControlError(_refusal("reaches onto the sticker"))
    if around.skin[inside].mean() < _AT_LEAST:
        raise ControlError(_refusal("shows too little skin, or skin that is hairy, in glare or in deep shadow"))
    patches = _patches(around)
    usable = patches.usable
    far = _far(patches, usable) if usable.any() else usable
    return _control(around, middle, _mottling(patches, far), chosen=True)


def _refusal(why: str) -> str:
    return (
        f"The circle of skin that you chose {why}: choose a place in the middle of even, unreddened skin, "
        "away from wounds and sticker."
    )


def _disc(around: Periwound, middle: Points) -> Mask:
    """Tell which pixels lie in the patch round a place of the raster."""
    inside = np.zeros(around.skin.shape, np.uint8)
    centre, radius = np.rint(middle * 16).astype(int).tolist(), round(RADIUS_MM / STEP_MM * 16)
    cv2.circle(inside, centre, radius, 1, cv2.FILLED, cv2.LINE_8, 4)
    return inside > 0


def _control(around: Periwound, middle: Points, spread: NDArray[np.float64], *, chosen: bool) -> Control:
    inside = _disc(around, middle)
    column, row = np.clip(np.rint(middle), 0, np.array(inside.shape[::-1]) - 1).astype(int)
    x, y = around.flat.places_px[row, column].tolist()
    colours = np.median(around.flat.lab[inside & around.skin], axis=0).astype(np.float64)
    return Control((x, y), RADIUS_MM, chosen, float(around.from_any_mm[row, column]), colours, spread)


def _patches(around: Periwound) -> _Patches:
    """Average over the skin of each disc."""
    size = tuple(side // _GRID for side in around.skin.shape[::-1])
    skin = around.skin.astype(np.float32)
    colours = [plane * skin for plane in cv2.split(around.flat.lab)]
    planes = [skin, *colours, colours[0] * around.flat.lab[..., 0]]
    share, lightness, a, b, squares = (_averaged(plane, size) for plane in planes)
    joined = _averaged(around.joined.astype(np.float32), size)
    share_or_little = np.maximum(share, np.float32(1e-3))
    mean = np.dstack([lightness, a, b]) / share_or_little[..., np.newaxis]
    uneven = np.sqrt(np.maximum(squares / share_or_little - mean[..., 0] ** 2, 0))
    away = cv2.resize(np.minimum(around.from_any_mm, _BEYOND_MM), size, interpolation=cv2.INTER_AREA)
    return _Patches(
        share, joined, mean.astype(np.float32), uneven.astype(np.float32), np.asarray(away, dtype=np.float32)
    )


def _averaged(values: Map, size: tuple[int, ...]) -> Map:
    """Average over the disc round each place of the coarser grid; what lies outside counts as 0."""
    reach = int(RADIUS_MM / (_GRID * STEP_MM))
    rows, columns = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    disc = (np.hypot(rows, columns) * _GRID * STEP_MM <= RADIUS_MM).astype(np.float32)
    small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.filter2D(small, -1, disc / disc.sum(), borderType=cv2.BORDER_CONSTANT), dtype=np.float32)


def _far(patches: _Patches, usable: Mask) -> Mask:
    """Tell which usable patches lie out of the wounds' reach; the farthest third where none does."""
    far = usable & (patches.away_mm >= FAR_MM)
    if np.count_nonzero(far) * (_GRID * STEP_MM) ** 2 >= np.pi * RADIUS_MM**2:
        return far
    return np.asarray(usable & (patches.away_mm >= np.quantile(patches.away_mm[usable], 2 / 3)))


def _worth(patches: _Patches, far: Mask) -> Map:
    """Return how good a control each patch would be, 0 to 1."""
    usual = np.median(patches.mean[far], axis=0)
    lit = np.percentile(patches.mean[far][:, 0], _WELL_LIT)
    worth = np.minimum(patches.away_mm, _ENOUGH_MM) / _ENOUGH_MM * patches.share
    worth = worth * _bell(patches.uneven / _UNEVEN)
    worth = worth * _bell((patches.mean[..., 1] - usual[1]) / _UNUSUAL)
    return np.asarray(worth * _bell(np.maximum(lit - patches.mean[..., 0], 0) / _DIM), dtype=np.float32)


def _bell(value: Map) -> Map:
    return np.asarray(np.exp(-0.5 * value**2), dtype=np.float32)


def _mottling(patches: _Patches, far: Mask) -> NDArray[np.float64]:
    """Return the standard deviation of colours from patch to patch: those that don't overlap, and what is usual.

    Pooled variances, the usual one as if it came from 3 more patches.
    """
    every = max(1, round(2 * RADIUS_MM / (_GRID * STEP_MM)))
    apart = np.zeros_like(far)
    apart[every // 2 :: every, every // 2 :: every] = True
    found = patches.mean[far & apart].astype(np.float64)
    squares = np.square(found - found.mean(axis=0)).sum(axis=0) if len(found) else np.zeros(3)
    return np.sqrt((squares + _USUAL_WEIGHT * _USUAL_SPREAD**2) / (max(len(found) - 1, 0) + _USUAL_WEIGHT))
