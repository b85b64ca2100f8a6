"""Splits the covariance of a fit by cause: what a bend adds, then what the lens adds, then the points themselves."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calibration.limb import bend_columns, weak_bend
from calibration.model import UNSEEN_CURVATURE
from calibration.plane import Deviation
from calibration.projection import Bend, Matrix
from calibration.solution import Solution, inverse, root

_ROUNDNESS = 0.1
"""Relative standard deviation of a limb's curvature away from the sticker: limbs are no cylinders (an estimate)."""


def deviations(fit: Solution, twin: Solution | None = None) -> dict[str, tuple[Deviation, ...]]:
    """Split the covariance of a fit by cause: what a bend adds, then what the lens adds, then the points themselves.

    ``twin`` is a second pose that the points allow; it counts by the square root of how likely it is.
    """
    causes: dict[str, list[Deviation]] = {"curvature": [], "lens": [], "point localisation": []}
    normal = fit.jacobian.T @ fit.jacobian
    unknowns, count = fit.unknowns, len(fit.values)
    if unknowns.kind == "limb":
        bends = _root_of_last(inverse(normal), 2)
        causes["curvature"] = [_along(fit, direction) for direction in (*bends, _rounder(fit))]
        normal, count = normal[:-2, :-2], count - 2
    else:
        _, (_, axis) = weak_bend(fit)
        causes["curvature"] = [_bent(fit, axis), _bent(fit, axis + np.pi / 2)]
    covariance = inverse(normal)
    causes["lens"] = [_along(fit, _direction(covariance, unknowns.lens))]
    kept = np.delete(np.arange(count), unknowns.lens)
    covariance = inverse(normal[np.ix_(kept, kept)])
    directions = np.zeros((len(fit.values), len(kept)))
    directions[kept] = root(covariance)
    causes["point localisation"] = [_along(fit, direction) for direction in (*directions.T, *_towards(fit, twin))]
    return {cause: tuple(pairs) for cause, pairs in causes.items()}


def _towards(fit: Solution, twin: Solution | None) -> list[NDArray[np.float64]]:
    if twin is None:
        return []
    likely = 1 / (1 + np.exp((twin.squares - fit.squares) / 2))
    return [np.sqrt(likely) * (twin.values - fit.values)]


def _direction(covariance: Matrix, unknown: int) -> NDArray[np.float64]:
    """Return how all unknowns move when one moves by its standard deviation and the rest is fitted anew."""
    return np.asarray(covariance[:, unknown] / np.sqrt(covariance[unknown, unknown]))


def _root_of_last(covariance: Matrix, count: int) -> list[NDArray[np.float64]]:
    """Return the independent directions in which the last unknowns may be off, with the rest fitted anew."""
    last = covariance[-count:, -count:]
    return list((covariance[:, -count:] @ np.linalg.inv(last) @ root(last)).T)


def _rounder(fit: Solution) -> NDArray[np.float64]:
    """Return the direction in which the limb bends more strongly on either side of the sticker's middle."""
    direction = np.zeros(len(fit.values))
    direction[-2] = _ROUNDNESS * fit.values[-2]
    return direction


def _along(fit: Solution, direction: NDArray[np.float64]) -> Deviation:
    change = np.zeros(len(fit.values))
    change[: len(direction)] = direction
    return fit.unknowns.projection(fit.values + change), fit.unknowns.projection(fit.values - change)


def _bent(fit: Solution, axis: float) -> Deviation:
    """Return the projections of the bends about an axis that the points leave possible, or even hint at."""
    column = np.zeros(len(fit.left))
    s, c = np.sin(axis), np.cos(axis)
    column[: 2 * len(fit.points.mm)] = bend_columns(fit) @ (s**2, -s * c, c**2)
    jacobian = np.column_stack([fit.jacobian, column])
    normal = jacobian.T @ jacobian
    normal[-1, -1] += UNSEEN_CURVATURE**-2
    covariance = inverse(normal)
    sigma = float(np.sqrt(covariance[-1, -1]))
    hinted = -float((covariance @ jacobian.T @ fit.left)[-1])
    direction = covariance[:, -1] / sigma * float(np.hypot(1.0, hinted / sigma))
    through, axis_deg = fit.unknowns.through_mm, float(np.degrees(axis))
    plus, minus = (
        replace(
            fit.unknowns.projection(fit.values + sign * direction[:-1]),
            bend=Bend(sign * float(direction[-1]), axis_deg, through),
        )
        for sign in (1, -1)
    )
    return plus, minus
