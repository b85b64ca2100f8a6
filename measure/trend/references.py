"""How fast wounds of some kinds became smaller in studies: lines to look at, never a verdict on one wound."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from measure.record.entries import Kind


@dataclass(frozen=True)
class Reference:
    """A percentage area reduction by some week, as published.

    Attributes
    ----------
    weeks : int
        Since the first measurement.
    low, high : float
        In percent; the same where there is but one figure.
    short : str
        Who says so, for the edge of a chart.
    sentence : str
        What was found, in plain words.
    source : str
        Where to look it up.
    """

    weeks: int
    low: float
    high: float
    short: str
    sentence: str
    source: str

    @property
    def figure(self) -> str:
        """Its figure in words: ``53 % less by week 4``."""
        percent = f"{self.low:.0f}" if self.low == self.high else f"{self.low:.0f} to {self.high:.0f}"
        return f"{percent} % less by week {self.weeks}"


MIDPOINT = Reference(
    4,
    53.0,
    53.0,
    "Sheehan 2003",
    "In a study of diabetic foot ulcers the middle of all was 53 % less area in four weeks: of those above it 58 % "
    "were healed at 12 weeks, of those below it 9 %.",
    "Sheehan and others, Diabetes Care 2003;26:1879-82",
)

BY_WEEK_THREE = Reference(
    3,
    40.0,
    40.0,
    "Phillips 2000",
    "In a study of venous leg ulcers, whether the area was 40 % less by week 3 told the outcome of more than 70 % of "
    "them.",
    "Phillips and others, J Am Acad Dermatol 2000;43:627-30",
)

TAUGHT = Reference(
    4,
    20.0,
    40.0,
    "rule as taught",
    "A rule that is taught: wounds on their way to close by week 12 are 20 to 40 % smaller at four weeks.",
    "Woo and Sibbald 2009, as quoted in open textbooks",
)

REFERENCES: Mapping[Kind, tuple[Reference, ...]] = MappingProxyType(
    {
        Kind.DIABETIC_FOOT: (MIDPOINT,),
        Kind.VENOUS_LEG: (BY_WEEK_THREE, TAUGHT),
        Kind.PRESSURE: (TAUGHT,),
    }
)
"""By kind of wound. The change of area over the first four weeks tells most of how venous leg ulcers go on (Kantor and
Margolis, Br J Dermatol 2000;142). For other kinds no figure is known here that holds for them."""


def references(kind: Kind) -> tuple[Reference, ...]:
    """Return what is known for a kind of wound; empty where nothing is."""
    return REFERENCES.get(kind, ())
