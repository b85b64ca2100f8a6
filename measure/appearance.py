"""What the colours of a photo tell of each wound: its tissue, the redness round it, and where to swab it."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

from calibration.correction import Correction
from measure.control import ControlError
from measure.culture import NoSite, SwabSite, swab_site
from measure.notes import Notes
from measure.outline import Outline
from measure.photo import Photo
from measure.redness import NoRedness, Redness, measure_redness
from measure.scale import Calibration
from measure.tissue import TissueMap, map_tissue
from measure.wound import Wound


@dataclass(frozen=True, eq=False)
class Appearance:
    """What colours tell; empty where nothing may be said of colour, or nobody asked.

    Attributes
    ----------
    tissue : tuple of TissueMap
        Of each wound.
    redness : tuple of Redness or NoRedness
        Round each wound.
    swabs : tuple of SwabSite or NoSite
        Of each wound, where a culture is ordered.
    """

    tissue: tuple[TissueMap, ...] = ()
    redness: tuple[Redness | NoRedness, ...] = ()
    swabs: tuple[SwabSite | NoSite, ...] = ()


def look_at(  # noqa: PLR0913 - what a photo is, and what is asked
    photo: Photo,
    colour: Correction | None,
    calibration: Calibration,
    wounds: Sequence[Wound],
    notes: Notes,
    *,
    skin: bool,
    culture: bool,
) -> Appearance:
    """Look at the colours of each wound and of the skin round it.

    Parameters
    ----------
    photo : Photo
    colour : Correction, optional
        None where the photo shows no sticker.
    calibration : Calibration
    wounds : sequence of Wound
    notes : Notes
        What a person said of tissue and skin.
    skin : bool
        Whether redness is wanted.
    culture : bool
        Whether a culture is ordered.
    """
    if colour is None or not colour.trusted or not wounds:
        return Appearance()
    outlines = [wound.outline for wound in wounds]
    round_wound = partial(_redness, photo, colour, calibration, outlines, notes)
    numbers = range(len(wounds))
    with ThreadPoolExecutor(2) as pool:  # both work in libraries that leave the interpreter to others
        reddened = pool.map(round_wound, numbers if skin else ())
        tissue = tuple(pool.map(partial(_tissue, photo, colour, calibration, wounds, notes), numbers))
        redness = tuple(reddened)
    return Appearance(tissue, redness, tuple(map(swab_site, tissue)) if culture else ())


def _tissue(  # noqa: PLR0913, PLR0917 - what a photo is, and which of its wounds
    photo: Photo, colour: Correction, calibration: Calibration, wounds: Sequence[Wound], notes: Notes, number: int
) -> TissueMap:
    wound = wounds[number]
    others = [other.outline for other in wounds if other is not wound]
    return map_tissue(
        photo.pixels, colour, calibration, wound.outline, others=others, said=notes.said, edge_mm=wound.edge_mm
    )


def _redness(  # noqa: PLR0913, PLR0917 - what a photo is, and which of its wounds
    photo: Photo, colour: Correction, calibration: Calibration, outlines: Sequence[Outline], notes: Notes, number: int
) -> Redness | NoRedness:
    """Measure redness; skin that a person chose and that can't be used costs the redness, not the other numbers."""
    control = notes.control.at if notes.control else None
    try:
        return measure_redness(photo.pixels, colour, calibration, outlines, number, control)
    except ControlError as error:
        return NoRedness(str(error))
