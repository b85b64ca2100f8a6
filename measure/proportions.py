"""Proportions of a wound's area, with their uncertainty in percentage points."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from measure.uncertainty import COVERAGE_FACTOR


@dataclass(frozen=True)
class Share:
    """A proportion of a wound's area.

    A share may be none and still be uncertain, so its components are percentage points, not relative.

    Attributes
    ----------
    percent : float
        0 to 100.
    components : mapping of str to float
        Standard uncertainty in percentage points, by cause; causes are independent.
    """

    percent: float
    components: Mapping[str, float]

    @property
    def standard_uncertainty(self) -> float:
        """In percentage points: root sum of squares of the components (JCGM 100:2008, 5.1.2)."""
        return math.hypot(*self.components.values())

    @property
    def expanded_uncertainty(self) -> float:
        """In percentage points, with k = `measure.uncertainty.COVERAGE_FACTOR`."""
        return COVERAGE_FACTOR * self.standard_uncertainty
