"""How far a wound's edge moved inward on average: difference of the areas over the mean of the perimeters.

For a circle it is the difference of the radii, whatever its size, so large and small wounds can be compared (Gilman,
Wounds 1990;2:95-101).
"""

import math
from dataclasses import dataclass
from datetime import datetime

from measure.days import weeks_between
from measure.trend.estimate import Estimate
from measure.uncertainty import Quantity


@dataclass(frozen=True)
class Outlined:
    """Area in cm2 and perimeter in cm of one outline, and when it was seen."""

    at: datetime
    area: Quantity
    perimeter: Quantity


@dataclass(frozen=True)
class Advance:
    """The linear advance of a wound's edge between two visits.

    Attributes
    ----------
    total : Estimate
        In cm; less than 0 where the wound grew.
    weeks : float
        Between the visits.
    """

    total: Estimate
    weeks: float

    @property
    def per_week(self) -> Estimate:
        """In cm a week; NaN where no time lies between the visits."""
        if not self.weeks > 0:
            return Estimate(math.nan, "cm/wk", math.nan)
        return self.total.divided(self.weeks, "cm/wk")


def linear_advance(earlier: Outlined, later: Outlined) -> Advance:
    """Return how far the edge advanced: 2 (A1 - A2) / (p1 + p2).

    Causes act on area and perimeter of one outline together: an edge drawn too far out makes both larger, and so does a
    scale that is off. So each cause counts once an outline, with its effects on both added (JCGM 100:2008, 5.2.2,
    correlation 1); outlines are independent of each other, as areas are in `measure.trend.reduction.reduction`.
    """
    around = earlier.perimeter.value + later.perimeter.value
    weeks = weeks_between(earlier.at, later.at)
    if not around > 0:
        return Advance(Estimate(math.nan, "cm", math.nan), weeks)
    advance = 2 * (earlier.area.value - later.area.value) / around
    variance = _variance(earlier, 2, advance) + _variance(later, -2, advance)
    return Advance(Estimate(advance, "cm", math.sqrt(variance) / around), weeks)


def _variance(outlined: Outlined, by_area: float, advance: float) -> float:
    """Return what one outline adds to the variance, times the square of both perimeters together."""
    area, perimeter = outlined.area, outlined.perimeter
    causes = area.components.keys() | perimeter.components.keys()
    return math.fsum(
        (
            by_area * area.value * area.components.get(cause, 0.0)
            - advance * perimeter.value * perimeter.components.get(cause, 0.0)
        )
        ** 2
        for cause in causes
    )
