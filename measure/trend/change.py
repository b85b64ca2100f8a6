"""Whether two numbers differ by more than measuring alone makes them differ.

The smallest detectable change of a number with the standard uncertainty u is 1.96 sqrt(2) u (as Landa and others, Int
Wound J 2016;13:619-24, have it for wounds): measured twice, what has not changed differs by less in 95 of 100 pairs.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calibration.errors import EbblineError
from measure.agreement.statistic import NORMAL_95
from measure.proportions import Share
from measure.uncertainty import Quantity

TRACING = "outline placement"
"""The component of a budget that tracing the same photo again shows; the photo's own causes stay as they are in it."""

_EVERYTHING, _TRACING = "everything", "tracing"

FROM_BUDGETS = "from the uncertainty of both measurements"
"""The source of a smallest detectable change where the site has studied none of its own."""


class SiteChangeError(EbblineError):
    """A smallest detectable change that can't be used."""

    code = "unusable-site-change"


@dataclass(frozen=True)
class SiteChange:
    """The smallest detectable change of an area that a site found in a study of its own.

    Attributes
    ----------
    area_relative : float
        Of the mean of two areas, as 0.2.
    source : str
        What a reader can look up.
    tracing_only : bool
        Whether the same photos were traced again: what taking another photo adds comes from the budgets then. Otherwise
        the study holds everything that makes two measurements differ.
    """

    area_relative: float
    source: str
    tracing_only: bool = False


@dataclass(frozen=True)
class Change:
    """A difference, and the smallest one that measuring can tell from nothing.

    Attributes
    ----------
    difference : float
        Later less earlier, in ``unit``.
    unit : str
    smallest : float
        Smallest detectable change, in ``unit``; NaN where it is not known.
    source : str
        Where that comes from.
    """

    difference: float
    unit: str
    smallest: float
    source: str

    @property
    def larger(self) -> bool | None:
        """Whether it is more than noise; None where that is not known."""
        if not (math.isfinite(self.smallest) and math.isfinite(self.difference)):
            return None
        return abs(self.difference) > self.smallest

    @property
    def words(self) -> str:
        """Say it in plain words."""
        if self.larger is None:
            return "not comparable: the uncertainty is not known"
        return "larger than the measurement noise" if self.larger else "within the measurement noise"


def parse_site_change(setting: Mapping[str, Any] | None) -> SiteChange | None:
    """Return what a site set, ``{"area_relative": 0.2, "source": text}``; None where it set nothing.

    With ``"covers": "tracing"`` the study is of tracings of the same photos; without it, of whole measurements.

    Raises
    ------
    SiteChangeError
        If the share is not more than 0, the source is missing, or what it covers is not known.
    """
    if setting is None:
        return None
    share, source = setting.get("area_relative"), setting.get("source")
    if isinstance(share, bool) or not isinstance(share, int | float) or not 0 < share < math.inf:
        raise SiteChangeError(f"The smallest detectable change of an area is set to {share!r}; give a share, as 0.2.")
    if not isinstance(source, str) or not source.strip():
        raise SiteChangeError("The smallest detectable change is set without its source; say which study found it.")
    covers = setting.get("covers", _EVERYTHING)
    if covers not in {_EVERYTHING, _TRACING}:
        raise SiteChangeError(
            f"The smallest detectable change is said to cover {covers!r}; say 'tracing' or 'everything'."
        )
    return SiteChange(float(share), source.strip(), covers == _TRACING)


def area_change(earlier: Quantity, later: Quantity, own: SiteChange | None = None) -> Change:
    """Compare two areas, by the site's own where there is one."""
    if own is None:
        return quantity_change(earlier, later)
    smallest = own.area_relative * (earlier.value + later.value) / 2
    if not own.tracing_only:
        return Change(later.value - earlier.value, later.unit, smallest, own.source)
    photos = NORMAL_95 * math.hypot(_beside_tracing(earlier), _beside_tracing(later))
    source = f"{own.source}, with what photo and sticker add"
    return Change(later.value - earlier.value, later.unit, math.hypot(smallest, photos), source)


def _beside_tracing(quantity: Quantity) -> float:
    """Return the standard uncertainty without that of tracing, in the quantity's unit."""
    return abs(quantity.value) * math.hypot(*(share for name, share in quantity.components.items() if name != TRACING))


def quantity_change(earlier: Quantity, later: Quantity) -> Change:
    """Compare two numbers in one unit by their budgets, taken as independent of each other."""
    spread = math.hypot(earlier.standard_uncertainty, later.standard_uncertainty)
    return Change(later.value - earlier.value, later.unit, NORMAL_95 * spread, FROM_BUDGETS)


def share_change(earlier: Share, later: Share) -> Change:
    """Compare two proportions, in percentage points."""
    spread = math.hypot(earlier.standard_uncertainty, later.standard_uncertainty)
    return Change(later.percent - earlier.percent, "points", NORMAL_95 * spread, FROM_BUDGETS)
