"""How one visit's wound was laid over another's, and how well that is known."""

from dataclasses import dataclass
from typing import Literal

from measure.compare.placement import Placement

Method = Literal["skin", "outlines", "hand"]
"""By marks in the skin round the wound, by the outlines alone, or turned by a person and shifted by the outlines."""


@dataclass(frozen=True)
class Fit:
    """A later wound plane laid on a picture of the earlier one.

    Attributes
    ----------
    placement : Placement
        From the later plane to the picture.
    method : {"skin", "outlines", "hand"}
    turn_deg : float
        By which the later photo was turned, clockwise, after both stickers' axes had been laid parallel.
    shift_mm : tuple of two float
        To the right and down, from the middle of the earlier wound to the middle of the later one.
    turn_sigma_deg : float
        Standard uncertainty of the turn.
    shift_sigma_mm : float
        Standard uncertainty of the shift, in x or y.
    other_turn_deg : float, optional
        Another turn by which the outlines fit about as well.
    patches, agreeing : int
        Of skin round the wound that were looked for, and that were found where this fit puts them.
    """

    placement: Placement
    method: Method
    turn_deg: float
    shift_mm: tuple[float, float]
    turn_sigma_deg: float
    shift_sigma_mm: float
    other_turn_deg: float | None = None
    patches: int = 0
    agreeing: int = 0
