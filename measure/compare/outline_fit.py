"""Lays a later outline in an earlier one so that the edge advanced as evenly as possible all round.

An outline says nothing else of where it lay: with it alone an edge that advanced on one side can't be told from a
shift, and a round wound doesn't tell its turn. So the turn is held near that of the stickers' axes as far as the
outlines don't speak against it, and what is left open becomes an uncertainty.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import least_squares
from shapely.geometry import Polygon

from calibration.solution import inverse
from calibration.sticker import Points
from measure.compare.advance import gilman_mm
from measure.compare.fitting import Fit
from measure.compare.placement import about, within_half

STICKER_SIGMA_DEG = 15.0
"""By how much two stickers are laid differently by people who lay them alike (an estimate; no published figure)."""

LAID_ANEW = 12.0
"""Squares over their variance from which on a sticker was rather laid along another side: 3.5 sigma."""

HELD_SIGMA_DEG, HELD_ANOTHER_WAY = 45.0, 4.0
"""By how much two photos are turned that were taken from the same side, and squares over their variance from which on
they were rather not: it decides only between turns that are alike otherwise (estimates)."""

UNEVEN_SHARE, LEAST_UNEVEN_MM = 0.3, 0.5
"""Standard deviation of the advance along an edge: healing is uneven by a third of itself, and hands tremble (an
estimate; no published figure)."""

INDEPENDENT = 12
"""Parts of an edge that heal on their own: as many as hours of a clock (an estimate)."""

TURN_KNOWN_DEG = 8.0
"""Standard uncertainty of a turn above which an outline is round: it doesn't tell its turn."""

HAND_SIGMA_DEG = 2.0
"""Standard uncertainty of a turn that a person sets by looking at both pictures (an estimate)."""

_BY_HAND_DEG = 1e-3  # how firmly such a turn is held
_POINTS = 144
_STARTS_DEG = range(-165, 181, 15)
_STARTS = 5  # of these from which a fit is solved
_STEP_MM = 0.25  # of the map of distances
_MARGIN_MM = 30.0
_WEIGHT = float(np.sqrt(INDEPENDENT / _POINTS))
_ALIKE = 6.0  # squares over their variance: a turn that fits no worse than that may be the right one
_APART_DEG = 30.0
_USUAL = (5.0, 1.0, 1.0, 1.0)  # sizes of a step: degrees and mm
_CALLS = 40


@dataclass(frozen=True, eq=False)
class _Distances:
    """How far places lie outside a shape, negative inside; bilinear in a map."""

    low_mm: Points
    values: NDArray[np.float32]

    @classmethod
    def of(cls, shape: Polygon) -> "_Distances":
        low = np.array(shape.bounds[:2]) - _MARGIN_MM
        size = np.ceil((np.array(shape.bounds[2:]) + _MARGIN_MM - low) / _STEP_MM).astype(int)
        inside = np.zeros(size[::-1], np.uint8)
        rings = [shapely.get_coordinates(ring) for ring in (shape.exterior, *shape.interiors)]
        cv2.fillPoly(inside, [np.rint((ring - low) / _STEP_MM * 16).astype(np.int32) for ring in rings], 1, shift=4)
        out, deep = (cv2.distanceTransform(part, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) for part in (1 - inside, inside))
        return cls(low, np.asarray((out - deep) * _STEP_MM, dtype=np.float32))

    def at(self, points_mm: Points) -> NDArray[np.float64]:
        """Return the distances of points (N, 2); beyond the map that of its border and the way there."""
        places = (points_mm - self.low_mm) / _STEP_MM
        last = np.array(self.values.shape[::-1]) - 1.001
        held = np.clip(places, 0, last)
        whole = held.astype(int)
        (u, v), (x, y) = (held - whole).T, whole.T
        rows = [self.values[y + row, x] * (1 - u) + self.values[y + row, x + 1] * u for row in (0, 1)]
        beyond = np.linalg.norm(places - held, axis=1) * _STEP_MM
        return np.asarray(rows[0] * (1 - v) + rows[1] * v + beyond)


class _Solved(NamedTuple):
    values: NDArray[np.float64]  # turn in degrees, shift in x and y, advance
    cost: float  # squares over their variance, of advance and turn
    jacobian: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class OutlineFit:
    """Two outlines to be laid over one another.

    Attributes
    ----------
    earlier : Polygon
        In the picture.
    later : Polygon
        On its own plane.
    parallel_deg : float
        Turn from the later plane to the picture that lays both stickers' axes parallel.
    upright_deg : float
        Further turn that would bring the later photo's top to the top of the picture.
    """

    earlier: Polygon
    later: Polygon
    parallel_deg: float
    upright_deg: float

    def best(self) -> Fit:
        """Return the fit whose edge advanced most evenly, the stickers' axes considered."""
        held = self._solved(0.0, STICKER_SIGMA_DEG)
        free = [self._solved(start, None) for start in self._likely()]
        found = min((held, *free), key=lambda solved: solved.cost)
        if found is not held and abs(found.values[0]) < 2 * STICKER_SIGMA_DEG:
            found = held
        fit = self._fit(found, by_hand=False)
        return fit if fit.turn_sigma_deg > TURN_KNOWN_DEG else replace(fit, other_turn_deg=self._other(found, free))

    def _likely(self) -> list[float]:
        """Return the turns to start from at which the outlines, middle on middle, lie most evenly already."""
        rough = {
            float(start): float(np.square(self._misfit(start, None)(self._start(start))).sum()) for start in _STARTS_DEG
        }
        return sorted(rough, key=rough.__getitem__)[:_STARTS]

    def turned(self, turn_deg: float) -> Fit:
        """Return the fit with a turn that a person set."""
        return self._fit(self._solved(turn_deg, _BY_HAND_DEG), by_hand=True)

    def _fit(self, solved: _Solved, *, by_hand: bool) -> Fit:
        turn, *shift, _ = solved.values.tolist()
        middles = _middle(self.later), _middle(self.earlier)
        placement = about(middles[0], self.parallel_deg + turn, middles[1] + shift - middles[0])
        sigmas = np.sqrt(np.diag(inverse(solved.jacobian.T @ solved.jacobian)))
        one_sided = UNEVEN_SHARE * abs(gilman_mm(self.earlier, self.later))
        return Fit(
            placement,
            "hand" if by_hand else "outlines",
            within_half(turn),
            (shift[0], shift[1]),
            HAND_SIGMA_DEG if by_hand else float(min(sigmas[0], STICKER_SIGMA_DEG)),
            float(np.hypot(np.linalg.norm(sigmas[1:3]) / np.sqrt(2), one_sided)),
        )

    def _other(self, best: _Solved, free: list[_Solved]) -> float | None:
        """Return another turn that fits as well: of an oval that is laid upside down."""
        rivals = [
            solved
            for solved in free
            if solved.cost - best.cost < _ALIKE and abs(within_half(solved.values[0] - best.values[0])) > _APART_DEG
        ]
        if not rivals:
            return None
        return within_half(float(min(rivals, key=lambda solved: solved.cost).values[0]))

    def _solved(self, start_deg: float, sigma_deg: float | None) -> _Solved:
        """Fit from a turn; with a sigma it is held near there."""
        start = self._start(start_deg)
        steps = np.array([0.2, 0.1, 0.1, 0.1]) / np.maximum(np.abs(start), 1.0)  # beyond the cells of the map
        misfit = self._misfit(start_deg, sigma_deg)
        found = least_squares(misfit, start, x_scale=_USUAL, diff_step=steps, max_nfev=_CALLS)
        apart = float(np.square(found.fun[:_POINTS]).sum())
        laid = min((within_half(found.x[0]) / STICKER_SIGMA_DEG) ** 2, LAID_ANEW)
        held = min((within_half(found.x[0] - self.upright_deg) / HELD_SIGMA_DEG) ** 2, HELD_ANOTHER_WAY)
        return _Solved(found.x, apart + laid + held, found.jac)

    def _start(self, turn_deg: float) -> NDArray[np.float64]:
        return np.array([turn_deg, 0.0, 0.0, gilman_mm(self.earlier, self.later)])

    def _misfit(
        self, start_deg: float, sigma_deg: float | None
    ) -> Callable[[NDArray[np.float64]], NDArray[np.float64]]:
        """Return what is left of turn in degrees, shift in x and y, and advance: by how much each point is off."""
        uneven = max(LEAST_UNEVEN_MM, UNEVEN_SHARE * abs(gilman_mm(self.earlier, self.later)))
        middles = _middle(self.later), _middle(self.earlier)
        places, distances = self._places, self._distances

        def misfit(values: NDArray[np.float64]) -> NDArray[np.float64]:
            placement = about(middles[0], self.parallel_deg + values[0], middles[1] + values[1:3] - middles[0])
            left = _robust((distances.at(placement.back(places)) - values[3]) / uneven) * _WEIGHT
            return left if sigma_deg is None else np.append(left, (values[0] - start_deg) / sigma_deg)

        return misfit

    @cached_property
    def _places(self) -> Points:
        """Points evenly along the earlier outline."""
        places = np.arange(_POINTS) * self.earlier.exterior.length / _POINTS
        return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(self.earlier.exterior, places)))

    @cached_property
    def _distances(self) -> _Distances:
        return _Distances.of(self.later)


def _robust(left: NDArray[np.float64]) -> NDArray[np.float64]:
    """Let deviations grow like their root beyond one sigma (soft L1): a side that heals on its own has less to say."""
    return np.asarray(np.sign(left) * np.sqrt(2 * (np.sqrt(1 + left**2) - 1)))


def _middle(shape: Polygon) -> Points:
    middle: Points = shapely.get_coordinates(Polygon(shape.exterior).centroid)[0]
    return middle
