"""The hand of an invented nurse: an outline drawn along the true edge, off by as little as people draw."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import LinearRing, Polygon

from measure.outline import Outline

_OFF_MM = 0.2
"""Root-mean-square of a drawn edge about the true one, to which edges are drawn at best (`measure.checks`)."""

_STEP_MM = 1.2  # between points that are set
_LEAST, _MOST = 24, 160  # points of an outline
_ALIKE = 2.0  # points over which the hand stays off to one side


@dataclass(frozen=True)
class Hand:
    """How somebody draws.

    Attributes
    ----------
    off_mm : float
        Root-mean-square of the drawn edge about the one that is meant.
    lean_mm : float
        How far outside of the true edge the one lies that is meant; negative inside.
    """

    off_mm: float = _OFF_MM
    lean_mm: float = 0.0


def drawn_by_hand(
    edge_px: NDArray[np.float64],
    mm_per_px: float,
    random: np.random.Generator,
    hand: Hand = Hand(),
) -> Outline:
    """Return the outline that a hand draws along a true edge, shape (N, 2), in photo pixels."""
    ring = LinearRing(edge_px)
    count = int(np.clip(ring.length * mm_per_px / _STEP_MM, _LEAST, _MOST))
    places = (np.arange(count) + random.uniform(0, 1)) / count
    points = np.array([ring.interpolate(float(place), normalized=True).coords[0] for place in places % 1.0])
    off = gaussian_filter1d(random.normal(0, 1, count), _ALIKE, mode="wrap")
    off *= hand.off_mm / mm_per_px / max(float(np.sqrt((off**2).mean())), 1e-9)
    off += (1 if ring.is_ccw else -1) * hand.lean_mm / mm_per_px
    for share in (1.0, 0.5, 0.25, 0.0):  # where a narrow wound would cross itself, the hand goes slower
        moved = points + share * off[:, None] * _across(points)
        if Polygon(moved).is_valid:
            break
    return Outline(np.round(moved, 1))


def _across(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a unit vector at right angles to the edge at each point, shape (N, 2).

    It points outwards where the edge runs round from the x axis to the y axis.
    """
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    across = np.column_stack([along[:, 1], -along[:, 0]])
    return np.asarray(across / np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-9))
