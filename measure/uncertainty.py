"""Measured values with their standard uncertainty and what it is made of (JCGM 100:2008, the GUM)."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from scipy.special import stdtrit

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
        Relative standard uncertainty by its cause; NaN where it is not known. Causes are independent of each other: a
        cause that acts in several ways at once is one component.
    component_dof : mapping of str to float
        Degrees of freedom of components, by the same names, each at least 1; a component that is not named here is
        taken as well known, with infinitely many. A component that is itself known to a share r has 1 / (2 r**2)
        (JCGM 100:2008, G.4.2).

    Raises
    ------
    ValueError
        If degrees of freedom are given for no component, or are less than 1.
    """

    value: float
    unit: str
    components: Mapping[str, float]
    component_dof: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse degrees of freedom that mean nothing, and keep the budget from being changed."""
        for name, dof in self.component_dof.items():
            if name not in self.components:
                known = ", ".join(f"'{component}'" for component in self.components) or "none"
                raise ValueError(f"Degrees of freedom are given for '{name}', which is no component; known: {known}.")
            if not dof >= 1:
                raise ValueError(f"The component '{name}' has {dof} degrees of freedom; give at least 1.")
        object.__setattr__(self, "components", MappingProxyType(dict(self.components)))
        object.__setattr__(self, "component_dof", MappingProxyType(dict(self.component_dof)))

    @property
    def relative_uncertainty(self) -> float:
        """Root sum of squares of the components: independent causes (JCGM 100:2008, 5.1.2); NaN if one is NaN."""
        return math.sqrt(math.fsum(share**2 for share in self.components.values()))

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty, in ``unit``."""
        return abs(self.value) * self.relative_uncertainty

    @property
    def expanded_uncertainty(self) -> float:
        """U = k u with k = `COVERAGE_FACTOR`, in ``unit``."""
        return COVERAGE_FACTOR * self.standard_uncertainty

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom of the combined uncertainty: u**4 / sum(u_i**4 / dof_i).

        The formula of Welch and Satterthwaite (JCGM 100:2008, G.4.1). Infinite where every component is well known or
        nothing is uncertain, NaN where a component is not known.
        """
        total = self.relative_uncertainty
        if not total > 0:
            return math.inf if total == 0 else math.nan
        spread = math.fsum(
            (share / total) ** 4 / self.component_dof.get(name, math.inf) for name, share in self.components.items()
        )
        return 1 / spread if spread > 0 else math.inf

    def coverage_factor(self, probability: float) -> float:
        """Return the k for which the interval value +- k u holds a share of what the quantity may be.

        Student's t, two-sided, with the effective degrees of freedom cut to a whole number (JCGM 100:2008, G.6.4; not
        rounded: 16.75 is 16). `expanded_uncertainty` does not use it: charts need one k for all numbers.

        Parameters
        ----------
        probability : float
            Between 0 and 1, as 0.95.

        Returns
        -------
        float
            NaN where a component is not known.

        Raises
        ------
        ValueError
            If the probability is not between 0 and 1.
        """
        if not 0 < probability < 1:
            raise ValueError(f"A coverage probability of {probability} was given; it lies between 0 and 1, as 0.95.")
        dof = self.degrees_of_freedom
        whole = math.floor(dof) if math.isfinite(dof) else dof
        return float(stdtrit(whole, (1 + probability) / 2))

    def scaled(self, factor: float, unit: str) -> "Quantity":
        """Return the same quantity in another unit, or times an exact number."""
        return Quantity(self.value * factor, unit, self.components, self.component_dof)
