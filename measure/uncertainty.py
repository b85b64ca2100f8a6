"""Measured values with their standard uncertainty and what it is made of (JCGM 100:2008, the GUM)."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

COVERAGE_FACTOR = 2.0
"""k of the expanded uncertainty U = k u: about 95 % for a normal distribution (JCGM 100:2008, 6.3.3)."""


@dataclass(frozen=True)
class Quantity:
    """A value, its unit, and its uncertainty budget.

    Attributes
    ----------
    value : float
        In ``unit``.
    unit : str
        UCUM code, as ``cm`` or ``cm2``.
    components : mapping of str to float
        Relative standard uncertainty by its cause; NaN where it is not known.
    degrees_of_freedom : float
        Of the combined uncertainty; infinite where every component is taken as well known.
    """

    value: float
    unit: str
    components: Mapping[str, float]
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        """Keep the budget from being changed."""
        object.__setattr__(self, "components", MappingProxyType(dict(self.components)))

    @property
    def relative_uncertainty(self) -> float:
        """Root sum of squares of the components: independent causes (JCGM 100:2008, 5.1.2)."""
        return math.hypot(*self.components.values())

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty, in ``unit``."""
        return abs(self.value) * self.relative_uncertainty

    @property
    def expanded_uncertainty(self) -> float:
        """U = k u with k = `COVERAGE_FACTOR`, in ``unit``."""
        return COVERAGE_FACTOR * self.standard_uncertainty

    def scaled(self, factor: float, unit: str) -> "Quantity":
        """Return the same quantity in another unit, or times an exact number."""
        return Quantity(self.value * factor, unit, self.components, self.degrees_of_freedom)
