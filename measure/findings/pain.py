"""How much a wound hurts, as the person says: 0 to 10."""

from collections.abc import Mapping
from types import MappingProxyType

from measure.findings.form import whole

ENDS: Mapping[int, str] = MappingProxyType({0: "no pain", 10: "the worst pain imaginable"})
"""What the two ends of the scale are called when a person is asked (numeric rating scale: common practice)."""

SEVERE = 7
"""From here on pain is called severe (Serlin et al., Pain 61(2):277-284, 1995; from memory)."""


def rating(value: object) -> int:
    """Return a rating of pain.

    Raises
    ------
    FindingError
        If it is no whole number from 0 to 10.
    """
    return whole(value, "Pain", 0, 10)
