"""What the page shows of tissue and of the skin round a wound, and what a person said of it.

`tissue_of` is the one place where the page asks what was found.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measure.by_eye import ByEye
from measure.control import RADIUS_MM
from measure.culture import REMINDERS, NoSite, SwabSite
from measure.hatching import LOOKS, svg_link, svg_pattern
from measure.notes import ChosenSkin, Notes
from measure.pages.edited import Edited
from measure.pipeline import Measurement
from measure.proportions import Share
from measure.redness import Band, NoRedness, Redness
from measure.tissue import Region, Said, regions
from measure.uncertainty import COVERAGE_FACTOR


@dataclass(frozen=True)
class Circle:
    """A circle on the photo, in photo px."""

    at: tuple[float, float]
    radius: float


@dataclass(frozen=True)
class Skin:
    """The skin round a wound, as it is read on the page.

    Attributes
    ----------
    rows : tuple of pairs of str
        A place in words and what was found there: ``("0 to 5 mm from the edge", "+3.2 ± 1.8")``.
    sentences : tuple of str
        The tone of the skin, and what to take care of; or why nothing is told.
    """

    rows: tuple[tuple[str, str], ...] = ()
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True)
class Swab:
    """Where a wound would be swabbed, in words; the circle is None where no place was found."""

    sentence: str
    circle: Circle | None = None


@dataclass(frozen=True)
class Tissue:
    """What the page shows of one photo.

    Attributes
    ----------
    regions : tuple of sequences of Region
        Of each wound.
    shares : tuple of mappings from tissue to Share
        Of each wound; they add up to 100.
    trouble : str
        Why nothing is known of tissue in this photo; empty where something is.
    controls : tuple of Circle
        The skin that the skin round each wound is compared with; one where a person chose it.
    control_radius : float, optional
        Photo px, of what a person may choose; None where skin is not compared in this photo.
    skin_trouble : str
        Why the skin that a person chose can't be used; empty where it can, or nobody chose.
    skin : tuple of Skin
        Round each wound.
    swabs : tuple of Swab
        Of each wound, if a culture is ordered.
    reminders : tuple of str
        What to think of when it is.
    """

    regions: tuple[Sequence[Region], ...] = ()
    shares: tuple[Mapping[str, Share], ...] = ()
    trouble: str = ""
    controls: tuple[Circle, ...] = ()
    control_radius: float | None = None
    skin_trouble: str = ""
    skin: tuple[Skin, ...] = ()
    swabs: tuple[Swab, ...] = ()
    reminders: tuple[str, ...] = ()


_NO_COLOUR = ("colour-unknown", "colour-refused")
"""Flags that say why nothing is told of tissue."""


def tissue_of(measurement: Measurement) -> Tissue:
    """Return what was found of tissue and skin in a measured photo."""
    trouble = " ".join(flag.sentence for flag in measurement.flags if flag.code in _NO_COLOUR)
    if trouble:
        return Tissue(trouble=trouble)
    mm_per_px = measurement.mm_per_px
    controls = [control_shown(redness, mm_per_px) for redness in measurement.redness]
    return Tissue(
        regions=tuple(regions(found) for found in measurement.tissue),
        shares=tuple(found.shares for found in measurement.tissue),
        controls=tuple(dict.fromkeys(circle for circle in controls if circle)),
        control_radius=RADIUS_MM / mm_per_px,
        skin_trouble=_skin_trouble(measurement.redness) if measurement.notes.control else "",
        skin=tuple(map(skin_shown, measurement.redness)),
        swabs=tuple(swab_shown(site, mm_per_px) for site in measurement.swabs),
        reminders=REMINDERS,
    )


def _skin_trouble(found: Sequence[Redness | NoRedness]) -> str:
    refused = [redness.sentence for redness in found if isinstance(redness, NoRedness)]
    return refused[0] if refused and len(refused) == len(found) else ""


def skin_shown(redness: Redness | NoRedness) -> Skin:
    """Return redness as it is read on the page; without a control patch only why."""
    if isinstance(redness, NoRedness):
        return Skin(sentences=(redness.sentence,))
    rows = tuple((f"{band.from_mm:g} to {band.to_mm:g} mm from the edge", _change(band)) for band in redness.bands)
    angle = f"{redness.ita_deg:.0f} ± {COVERAGE_FACTOR * redness.ita_sigma:.0f}°"
    tone = f"Skin compared with: {redness.skin_class}, typology angle (ITA) {angle}."
    return Skin(rows, (tone, *redness.sentences))


def _change(band: Band) -> str:
    if math.isnan(band.delta_a):
        return "not seen"
    return f"{band.delta_a:+.1f} ± {COVERAGE_FACTOR * band.standard_uncertainty:.1f}"


def control_shown(redness: Redness | NoRedness, mm_per_px: float) -> Circle | None:
    """Return the circle of skin that redness was compared with."""
    if isinstance(redness, NoRedness):
        return None
    return Circle(redness.control_px, redness.control_radius_mm / mm_per_px)


def swab_shown(site: SwabSite | NoSite, mm_per_px: float) -> Swab:
    """Return where to swab, in words and as a circle."""
    if isinstance(site, NoSite):
        return Swab(site.sentence)
    return Swab(site.sentence, Circle(site.place_px, site.diameter_mm / 2 / mm_per_px))


def heard(drawn: Edited, by: str, by_eye: tuple[ByEye | None, ...] = ()) -> Notes:
    """Return what a person said, as `measure.pipeline.complete` is told of it."""
    said = tuple(Said((tap["at"][0], tap["at"][1]), tap["tissue"], by) for tap in drawn.taps)
    control = ChosenSkin((drawn.control[0], drawn.control[1]), by) if drawn.control else None
    return Notes(said, control, by_eye)


def looks() -> list[dict[str, str]]:
    """Return the table of `measure.hatching` as the editor takes it."""
    return [
        {"tissue": name, "word": look.word, "pattern": look.pattern}
        | {"svg": svg_pattern(look), "tile": svg_link(look)}
        for name, look in LOOKS.items()
    ]


def shown_in_editor(tissue: Tissue | None, *, culture: bool) -> dict[str, Any] | None:
    """Return what the editor draws of it; circles of swabs only if a culture is ordered."""
    if tissue is None:
        return None
    swabs = [swab.circle for swab in tissue.swabs if swab.circle and culture]
    return {
        "regions": [_region(region, wound) for wound, found in enumerate(tissue.regions) for region in found],
        "percent": [{name: round(share.percent, 1) for name, share in shares.items()} for shares in tissue.shares],
        "trouble": tissue.trouble,
        "controls": [_circle(circle) for circle in tissue.controls],
        "controlRadius": tissue.control_radius,
        "skinTrouble": tissue.skin_trouble,
        "swabs": [_circle(circle) for circle in swabs],
    }


def _region(region: Region, wound: int) -> dict[str, Any]:
    rings = [ring.round(1).tolist() for ring in region.rings]
    return {"wound": wound, "tissue": region.tissue, "rings": rings, "byHand": region.by_hand}


def _circle(circle: Circle) -> dict[str, Any]:
    return {"at": list(circle.at), "radius": circle.radius}
