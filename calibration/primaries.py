"""The camera's own red, green and blue against those of sRGB: a matrix from the colour patches.

Once neutrals are neutral, other primaries (a photo in Display P3 read as sRGB, a camera that deepens colours) are a
matrix whose rows sum to 1, which leaves neutrals alone. Each channel is then itself plus shares of its distances to
the two others: two unknowns a channel, held near 0 by a ridge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.prints import COLOUR_SIGMA

Values = NDArray[np.float64]

COLOURS_FOR_MATRIX = 4
"""Distinct colours for the two unknowns of each channel: one more than twice as many equations, to leave one out."""

_SHARE_SIGMA = 0.12  # of the unknowns: Display P3 read as sRGB needs 0.22 at most and 0.1 as a rule
_LEAST_LIGHT = 0.02  # of paper's: keeps the relative error of dark patches finite
_CUT = 4.0  # standard deviations, by the root mean square of a patch's channels
_ROUNDS = 4
_OTHERS = ((1, 2), (0, 2), (0, 1))


@dataclass(frozen=True, eq=False)
class Primaries:
    """A matrix, and what it was fitted to.

    Attributes
    ----------
    matrix : ndarray of shape (3, 3)
        Turns relative light of neutral neutrals into that of sRGB primaries.
    weights : ndarray of shape (N,)
        Of the patches; 0 for what does not fit the others.
    """

    matrix: Values
    weights: Values


def fit_primaries(seen: Values, shown: Values) -> Primaries:
    """Fit the matrix that turns what is seen of patches (N, 3) into what was printed (N, 3), leaving outliers out."""
    sigma = _sigma(shown)
    off = (seen - shown) / sigma
    weights = (np.sqrt(np.square(off).mean(axis=1)) < 2 * _CUT).astype(np.float64)
    matrix = np.eye(3)
    for _ in range(_ROUNDS):
        matrix = matrix_of(seen, shown, weights)
        off = (seen @ matrix.T - shown) / sigma
        weights = np.square(np.maximum(1 - np.square(off).mean(axis=1) / _CUT**2, 0))
    return Primaries(matrix, weights)


def matrix_of(seen: Values, shown: Values, weights: Values) -> Values:
    """Return the matrix (3, 3) by least squares with weights (N,)."""
    scale = np.sqrt(weights)[:, np.newaxis] / _sigma(shown)
    matrix = np.eye(3)
    for channel, others in enumerate(_OTHERS):
        apart = (seen[:, others] - seen[:, [channel]]) * scale
        missing = (shown[:, channel] - seen[:, channel]) * scale[:, 0]
        shares = np.linalg.solve(apart.T @ apart + np.eye(2) / _SHARE_SIGMA**2, apart.T @ missing)
        matrix[channel, others] += shares
        matrix[channel, channel] -= shares.sum()
    return matrix


def _sigma(shown: Values) -> Values:
    return np.asarray(COLOUR_SIGMA * (shown.mean(axis=1, keepdims=True) + _LEAST_LIGHT))
