"""How a photo is blurred, read from the black-white edges of its sticker.

Only the sticker's edges are known to be sharp: skin and wound may be smooth by nature. So blur is measured at the
saddle points nearest the wound, and holds for the wound as far as both are equally far from the camera.

Along a line across an edge let u rise from 0 to 1. For a Gaussian blur of standard deviation s the integral of
u (1 - u) is s / sqrt(pi); for a straight smear of length L, whose standard deviation is L / sqrt(12), it is L / 6,
which differs by 2 %. So neither the kind of blur nor the place of the edge matters much. In a checkerboard
neighbouring edges flatten each other; a table undoes that. Clipped white makes edges look narrower than they are.

Edges run along two directions, and a diagonal smear widens both alike. The saddle points tell it apart: where blur
across one edge and blur across the other have the correlation r, black or white fills 1/2 + arcsin(r) / pi of the
crossing (orthant probability of the normal distribution; Sheppard 1899, Phil. Trans. R. Soc. A 192, 101).
"""

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from calibration.detect import Sticker
from calibration.plane import Plane
from calibration.sticker import Points

Values = NDArray[np.float64]

WIDTH_10_90 = 2.563
"""Width of an edge from 10 to 90 % in standard deviations of a Gaussian blur: twice the normal quantile of 0.9."""

_NEAREST = 16  # saddle points: fewer are noisy, more lie farther from the wound
_ARMS = np.array((-0.5, 0.5))  # of a cell: edges begin at a saddle point and end at the next ones
_ALONG = np.linspace(-0.2, 0.2, 5)  # of a cell: where an edge is crossed, away from its ends
_ACROSS = np.linspace(-0.5, 0.5, 33)  # of a cell
_END = 3  # samples at either end of a profile that are black or white without their edge
_LEAST_STEP = 0.01  # of linear light: below it there is no edge
_QUADRANTS = np.array([(0.5, 0.5), (-0.5, -0.5), (-0.5, 0.5), (0.5, -0.5)])


@dataclass(frozen=True)
class Blur:
    """How sharp edges look, in mm on the wound plane; NaN where it can't be told.

    Attributes
    ----------
    edge_mm : float
        Width of an edge from 10 to 90 %, in the direction in which it is least.
    smear_mm : float
        Length of a straight smear that explains by how much edges are wider in another direction.
    """

    edge_mm: float
    smear_mm: float


@dataclass(frozen=True, eq=False)
class Crossings:
    """Saddle points and their surroundings in linear light.

    Attributes
    ----------
    px : ndarray of shape (N, 2)
        Where they are in the photo.
    steps : ndarray of shape (N, 2, 2)
        One cell along the layout's x and along its y, in px; columns are the steps.
    signs : ndarray of shape (N,)
        +1 where the cell towards +x and +y is black, else -1.
    light : ndarray of shape (h, w)
        Linear light round them, 0 to 1.
    origin : ndarray of shape (2,)
        First pixel of ``light``, in px of the photo.
    """

    px: Points
    steps: Values
    signs: Values
    light: NDArray[np.float32]
    origin: Points

    def sample(self, places: Points) -> Values:
        """Return the light at places (..., 2) of the photo."""
        x, y = np.moveaxis((places - self.origin).astype(np.float32), -1, 0)
        flat = cv2.remap(self.light, x.reshape(-1, 1), y.reshape(-1, 1), cv2.INTER_LINEAR)
        return np.asarray(flat, dtype=np.float64).reshape(x.shape)

    def cells(self) -> tuple[Values, Values]:
        """Return the light of the two white and of the two black cells at each point, two arrays (N, 2)."""
        light = self.sample(self.px[:, None] + np.einsum("nij,kj->nki", self.steps, _QUADRANTS))
        own, other = light[:, :2], light[:, 2:]
        black_first = self.signs[:, None] > 0
        return np.where(black_first, other, own), np.where(black_first, own, other)


def crossings(pixels: NDArray[np.uint8], sticker: Sticker, plane: Plane, place_mm: Points) -> Crossings:
    """Return the saddle points of a sticker that lie nearest a place (2,) on its plane."""
    away = np.linalg.norm(sticker.points_mm[: sticker.saddles] - place_mm, axis=1)
    nearest = np.argsort(away)[:_NEAREST]
    px, mm = sticker.points_px[nearest], sticker.points_mm[nearest]
    steps = plane.projection.px_steps(mm, sticker.layout.hem.pitch)
    reach = math.ceil(float(np.abs(steps).sum(axis=2).max())) + 1
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - reach, 0)
    right, bottom = np.ceil(px.max(axis=0)).astype(int) + reach + 1
    part = pixels[low[1] : bottom, low[0] : right]
    light = np.asarray(cv2.LUT(cv2.cvtColor(part, cv2.COLOR_RGB2GRAY), linear_light()), dtype=np.float32)
    return Crossings(px, steps, sticker.layout.hem.signs(mm), light, low.astype(np.float64))


def measure_blur(crossings: Crossings, plane: Plane) -> Blur:
    """Measure the blur at saddle points."""
    across_x, across_y = _deviation(crossings, 1), _deviation(crossings, 0)
    both = _correlation(crossings) * across_x * across_y
    in_cells = np.array([(across_x**2, both), (both, across_y**2)])
    step = crossings.steps.mean(axis=0)
    in_px = step @ in_cells @ step.T
    if not np.isfinite(in_px).all():
        return Blur(math.nan, math.nan)
    least, most = np.clip(np.linalg.eigvalsh(in_px), 0.0, None)
    mm_per_px = plane.mm_per_px(crossings.px.mean(axis=0))
    return Blur(mm_per_px * WIDTH_10_90 * math.sqrt(least), mm_per_px * math.sqrt(12 * (most - least)))


def _deviation(crossings: Crossings, along: int) -> float:
    """Return the deviation of the blur across the edges that run along x (0) or y (1), in cells; NaN without any."""
    profiles = _profiles(crossings, along)
    first, last = profiles[:, :_END].mean(axis=1), profiles[:, -_END:].mean(axis=1)
    clear = np.abs(last - first) > _LEAST_STEP
    if not clear.any():
        return math.nan
    rising = (profiles[clear] - first[clear, None]) / (last - first)[clear, None]
    measured, true = _flattening()
    return float(np.interp(np.median(_width(rising)), measured, true))


def _profiles(crossings: Crossings, along: int) -> Values:
    """Light across the edges that run along x (0) or y (1), each averaged along its edge; shape (M, len(_ACROSS))."""
    way, other = crossings.steps[:, :, along], crossings.steps[:, :, 1 - along]
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.linalg.norm(way, axis=1, keepdims=True)
    across = normal * (normal * other).sum(axis=1, keepdims=True)
    starts = (_ARMS[:, None] + _ALONG).ravel()
    places = (
        crossings.px[:, None, None]
        + starts[:, None, None] * way[:, None, None]
        + _ACROSS[:, None] * across[:, None, None]
    )
    light = crossings.sample(places).reshape(len(way), len(_ARMS), len(_ALONG), len(_ACROSS))
    return np.asarray(light.mean(axis=2).reshape(-1, len(_ACROSS)))


def _width(rising: Values) -> Values:
    """Return the deviations of blurred edges, in cells, from profiles (M, len(_ACROSS)) that rise from 0 to 1."""
    step = _ACROSS[1] - _ACROSS[0]
    return np.asarray(np.sqrt(np.pi) * step * (rising * (1 - rising)).sum(axis=1))


@cache
def _flattening() -> tuple[Values, Values]:
    """Return what `_width` gives in an endless checkerboard, and the deviations in cells that it stands for.

    The checkerboard is a square wave, whose harmonics a Gaussian blur damps one by one.
    """
    true = np.linspace(0.005, 0.5, 100)
    order = np.arange(1, 400, 2)[:, None, None]
    damped = np.exp(-((np.pi * order * true[:, None]) ** 2) / 2)
    wave = (damped * np.sin(np.pi * order * _ACROSS) / order).sum(axis=0)
    first, last = wave[:, :_END].mean(axis=1, keepdims=True), wave[:, -_END:].mean(axis=1, keepdims=True)
    return _width((wave - first) / (last - first)), true


def _correlation(crossings: Crossings) -> float:
    """Correlation of the blur along x and along y; ink that spreads fills every crossing, so both signs share it."""
    white, black = crossings.cells()
    white, black = white.mean(axis=1), black.mean(axis=1)
    middle = crossings.sample(crossings.px)
    filled = (white - middle) / np.maximum(white - black, _LEAST_STEP) - 0.5
    kinds = [filled[crossings.signs == sign] for sign in (1.0, -1.0)]
    if not all(len(kind) for kind in kinds):
        return 0.0
    plus, minus = (float(np.median(kind)) for kind in kinds)
    return math.sin(math.pi * min(max((plus - minus) / 2, -0.5), 0.5))
