"""A value with its standard uncertainty in its own unit, for what may be nothing or less than nothing."""

from dataclasses import dataclass

from measure.uncertainty import COVERAGE_FACTOR


@dataclass(frozen=True)
class Estimate:
    """A difference or a rate: it may be 0 and still be uncertain, so its uncertainty is not relative.

    Attributes
    ----------
    value : float
        In ``unit``.
    unit : str
        UCUM code, as ``cm`` or ``%``.
    standard_uncertainty : float
        In ``unit``; NaN where it is not known.
    """

    value: float
    unit: str
    standard_uncertainty: float

    @property
    def expanded_uncertainty(self) -> float:
        """U = k u with k = `measure.uncertainty.COVERAGE_FACTOR`, in ``unit``."""
        return COVERAGE_FACTOR * self.standard_uncertainty

    def divided(self, exact: float, unit: str) -> "Estimate":
        """Return it per so much of something that is known exactly and is more than 0, as a number of weeks."""
        return Estimate(self.value / exact, unit, self.standard_uncertainty / exact)
