"""How residuals change with the unknowns of a camera's pose: exact, where differences would need many projections.

The chain is skin (a sticker's place, a limb's bend), camera (turn, shift), lens (focal length, distortion).
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.model import FOCAL_SLOT, Matched, Unknowns
from calibration.projection import Bend, Matrix
from calibration.sticker import Points

_FLAT = 1e-4  # turn in radians below which the second terms of its series are lost in rounding anyway


def slopes(unknowns: Unknowns, values: NDArray[np.float64], points: Matched) -> Matrix:
    """Differentiate `Unknowns.residuals` of a pose or a limb by each unknown, shape (2 N, unknowns).

    The points must lie before the camera.
    """
    turn, by_turn = cv2.Rodrigues(values[:3])
    surface, moves = _on_skin(unknowns, values, points)
    turned = surface @ by_turn.reshape(3, 3, 3).swapaxes(1, 2)
    shifted = np.broadcast_to(np.eye(3)[:, None], turned.shape)
    seen = surface @ turn.T + values[3:6]
    by_camera, focal, k1 = _through_lens(seen, np.concatenate([turned, shifted, moves @ turn.T]), values, unknowns)
    placements = 4 * unknowns.others
    before, placed, bent = np.split(by_camera, [FOCAL_SLOT, FOCAL_SLOT + placements])
    columns = np.concatenate([before, focal[None], placed, k1[None], bent])
    return np.asarray((columns / points.sigma[:, None]).reshape(len(columns), -1).T, dtype=np.float64)


def _through_lens(
    seen: Points, moves: NDArray[np.float64], values: NDArray[np.float64], unknowns: Unknowns
) -> tuple[NDArray[np.float64], Points, Points]:
    """Return px (M, N, 2) for moves (M, N, 3) of points seen at (N, 3) in mm of the camera; px by log focal, by k1."""
    focal, k1 = np.exp(values[FOCAL_SLOT]), values[unknowns.lens]
    slope = seen[:, :2] / seen[:, 2:]
    radius2 = np.square(slope).sum(axis=1, keepdims=True)
    by_move = (moves[..., :2] - slope * moves[..., 2:]) / seen[:, 2:]
    outward = (by_move * slope).sum(axis=2, keepdims=True)
    growth = 1 + k1 * radius2
    return focal * (growth * by_move + 2 * k1 * outward * slope), focal * growth * slope, focal * radius2 * slope


def _on_skin(
    unknowns: Unknowns, values: NDArray[np.float64], points: Matched
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the points (N, 3) over the tangent plane, depth last, and their change with placements and bend."""
    mm = unknowns.placed(values, points)
    moves = unknowns.placed_by(values, points)
    bend = unknowns.bend(values)
    if bend is None:
        return _with_depth(mm, np.zeros(len(mm))), _with_depth(moves, np.zeros(moves.shape[:2]))
    places, depth = bend.rolled(mm)
    return _with_depth(places, depth), np.concatenate([_carried(bend, mm, moves), _by_bend(bend, mm, places)])


def _with_depth(places: NDArray[np.float64], depth: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([places, depth[..., None]], axis=-1)


def _carried(bend: Bend, mm: Points, moves: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how points on a limb move, (M, N, 3), when their unrolled places move by (M, N, 2)."""
    _, around = bend.axes
    turn = bend.curvature * ((mm - bend.through_mm) @ around)
    round_it = moves @ around
    return _with_depth(moves + (round_it * (np.cos(turn) - 1))[..., None] * around, round_it * np.sin(turn))


def _by_bend(bend: Bend, mm: Points, places: Points) -> NDArray[np.float64]:
    """Return how points on a limb move with its curvature and with the direction of its axis, shape (2, N, 3)."""
    along, around = bend.axes
    away = mm - bend.through_mm
    arc, lengthwise, across = away @ around, away @ along, (places - bend.through_mm) @ around
    turn = bend.curvature * arc
    flat = np.abs(turn) < _FLAT
    safe = np.where(flat, 1.0, turn)
    pulled = arc**2 * np.where(flat, -turn / 3, (safe * np.cos(safe) - np.sin(safe)) / safe**2)
    sunk = arc**2 * np.where(flat, 0.5, (safe * np.sin(safe) - 1 + np.cos(safe)) / safe**2)
    turned = np.outer(lengthwise * (1 - np.cos(turn)), around) + np.outer(arc - across, along)
    return np.stack([_with_depth(np.outer(pulled, around), sunk), _with_depth(turned, -lengthwise * np.sin(turn))])
