"""The tone of skin as its individual typology angle, and the classes that go with it.

ITA = arctan((L* - 50) / b*) in degrees, of CIE Lab colours under D65; Chardon, Cretois and Hourseau 1991, Int. J.
Cosmet. Sci. 13, 191.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

CLASSES = (("very light", 55.0), ("light", 41.0), ("intermediate", 28.0), ("tan", 10.0), ("brown", -30.0))
"""Name of each class and the angle in degrees above which it begins, lightest first; below the last skin is dark."""

DARK = "dark"
"""The class below all of `CLASSES`."""

_UNKNOWN_DEG = 180 / math.sqrt(12)  # standard deviation of an angle that may be any from -90 to 90 degrees


def typology_angle(lab: ArrayLike) -> float:
    """Return the typology angle in degrees, from -90 to 90, of one colour (L*, a*, b*).

    The quotient changes its sign where b* does, so that very light skin without yellow would come out as the darkest.
    No skin is bluer than grey; noise and a correction that is a little off may make it seem so. There the angle stays
    at the end that L* says: 90 if it is above 50, -90 below. NaN for a middle grey, which has no angle.
    """
    lightness, _, yellow = (float(value) for value in np.asarray(lab, dtype=np.float64))
    if yellow <= 0 and lightness == 50:
        return math.nan
    return math.degrees(math.atan2(lightness - 50, max(yellow, 0.0)))


def angle_sigma(lab: ArrayLike, lightness_sigma: float, yellow_sigma: float) -> float:
    """Return the standard uncertainty of the typology angle in degrees, to first order (JCGM 100:2008, 5.1.2).

    At most that of an angle of which nothing is known, 52 degrees: near middle grey the first order has no bounds.

    Parameters
    ----------
    lab : array_like of shape (3,)
    lightness_sigma, yellow_sigma : float
        Standard uncertainties of L* and b*, independent of one another.
    """
    lightness, _, yellow = (float(value) for value in np.asarray(lab, dtype=np.float64))
    squares = (lightness - 50) ** 2 + yellow**2
    if squares == 0:
        return _UNKNOWN_DEG
    share = math.hypot(yellow * lightness_sigma, (lightness - 50) * yellow_sigma) / squares
    return min(math.degrees(share), _UNKNOWN_DEG)


def skin_class(ita_deg: float) -> str:
    """Return the class of a typology angle in words; an angle on a border belongs to the darker one."""
    return next((name for name, above in CLASSES if ita_deg > above), DARK)
