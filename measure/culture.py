"""Where to swab a wound, if a culture is ordered: the middle of its largest clear piece of living tissue.

A swab tells what grows in the tissue only where it is pressed on living tissue: slough, eschar and pus hold what lives
on the surface of any wound. Guidelines ask to press and turn the swab over about 1 cm2 of clean, viable tissue for some
5 seconds, so that fluid comes out of it (Levine's technique). So the site is the largest circle that fits into
granulation tissue, without slough, eschar, new skin, anything unclear, glare or shadow in it.
"""

import math
from dataclasses import dataclass
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from measure.exposure import GLARE_LEVEL
from measure.rounding import rounded
from measure.skin import Map
from measure.tissue_colours import TISSUES
from measure.view import View

GRANULATION = TISSUES.index("granulation")
"""The number of granulation in a tissue map."""

ROOM_MM2 = 100.0
"""What a swab is pressed and turned over: 1 cm2 (Levine's technique, as guidelines on wound swabs give it)."""

LEAST_RADIUS_MM = 2.0
"""From the middle of a site to the nearest other thing: the tip of a swab is 4 to 5 mm thick (common practice)."""

SURE = 0.7
"""Probability from which tissue counts as granulation here: better a smaller site than one that is half slough."""

_SHADED = 0.4  # of the granulation's median light: tissue darker than that lies in a shadow or a hollow
_SPOT_MM2 = 1.0  # smaller spots are the gleam of wet granules and the gaps between them, which a swab doesn't mind

REMINDERS = (
    "Take a culture only if a provider has ordered it.",  # common practice: scope of nursing practice
    "Swab before antibiotics are started, if the order allows it.",  # therapeutic guidelines on wound swabs
    "Cleanse the wound with saline first, not with an antiseptic.",  # the same guidelines
    "Irrigation splashes: wear gloves and a gown, and protect eyes and face.",  # standard precautions: common practice
    "Press on clean, living tissue, not on slough, eschar or pus.",  # the same guidelines
    "Turn the swab over about 1 cm2 for about 5 seconds, until fluid comes out of the tissue.",  # Levine's technique
    "Write down the site and the time, on the label too.",  # common practice
    "Your facility's policy comes before this advice.",
)
"""What to think of before a swab is taken."""

NO_SITE = (
    "No place to swab was found: the photo shows no clean red tissue at least {mm:.0f} mm across, well lit and without "
    "glare. If a culture is ordered, look in the wound itself after cleansing, or ask the provider where to take it."
)


class Tissue(Protocol):
    """What is known of the tissue of a wound, as far as is needed here; see `measure.tissue.TissueMap`."""

    @property
    def view(self) -> View:
        """The part of the photo."""

    @property
    def area_mm2(self) -> Map:
        """Area (h, w) on the wound plane that each pixel stands for; 0 outside the outline."""

    @property
    def probability(self) -> Map:
        """Probability (h, w, classes) of each tissue."""

    @property
    def labels(self) -> NDArray[np.uint8]:
        """Number (h, w) of each pixel's tissue; 255 outside the outline."""


@dataclass(frozen=True)
class SwabSite:
    """Where to swab.

    Attributes
    ----------
    place_px : tuple of float
        In the photo.
    diameter_mm : float
        Of the circle of living tissue round it.
    roomy : bool
        Whether that holds `ROOM_MM2`.
    """

    place_px: tuple[float, float]
    diameter_mm: float
    roomy: bool

    @property
    def sentence(self) -> str:
        """What to say of it."""
        size = f"the marked circle of clean red tissue, {self.diameter_mm:.0f} mm across"
        if self.roomy:
            return f"If a culture is ordered: swab {size}."
        return f"If a culture is ordered: swab {size}; it is smaller than the 1 cm2 that a swab should be turned over."


@dataclass(frozen=True)
class NoSite:
    """That there is no place to swab, and why."""

    sentence: str


def swab_site(tissue: Tissue) -> SwabSite | NoSite:
    """Find the largest circle of living tissue, in sight and well lit.

    Lengths come from the area of each pixel; under a tilted camera they are a mean over its directions.
    """
    viable = _viable(tissue)
    depth_px = cv2.distanceTransform(np.pad(viable.astype(np.uint8), 1), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]
    radius_mm = np.maximum(depth_px - 0.5, 0) * np.sqrt(tissue.area_mm2)  # the edge runs half-way to the next pixel
    row, column = np.unravel_index(np.argmax(radius_mm), radius_mm.shape)
    radius = float(radius_mm[row, column])
    if radius < LEAST_RADIUS_MM:
        return NoSite(NO_SITE.format(mm=2 * LEAST_RADIUS_MM))
    x, y = tissue.view.to_photo(np.array([(column, row)], dtype=np.float64))[0].tolist()
    return SwabSite((x, y), 2 * radius, math.pi * radius**2 >= ROOM_MM2)


def _viable(tissue: Tissue) -> NDArray[np.bool_]:
    """Tell which pixels surely show living tissue, neither in glare nor in shadow."""
    granulation = np.asarray((tissue.labels == GRANULATION) & (tissue.area_mm2 > 0))
    if not granulation.any():
        return granulation
    light = linear_light()[tissue.view.picture].max(axis=2)
    shaded = _large(light < _SHADED * float(np.median(light[granulation])), tissue.area_mm2)
    glare = _large(tissue.view.picture.min(axis=2) >= GLARE_LEVEL, tissue.area_mm2)
    return np.asarray(granulation & (tissue.probability[..., GRANULATION] >= SURE) & ~shaded & ~glare)


def _large(spots: NDArray[np.bool_], area_mm2: Map) -> NDArray[np.bool_]:
    """Leave out spots that are too small to matter."""
    _, labels = cv2.connectedComponents(spots.astype(np.uint8), connectivity=8)
    area = np.bincount(labels.ravel(), area_mm2.ravel())
    return np.asarray(spots & (area >= _SPOT_MM2)[labels])


def swab_document(site: SwabSite | NoSite) -> dict[str, Any]:
    """Return where to swab as a part of the JSON document."""
    return {
        "place_px": [rounded(value) for value in site.place_px] if isinstance(site, SwabSite) else None,
        "diameter_mm": rounded(site.diameter_mm) if isinstance(site, SwabSite) else None,
        "roomy": site.roomy if isinstance(site, SwabSite) else None,
        "sentence": site.sentence,
        "reminders": list(REMINDERS),
    }
