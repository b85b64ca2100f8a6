"""What an uncertainty is made of, in the words of the person who can make it smaller.

Shares are of the variance, for these add up to 100 %: a reader need not know that standard uncertainties add in
quadrature, and a long bar is exactly where better work pays. Contributions in cm2 would add up to more than the U
beside which they stand.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from measure.uncertainty import Quantity

LEAST_SHARE = 0.01
"""Components with less of the variance are summed as `REST`: all of one changes U by half a per cent."""

REST = "the rest"

_MOSTLY = 0.05  # of the variance: what is worth a word in a line of text


class ComponentText(NamedTuple):
    """What a component is called on the page, completing 'comes from', and what would make it smaller."""

    label: str
    remedy: str


COMPONENTS: Mapping[str, ComponentText] = MappingProxyType(
    {
        "outline placement": ComponentText(
            "how exactly the edge is drawn",
            "Go along the whole edge on an enlarged photo and correct it: what is only proposed is less certain.",
        ),
        "plane offset": ComponentText(
            "sticker above or below the wound",
            "Lay the sticker on the same level as the wound's edge, and hold the camera farther away.",
        ),
        "curvature": ComponentText(
            "the curve of the limb",
            "Hold the camera straight above the middle of the wound, with the sticker close to it.",
        ),
        "lens": ComponentText(
            "the camera's lens",
            "Keep wound and sticker near the middle of the photo, without wide angle and without zoom.",
        ),
        "print scale": ComponentText(
            "the sticker's print",
            "Print at 100 %, check both lines on the sheet with a steel ruler, and throw away what is off.",
        ),
        "point localisation": ComponentText(
            "how exactly the sticker could be read",
            "Show the whole sticker, sharp and without glare, from closer or with a larger sticker.",
        ),
        "pixel sampling": ComponentText(
            "the size of the photo's pixels",
            "Move closer, and use the photo in full size.",
        ),
        "tilt not corrected": ComponentText(
            "the unknown tilt of the camera",
            "Lay a printed sticker beside the wound: from it the tilt is corrected.",
        ),
        "ruler graduation": ComponentText(
            "how exactly the ruler could be read",
            "Show a longer piece of the ruler, sharp and flat, or use a printed sticker.",
        ),
    }
)
"""Every component by its name in `Quantity.components`."""


@dataclass(frozen=True)
class Part:
    """A component's part of an uncertainty.

    Attributes
    ----------
    name : str
        As in `Quantity.components`, or `REST`.
    share : float
        Of the variance, 0 to 1.
    """

    name: str
    share: float

    @property
    def label(self) -> str:
        """What it is called on the page; its name where the table does not hold it."""
        return COMPONENTS[self.name].label if self.name in COMPONENTS else self.name

    @property
    def remedy(self) -> str:
        """What would make it smaller; empty where that is not known."""
        return COMPONENTS[self.name].remedy if self.name in COMPONENTS else ""

    @property
    def percent(self) -> str:
        """The share as text; what rounds to nothing is not nothing."""
        return f"{100 * self.share:.0f} %" if self.share >= 0.005 else "under 1 %"


def parts(quantity: Quantity) -> list[Part]:
    """Return what the uncertainty is made of: largest first, small components summed at the end as `REST`.

    Empty where the uncertainty is not known, or nothing makes one up.
    """
    total = quantity.relative_uncertainty
    if not total > 0 or not math.isfinite(total):
        return []
    every = [Part(name, (share / total) ** 2) for name, share in quantity.components.items()]
    large = sorted((part for part in every if part.share >= LEAST_SHARE), key=lambda part: -part.share)
    rest = sum(part.share for part in every if part.share < LEAST_SHARE)
    return [*large, Part(REST, rest)] if rest > 0 else large


def lead(found: list[Part]) -> str:
    """Say in a sentence where most of an uncertainty comes from; empty where that is not known."""
    if not found:
        return ""
    much = "Most" if found[0].share > 0.5 else "The largest part"
    return f"{much} of the uncertainty comes from {found[0].label}."


def mostly(quantity: Quantity) -> str:
    """Return the components worth a word, as in ``outline placement 92 %, plane offset 6 %``."""
    return ", ".join(f"{part.name} {part.percent}" for part in parts(quantity) if part.share >= _MOSTLY)
