"""The path of one photo: ``prepared = prepare(photo)``, a person edits, ``complete(prepared, outlines)``."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from calibration.correction import Correction, fit_colour
from measure.acceptance import Acceptance, accepted
from measure.appearance import Appearance, look_at
from measure.authorship import authors
from measure.checks import (
    Check,
    check_distance,
)
from measure.culture import NoSite, SwabSite
from measure.editing import Editing
from measure.flags import Flag
from measure.geometry import Convention
from measure.notes import Notes
from measure.outline import Outline, check_outlines
from measure.photo import Photo
from measure.proposal import NETWORK, Proposal, propose_outlines
from measure.redness import NoRedness, Redness
from measure.scale import Calibration, TwoPoints, calibrate
from measure.tissue import TissueMap
from measure.verdict import (
    colour_flags,
    convention_flags,
    curve_flags,
    doubt_flags,
    outline_flags,
    photo_flags,
    place_px,
    scale_flags,
    sticker_checks,
    tissue_flags,
    wound_checks,
)
from measure.wound import Wound, measure_wound


@dataclass(frozen=True, eq=False)
class Prepared:
    """A photo with its scale, its verdict and a first outline, ready for a person to correct."""

    photo: Photo
    calibration: Calibration
    colour: Correction | None
    proposal: Proposal
    checks: tuple[Check, ...]
    flags: tuple[Flag, ...]

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """The proposed outlines."""
        return self.proposal.outlines

    @property
    def method(self) -> str:
        """Name and version of what proposed them."""
        return self.proposal.method


@dataclass(frozen=True, eq=False)
class Measurement:
    """Everything that is said about one photo."""

    prepared: Prepared
    wounds: tuple[Wound, ...]
    convention: Convention
    mm_per_px: float
    relative_scale_uncertainty: float
    checks: tuple[Check, ...]
    flags: tuple[Flag, ...]
    acceptance: Acceptance | None = None
    editing: Editing | None = None
    appearance: Appearance = field(default_factory=Appearance)
    notes: Notes = field(default_factory=Notes)

    @property
    def tissue(self) -> tuple[TissueMap, ...]:
        """The tissue of each wound; empty where nothing may be said of colour."""
        return self.appearance.tissue

    @property
    def redness(self) -> tuple[Redness | NoRedness, ...]:
        """The redness round each wound; empty likewise, or where nobody asked."""
        return self.appearance.redness

    @property
    def swabs(self) -> tuple[SwabSite | NoSite, ...]:
        """Where to swab each wound; empty where no culture is ordered."""
        return self.appearance.swabs


def prepare(photo: Photo, *, scale: TwoPoints | None = None, propose: bool = True, method: str = NETWORK) -> Prepared:
    """Find the scale of a photo, judge it, and propose an outline.

    Parameters
    ----------
    photo : Photo
        As read by `measure.photo.read_photo`.
    scale : tuple of five float, optional
        Two points in px and their distance in mm, instead of a sticker.
    propose : bool
        Whether an outline is wanted.
    method : str
        What proposes it, as in `measure.proposal.propose_outlines`.

    Raises
    ------
    EbblineError
        If there is no sticker that fixes a plane and no ruler that can be read, or the scale or method given can't be
        used.
    """
    calibration = calibrate(photo, scale)
    proposal = Proposal((), method)
    if propose:
        proposal = propose_outlines(
            photo.pixels,
            method=method,
            keep_out=calibration.sticker_outlines_px,
            aim_px=calibration.aim_px,
            mm_per_px=calibration.plane.mm_per_px(place_px(photo, calibration, ())),
        )
    checks = tuple(sticker_checks(photo, calibration, proposal.outlines))
    colour = fit_colour(photo.pixels, calibration.stickers, calibration.plane) if calibration.stickers else None
    flags = (*photo_flags(photo), *scale_flags(calibration), *colour_flags(colour))
    return Prepared(photo, calibration, colour, proposal, checks, flags)


def complete(  # noqa: PLR0913 - what a person may say beside the photo
    prepared: Prepared,
    outlines: Sequence[Outline] | None = None,
    *,
    convention: Convention = Convention.LONGEST_PERPENDICULAR,
    head_deg: float | None = None,
    accept: str | None = None,
    editing: Editing | None = None,
    notes: Notes = Notes(),  # noqa: B008 - frozen
    skin: bool = True,
    culture: bool = False,
) -> Measurement:
    """Measure the wounds of a prepared photo.

    Parameters
    ----------
    prepared : Prepared
        From `prepare`.
    outlines : sequence of Outline, optional
        As a person gave or corrected them; the proposal where there are none.
    convention : Convention
        How length and width are taken.
    head_deg : float, optional
        Direction of the head (of the heel on a foot) in the photo, clockwise from its top, in degrees; for the
        convention head-to-toe. The top of the photo where it isn't given.
    accept : str, optional
        Why the photo is kept even if a check failed; recorded only where one did.
    editing : Editing, optional
        Who corrected the outlines, and what had been proposed; goes with the numbers.
    notes : Notes
        What a person said of tissue and skin; goes with the numbers.
    skin : bool
        Whether the redness of the skin round the wounds is wanted.
    culture : bool
        Whether a culture is ordered, so that it is looked where to swab.

    Raises
    ------
    OutlineError
        If an outline can't be measured.
    ReasonError
        If the reason can't be recorded.
    """
    chosen = prepared.outlines if outlines is None else tuple(outlines)
    if outlines is not None:
        check_outlines(chosen, prepared.photo.width, prepared.photo.height)
    drew = authors(outlines, prepared.proposal, editing)
    wounds = tuple(
        measure_wound(
            outline,
            prepared.calibration,
            author.method,
            convention,
            head_deg or 0.0,
            author.edge_sigma_px,
            author.as_proposed,
        )
        for outline, author in zip(chosen, drew, strict=True)
    )
    place = place_px(prepared.photo, prepared.calibration, chosen)
    mm_per_px = prepared.calibration.plane.mm_per_px(place)
    seen = look_at(prepared.photo, prepared.colour, prepared.calibration, wounds, notes, skin=skin, culture=culture)
    checks = (*prepared.checks, check_distance(mm_per_px), *wound_checks(prepared.photo, prepared.calibration, chosen))
    flags = (
        *prepared.flags,
        *outline_flags(chosen, drew, prepared.calibration.sticker_outlines_px, taken_away=editing is not None),
        *convention_flags(chosen, convention, head_deg),
        *curve_flags(wounds),
        *doubt_flags(wounds),
        *tissue_flags(seen.tissue),
    )
    return Measurement(
        prepared,
        wounds,
        convention,
        mm_per_px,
        prepared.calibration.relative_uncertainty(place),
        checks,
        flags,
        None if accept is None else accepted(accept, checks),
        editing,
        seen,
        notes,
    )
