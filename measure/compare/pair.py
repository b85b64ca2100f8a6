"""Two visits of one wound laid over one another: at one scale, in one direction, with how far the edge advanced.

The pictures show both wound planes as the earlier photo was held, its top at the top. The stickers' axes lay them
parallel; then the skin round the wound tells turn and shift where enough of it can be found in both photos, or else
the outlines do. The turn may be set by hand: a sticker may have been laid along another side of the wound.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from calibration.sticker import Points
from measure.compare import skin_fit
from measure.compare.advance import Advance, Doubt, advance
from measure.compare.fitting import Fit
from measure.compare.laid_out import LaidOut
from measure.compare.outline_fit import TURN_KNOWN_DEG, OutlineFit
from measure.compare.placement import Placement, about, within_half
from measure.flat import Mask
from measure.photo import Pixels
from measure.view import disc

MARGIN_MM = 12.0
"""Of skin round both wounds in the pictures."""

LONGEST_PX = 1400
"""Longer side of a picture: fills a desk's screen."""

FINEST_MM = 0.04
"""Of a picture's pixel; finer ones show nothing more of skin."""

_GUESSES_DEG = (0, -6, 6, -12, 12, -18, 18, -24, 24)  # beside the turn of the outlines
_OVERLAP = 0.5  # of the smaller wound that lies on the other one, else skin was found in the wrong place


@dataclass(frozen=True, eq=False)
class Pictures:
    """Both wounds as seen from straight above.

    Attributes
    ----------
    earlier, later : ndarray of uint8, shape (h, w, 3)
        RGB.
    low_mm : ndarray of shape (2,)
        Where the middle of the first pixel lies.
    step_mm : float
        Of a pixel.
    """

    earlier: Pixels
    later: Pixels
    low_mm: Points
    step_mm: float

    def from_mm(self, points_mm: Points) -> Points:
        """Carry points (N, 2) to px of the pictures."""
        return np.asarray((points_mm - self.low_mm) / self.step_mm)

    def rings(self, shape: Polygon) -> list[Points]:
        """Return outline and islands in px of the pictures, not closed."""
        return [self.from_mm(shapely.get_coordinates(ring)[:-1]) for ring in (shape.exterior, *shape.interiors)]


@dataclass(frozen=True, eq=False)
class Pair:
    """Two visits in one picture, whose origin is the middle of the earlier wound.

    Attributes
    ----------
    earlier, later : LaidOut
    placed : Placement
        From the earlier plane to the picture.
    fit : Fit
        How the later one was laid over it.
    """

    earlier: LaidOut
    later: LaidOut
    placed: Placement
    fit: Fit

    @cached_property
    def earlier_mm(self) -> Polygon:
        """The earlier wound in the picture."""
        return self.placed.of(self.earlier.shape_mm)

    @cached_property
    def later_mm(self) -> Polygon:
        """The later wound in the picture."""
        return self.fit.placement.of(self.later.shape_mm)

    @property
    def doubt(self) -> Doubt:
        """What makes the advance uncertain."""
        sides = self.earlier.traced.precision, self.later.traced.precision
        edges, scales = ((getattr(sides[0], name), getattr(sides[1], name)) for name in ("edge_mm", "scale"))
        return Doubt(edges, scales, self.fit.shift_sigma_mm, self.fit.turn_sigma_deg)

    def advance(self, head_deg: float = 0.0) -> Advance:
        """Measure how far the edge moved.

        Parameters
        ----------
        head_deg : float
            Direction of 12 o'clock, clockwise from the top of the picture.
        """
        return advance(self.earlier_mm, self.later_mm, self.doubt, head_deg)

    def pictures(self) -> Pictures:
        """Lay both photos out round both wounds."""
        low, high = _box(self.earlier_mm, self.later_mm, MARGIN_MM)
        finest = max(FINEST_MM, self.earlier.mm_per_px, self.later.mm_per_px)
        step = max(finest, float((high - low).max()) / LONGEST_PX)
        first, _ = self.earlier.picture(self.placed, low, high, step)
        second, _ = self.later.picture(self.fit.placement, low, high, step)
        return Pictures(first, second, low, step)


def aligned(earlier: LaidOut, later: LaidOut, turn_deg: float | None = None) -> Pair:
    """Lay a later visit over an earlier one.

    Parameters
    ----------
    earlier, later : LaidOut
        As of `measure.compare.laid_out.lay_out`.
    turn_deg : float, optional
        By which a person turned the later photo, clockwise, after both stickers' axes had been laid parallel.
    """
    up = earlier.up_deg
    placed = about(earlier.middle_mm, -up, -earlier.middle_mm)
    fit_to = OutlineFit(placed.of(earlier.shape_mm), later.shape_mm, -up, up - later.up_deg)
    if turn_deg is not None:
        return Pair(earlier, later, placed, fit_to.turned(turn_deg))
    by_outlines = fit_to.best()
    pair = Pair(earlier, later, placed, by_outlines)
    by_skin = _by_skin(pair, up)
    return pair if by_skin is None else replace(pair, fit=by_skin)


def _by_skin(pair: Pair, up_deg: float) -> Fit | None:
    """Return the fit on which the skin round the wound agrees; None where it doesn't, or away from the outlines."""
    low, high = _box(pair.earlier_mm, pair.earlier_mm, skin_fit.REACH_MM)
    middle = pair.later.middle_mm
    parallel = about(middle, -up_deg, -middle)
    box = low, high, skin_fit.STEP_MM
    first, second = (_marks(pair.earlier, pair.placed, box), _marks(pair.later, parallel, box))

    def near(turns_deg: Iterable[int]) -> list[Placement]:
        return [Placement(within_half(pair.fit.turn_deg + turn), pair.fit.shift_mm) for turn in turns_deg]

    found = skin_fit.find(first, second, low, near(_GUESSES_DEG))
    if found is None and pair.fit.turn_sigma_deg > TURN_KNOWN_DEG:
        found = skin_fit.find(first, second, low, near(range(30, 331, 6)), turns_deg=np.empty(0))
    if found is None:
        return None
    placement = parallel.then(found.placement)
    if not _overlap(pair.earlier_mm, placement.of(pair.later.shape_mm)):
        return None
    return Fit(
        placement,
        "skin",
        found.placement.turn_deg,
        found.placement.shift_mm,
        found.turn_sigma_deg,
        found.shift_sigma_mm,
        None,
        found.patches,
        found.agreeing,
    )


def _marks(laid: LaidOut, placement: Placement, box: tuple[Points, Points, float]) -> skin_fit.Marks:
    low, _, step = box
    pixels, seen = laid.picture(placement, *box)
    off_px = skin_fit.KEEP_OFF_MM / step
    other = laid.stickers(placement, low, seen.shape, step) | _filled(placement.of(laid.shape_mm), low, seen, step)
    near = cv2.dilate((other | ~seen).astype(np.uint8), disc(off_px))
    round_wound = cv2.dilate(
        _filled(placement.of(laid.shape_mm), low, seen, step).astype(np.uint8), disc(skin_fit.REACH_MM / step)
    )
    return skin_fit.marks_of(pixels, (near == 0) & (round_wound > 0))


def _filled(shape: Polygon, low_mm: Points, like: Mask, step_mm: float) -> Mask:
    covered = np.zeros(like.shape, np.uint8)
    ring = (shapely.get_coordinates(shape.exterior) - low_mm) / step_mm
    cv2.fillPoly(covered, [np.rint(ring * 16).astype(np.int32)], 1, cv2.LINE_8, shift=4)
    return covered > 0


def _overlap(one: Polygon, other: Polygon) -> bool:
    return bool(one.intersection(other).area >= _OVERLAP * min(one.area, other.area))


def _box(one: Polygon, other: Polygon, margin_mm: float) -> tuple[Points, Points]:
    left, top, right, bottom = MultiPolygon([Polygon(one.exterior)]).union(Polygon(other.exterior)).bounds
    return np.array([left, top]) - margin_mm, np.array([right, bottom]) + margin_mm
