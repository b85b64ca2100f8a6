"""The lamp's colour, the unevenness of its light and the camera's tone, from white paper and grey patches.

Let z be the logarithm of the light that the photo shows of a place in one channel. Then

    z + tone(z) = log of what the print reflects + level of the channel + log of the relative light at the place

where tone(z) is a straight line and a parabola, both small: a camera that brightens the middle or raises contrast.
What the print reflects is known up to the ink floor and up to an error of each grey in each channel, which all its
patches share. All unknowns have prior standard deviations, so that what the photo does not tell stays as it
usually is; the equations are linear, and solved with Tukey's weights (Beaton and Tukey 1974, Technometrics 16, 147),
which leave out what does not fit the rest. Clipped and dark channels are left away one by one: the lamp at 2700 K
clips red long before it leaves enough blue.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.evenness import Evenness
from calibration.patches import HEM, PAPER, Reading
from calibration.prints import GREY_SIGMA, HEM_SIGMA, INK_FLOOR, INK_FLOOR_SIGMA, drawn, printed
from calibration.sticker import Points

Values = NDArray[np.float64]

LEVELS_FOR_TONE = 4
"""Different greys, paper counting as one, without which a camera's tone can't be told from an error of the print."""

_TONE_SIGMA = (0.08, 0.05)  # of its line and parabola, a ln unit: contrast settings of telephones (common practice)
_STEEPEST = 0.4  # change of the tone's slope by line and by parabola: beyond it no camera's
_READING_SIGMA = 0.02  # ln units: structure of the paper, JPEG, blur from beside
_DEPARTURES = {0.03: 0.0, 0.1: 4.0, 0.3: 12.0}  # ln units, from plain light to a shadow that swallows a third, with
# minus twice the log of how rare that is: one photo in 7, one in 400 without a sign of it
_CUT = 4.685  # standard deviations: keeps 95 % of the efficiency (Beaton and Tukey)
_FIRST_CUT = (0.15, 3.0)  # ln units from the median: so much, and so many departures; the largest keeps both halves of
# a sticker in half shadow, the least leaves out what lies in the shade of a glove
_ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Tone:
    """The tone that turns the photo's light into the scene's: ln(scene) = z + line z + parabola, beyond ends straight.

    Attributes
    ----------
    line, parabola : float
    low, middle, high : float
        In ln of the photo's light: the ends of what the greys show, and their mean.
    """

    line: float
    parabola: float
    low: float
    middle: float
    high: float

    @staticmethod
    def bend(z: Values, low: float, middle: float, high: float) -> Values:
        """Return the parabola of unit curvature about the middle, going on straight beyond the ends."""
        held = np.clip(z, low, high) - middle
        return np.asarray(held**2 / 2 + held * (z - middle - held))

    def __call__(self, z: Values) -> Values:
        """Return ln of the scene's light for ln of the photo's."""
        straight = z + self.line * (z - self.middle)
        return np.asarray(straight + self.parabola * self.bend(z, self.low, self.middle, self.high))


@dataclass(frozen=True, eq=False)
class Neutral:
    """What makes a print's neutrals neutral.

    Attributes
    ----------
    level : ndarray of shape (3,)
        ln of the light that paper gives in the middle of the sticker, after the tone.
    tone : Tone
    evenness : Evenness
    terms : ndarray of shape (evenness.terms,)
        Of the light.
    departure : float
        Standard deviation of the light's departure from a plane.
    covariance : ndarray of shape (1 + terms, 1 + terms)
        Of the mean level and the terms.
    floor : float
        The ink floor.
    fits : ndarray of bool, shape (N,)
        Which of the readings agree with the rest.
    has_tone : bool
        Whether there were enough greys to tell the tone.
    """

    level: Values
    tone: Tone
    evenness: Evenness
    terms: Values
    departure: float
    covariance: Values
    floor: float
    fits: NDArray[np.bool_]
    has_tone: bool

    def relative(self, light: Values, places_px: Points) -> Values:
        """Return what reflects so much of the paper's light, (N, 3), from the photo's light (N, 3) at places (N, 2)."""
        z = np.log(np.maximum(light, 1e-5))
        fall = self.evenness.design(places_px) @ self.terms
        return np.asarray(np.exp(self.tone(z) - self.level - fall[:, np.newaxis]))

    def light_sigma(self, places_px: Points) -> Values:
        """Return the relative standard uncertainty of the light at places (N, 2)."""
        design = self.evenness.design(places_px)
        known = np.square(design[:, 2:]).sum(axis=1)
        full = np.hstack([np.ones((len(design), 1)), design])
        told = np.einsum("ni,ij,nj->n", full, self.covariance, full)
        return np.asarray(np.sqrt(np.maximum(told, 0) + self.departure**2 * np.maximum(1 - known, 0)))


@dataclass(frozen=True, eq=False)
class _Equations:
    """The linear equations of all readable channels: ``right = design @ unknowns``, in ln units."""

    right: Values
    design: Values
    sigma: Values
    spot: NDArray[np.intp]
    names: tuple[str, ...]
    tone: tuple[float, float, float]
    prior: Values
    has_tone: bool

    def solved(self, weights: Values, prior: Values) -> tuple[Values, Values]:
        """Return the unknowns and their inverse covariance, with weights (M,) and prior standard deviations."""
        scaled = self.design * (weights / self.sigma**2)[:, np.newaxis]
        normal = scaled.T @ self.design + np.diag(prior**-2.0)
        return np.linalg.solve(normal, scaled.T @ self.right).astype(np.float64), normal


@dataclass(frozen=True, eq=False)
class NeutralFit:
    """The equations with what robust fitting made of them, ready to be solved without one grey.

    Attributes
    ----------
    neutral : Neutral
        The solution.
    """

    neutral: Neutral
    _equations: _Equations
    _weights: Values

    def without(self, name: str) -> Neutral | None:
        """Solve again without a grey, at the weights and the unevenness found with it; None if it is all there is."""
        equations = self._equations
        weights = self._weights * (np.array(equations.names)[equations.spot] != name)
        channels = equations.design[:, :3].T @ weights
        if not channels.all():
            return None
        return _solution(self._equations, self.neutral.evenness, weights, self.neutral.departure)


def fit_neutral(readings: Sequence[Reading], evenness: Evenness) -> NeutralFit | None:
    """Fit white paper and greys; None where some channel can't be read anywhere."""
    equations = _equations(readings, evenness)
    if equations is None:
        return None
    trials = [_robust(equations, evenness, departure) for departure in _DEPARTURES]
    _, departure, weights = min(trials, key=lambda trial: trial[0])
    return NeutralFit(_solution(equations, evenness, weights, departure), equations, weights)


def _equations(readings: Sequence[Reading], evenness: Evenness) -> _Equations | None:
    """Set up: unknown are 3 levels, the light's terms, line and parabola of the tone, the floor, and greys' errors."""
    readable = np.array([reading.readable for reading in readings]).reshape(-1, 3)
    if not readable.any(axis=0).all():
        return None
    spot, channel = np.nonzero(readable)
    light = np.array([reading.light for reading in readings])[readable]
    noise = np.array([reading.noise for reading in readings])[readable]
    names = tuple(reading.name for reading in readings)
    groups = sorted({name for name, seen in zip(names, readable, strict=True) if name != PAPER and seen.any()})
    shades = {PAPER if name in {PAPER, HEM} else name for name, seen in zip(names, readable, strict=True) if seen.any()}
    z = np.log(light)
    ends = float(np.quantile(z, 0.02)), float(z.mean()), float(np.quantile(z, 0.98))
    shown = np.array([printed(name) for name in names])[readable]
    inked = np.array([drawn(name) for name in names])[readable]
    fall = evenness.design(np.array([reading.place for reading in readings]))[spot]
    own = [(np.array(names)[spot] == group) & (channel == c) for group in groups for c in range(3)]
    design = np.column_stack(
        [np.eye(3)[channel], fall, ends[1] - z, -Tone.bend(z, *ends), (1 - inked) / shown, *own]
    ).astype(np.float64)
    told = len(shades) >= LEVELS_FOR_TONE
    own_sigma = np.repeat([HEM_SIGMA if group == HEM else GREY_SIGMA for group in groups], 3)
    tone_sigma = np.array(_TONE_SIGMA) if told else np.full(2, 1e-6)
    prior = np.concatenate([np.full(3, 10.0), evenness.prior_sigma(1.0), tone_sigma, [INK_FLOOR_SIGMA], own_sigma])
    sigma = np.hypot(_READING_SIGMA, noise / light)
    return _Equations(z - np.log(shown), design, sigma, spot, names, ends, prior, told)


def _prior(equations: _Equations, evenness: Evenness, departure: float) -> Values:
    prior = equations.prior.copy()
    prior[3 : 3 + evenness.terms] = evenness.prior_sigma(departure)
    return prior


def _robust(equations: _Equations, evenness: Evenness, departure: float) -> tuple[float, float, Values]:
    """Return what a departure from even light costs (minus twice the log evidence), itself, and weights (M,)."""
    prior = _prior(equations, evenness, departure)
    weights = _first_weights(equations, _FIRST_CUT[0] + _FIRST_CUT[1] * departure)
    cost = np.inf
    for _ in range(_ROUNDS):
        unknowns, normal = equations.solved(weights, prior)
        off = (equations.right - equations.design @ unknowns) / equations.sigma
        weights, loss = _tukey(off, equations.spot, len(equations.names))
        cost = loss + float(np.square(unknowns / prior).sum() + np.linalg.slogdet(normal)[1] + 2 * np.log(prior).sum())
    return cost + _DEPARTURES[departure], departure, weights


def _first_weights(equations: _Equations, cut: float) -> Values:
    """Return 1 for what lies within a band round the median of its channel, else 0; shape (M,)."""
    channel = equations.design[:, :3].argmax(axis=1)
    middle = np.array([np.median(equations.right[channel == c]) for c in range(3)])
    return np.where(np.abs(equations.right - middle[channel]) < cut, 1.0, 0.0)


def _tukey(off: Values, spot: NDArray[np.intp], count: int) -> tuple[Values, float]:
    """Return Tukey's weights (M,) and the sum of his loss, by the root mean square over the channels of a spot."""
    channels = np.maximum(np.bincount(spot, minlength=count), 1)
    square = np.bincount(spot, np.square(off), count) / channels / _CUT**2
    inside = np.maximum(1 - square, 0)
    loss = _CUT**2 / 3 * (1 - inside**3)
    return np.asarray((inside**2)[spot]), float((loss * channels).sum())


def _solution(equations: _Equations, evenness: Evenness, weights: Values, departure: float) -> Neutral:
    prior = _prior(equations, evenness, departure)
    unknowns, normal = equations.solved(weights, prior)
    light = slice(3, 3 + evenness.terms)
    line, parabola, floor = unknowns[3 + evenness.terms : 6 + evenness.terms]
    mean_level = np.zeros((1 + evenness.terms, len(unknowns)))
    mean_level[0, :3] = 1 / 3
    mean_level[1:, light] = np.eye(evenness.terms)
    kept = np.zeros(len(equations.names), bool)
    kept[equations.spot[weights > 0]] = True
    return Neutral(
        level=unknowns[:3],
        tone=_tone(float(line), float(parabola), *equations.tone),
        evenness=evenness,
        terms=unknowns[light],
        departure=departure,
        covariance=mean_level @ np.linalg.solve(normal, mean_level.T),
        floor=float(np.clip(INK_FLOOR + floor, 0.005, 0.15)),
        fits=kept,
        has_tone=equations.has_tone,
    )


def _tone(line: float, parabola: float, low: float, middle: float, high: float) -> Tone:
    """Return a tone held to what cameras do, so that it always rises."""
    steepest = _STEEPEST / max(high - middle, middle - low, 1e-6)
    held = np.clip((line, parabola), (-_STEEPEST, -steepest), (_STEEPEST, steepest))
    return Tone(float(held[0]), float(held[1]), low, middle, high)
