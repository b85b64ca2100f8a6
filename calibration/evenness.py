"""How evenly light can fall: a plane in its logarithm, and smooth departures from that near the sticker.

Places are in "plain mm": px of the photo from the middle of the sticker, times the millimetres that a px is there.
The logarithm of the light is a slope in x and y plus a Gaussian process with a squared exponential covariance
(Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, chapter 2; knots as in 8.3.4). Far from the
sticker the process falls back to 0 with its full standard deviation, so a shadow over half of the sticker makes the
light at the wound uncertain, as it should.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.sticker import Points

Values = NDArray[np.float64]

SLOPE_SIGMA = 0.25
"""Standard deviation of the slope, in ln units over 100 mm: a lamp 0.6 m away at 45 degrees (inverse square)."""

LENGTH_MM = 15.0
"""Reach of a departure: the soft edge of a hand's shadow, and vignetting over a sticker."""

_SPACING_MM = 12.0  # of the knots, less than the reach
_NUGGET = 1e-6  # keeps knots apart numerically


@dataclass(frozen=True, eq=False)
class Evenness:
    """Where the light is described.

    Attributes
    ----------
    middle : ndarray of shape (2,)
        Of the sticker, in px of the photo.
    mm_per_px : float
        There.
    knots : ndarray of shape (K, 2)
        In plain mm.
    whitening : ndarray of shape (K, K)
        Turns covariances with the knots into independent terms of unit standard deviation.
    """

    middle: Points
    mm_per_px: float
    knots: Points
    whitening: Values

    @classmethod
    def over(cls, places_px: Points, mm_per_px: float) -> "Evenness":
        """Describe the light over some places (N, 2) of the photo."""
        middle = (places_px.min(axis=0) + places_px.max(axis=0)) / 2
        mm = (places_px - middle) * mm_per_px
        knots = np.unique(np.rint(mm / _SPACING_MM), axis=0) * _SPACING_MM
        covariance = _covariance(knots, knots) + _NUGGET * np.eye(len(knots))
        return cls(middle, mm_per_px, knots, np.linalg.inv(np.linalg.cholesky(covariance)).T)

    @property
    def terms(self) -> int:
        """Number of columns of `design`."""
        return 2 + len(self.knots)

    def design(self, places_px: Points) -> Values:
        """Return what multiplies the slopes (a 100 mm) and the terms of the process at places (N, 2): (N, terms)."""
        mm = (places_px - self.middle) * self.mm_per_px
        return np.hstack([mm / 100, _covariance(mm, self.knots) @ self.whitening])

    def prior_sigma(self, departure: float) -> Values:
        """Return the standard deviations of all terms, with that of a departure from the plane."""
        return np.concatenate([np.full(2, SLOPE_SIGMA), np.full(len(self.knots), departure)])

    def log_light(self, terms: Values, x_px: Values, y_px: Values) -> NDArray[np.float32]:
        """Return the logarithm of the light on the grid of places x (W,) and y (H,), shape (H, W)."""
        x, y = (x_px - self.middle[0]) * self.mm_per_px, (y_px - self.middle[1]) * self.mm_per_px
        weights = self.whitening @ terms[2:]
        columns = np.vstack([np.exp(-0.5 * ((x - self.knots[:, :1]) / LENGTH_MM) ** 2), x / 100, np.ones_like(x)])
        across = np.exp(-0.5 * ((y[:, np.newaxis] - self.knots[:, 1]) / LENGTH_MM) ** 2) * weights
        rows = np.column_stack([across, np.full_like(y, terms[0]), terms[1] * y / 100])
        return np.asarray(rows.astype(np.float32) @ columns.astype(np.float32))


def _covariance(one: Points, other: Points) -> Values:
    away2 = np.square(one[:, np.newaxis] - other).sum(axis=2)
    return np.asarray(np.exp(-0.5 * away2 / LENGTH_MM**2))
