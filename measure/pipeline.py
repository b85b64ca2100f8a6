"""The path of one photo: ``prepared = prepare(photo)``, a person edits, ``complete(prepared, outlines)``."""

from collections.abc import Sequence
from dataclasses import dataclass

from measure.acceptance import Acceptance, accepted
from measure.checks import (
    Check,
    check_distance,
)
from measure.editing import Editing
from measure.flags import Flag
from measure.geometry import Convention
from measure.outline import Outline, check_outlines
from measure.photo import Photo
from measure.proposal import METHOD, propose_outlines
from measure.scale import Calibration, TwoPoints, calibrate
from measure.verdict import (
    curve_flags,
    outline_flags,
    photo_flags,
    place_px,
    scale_flags,
    sticker_checks,
    wound_checks,
)
from measure.wound import GIVEN, Wound, measure_wound


@dataclass(frozen=True, eq=False)
class Prepared:
    """A photo with its scale, its verdict and a first outline, ready for a person to correct."""

    photo: Photo
    calibration: Calibration
    outlines: tuple[Outline, ...]
    method: str
    checks: tuple[Check, ...]
    flags: tuple[Flag, ...]


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


def prepare(photo: Photo, *, scale: TwoPoints | None = None, propose: bool = True) -> Prepared:
    """Find the scale of a photo, judge it, and propose an outline.

    Parameters
    ----------
    photo : Photo
        As read by `measure.photo.read_photo`.
    scale : tuple of five float, optional
        Two points in px and their distance in mm, instead of a sticker.
    propose : bool
        Whether an outline is wanted.

    Raises
    ------
    EbblineError
        If there is no sticker that fixes a plane and no ruler that can be read, or the scale given can't be used.
    """
    calibration = calibrate(photo, scale)
    outlines: tuple[Outline, ...] = ()
    if propose:
        outlines = propose_outlines(
            photo.pixels,
            keep_out=calibration.sticker_outlines_px,
            aim_px=calibration.aim_px,
            mm_per_px=calibration.plane.mm_per_px(place_px(photo, calibration, ())),
        ).outlines
    checks = tuple(sticker_checks(photo, calibration, outlines))
    return Prepared(photo, calibration, outlines, METHOD, checks, (*photo_flags(photo), *scale_flags(calibration)))


def complete(  # noqa: PLR0913 - what a person may say beside the photo
    prepared: Prepared,
    outlines: Sequence[Outline] | None = None,
    *,
    convention: Convention = Convention.LONGEST_PERPENDICULAR,
    head_deg: float | None = None,
    accept: str | None = None,
    editing: Editing | None = None,
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
    method = prepared.method if outlines is None else GIVEN
    wounds = tuple(
        measure_wound(outline, prepared.calibration, method, convention, head_deg or 0.0) for outline in chosen
    )
    place = place_px(prepared.photo, prepared.calibration, chosen)
    mm_per_px = prepared.calibration.plane.mm_per_px(place)
    checks = (*prepared.checks, check_distance(mm_per_px), *wound_checks(prepared.photo, prepared.calibration, chosen))
    flags = (
        *prepared.flags,
        *outline_flags(chosen, prepared.calibration.sticker_outlines_px, method, convention, head_deg),
        *curve_flags(wounds),
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
    )
