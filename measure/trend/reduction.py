"""By how much of itself a wound's area became smaller: the percentage area reduction, 100 (A0 - At) / A0."""

import math

from measure.trend.estimate import Estimate
from measure.uncertainty import Quantity


def reduction(earlier: Quantity, later: Quantity) -> Estimate:
    """Return the percentage area reduction between two visits; less than 0 where the wound grew.

    Its uncertainty is 100 At/A0 hypot(c0, ct) percentage points, with the relative uncertainties c of both areas
    (propagation to first order, JCGM 100:2008, 5.1.2). The areas are taken as independent of each other. They are not
    quite: stickers of one batch share the error of their print, and one hand may always draw a little too far out. What
    they share cancels in the ratio, so what is said here is too wide rather than too narrow.

    Parameters
    ----------
    earlier, later : Quantity
        Areas in one unit; 0 for a later one is a wound that is healed.

    Returns
    -------
    Estimate
        In percent; NaN where the earlier area is not more than nothing.
    """
    if not earlier.value > 0:
        return Estimate(math.nan, "%", math.nan)
    left = later.value / earlier.value
    spread = math.hypot(earlier.relative_uncertainty, later.relative_uncertainty)
    return Estimate(100 * (1 - left), "%", 100 * left * spread if left else 0.0)
