"""What is said about a photo, as a JSON document or as text; the document is a contract (see DEVELOPERS.md)."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

from calibration.correction import Correction
from calibration.errors import EbblineError
from measure.acceptance import Acceptance
from measure.budget import mostly
from measure.by_eye import by_eye_document
from measure.culture import REMINDERS, swab_document
from measure.editing import Editing, editing_document
from measure.flags import Flag, told
from measure.notes import control_document, said_document
from measure.outline import document as outline_document
from measure.photo import Photo
from measure.pipeline import Measurement
from measure.proportions import Share
from measure.redness import redness_document, redness_lines
from measure.rounding import rounded
from measure.scale import Calibration
from measure.tissue import regions
from measure.uncertainty import Quantity
from measure.wound import Wound

Document = dict[str, Any]

_CM = (0.1, "cm")
_CM2 = (0.01, "cm2")


def document(measurement: Measurement) -> Document:
    """Return the JSON document of one measured photo: cm and cm2, NaN as null."""
    prepared = measurement.prepared
    return {
        "photo": _photo(prepared.photo),
        "calibration": _calibration(prepared.calibration, measurement),
        "surface": _surface(prepared.calibration),
        "colour": _colour(prepared.colour),
        "checks": [
            {"check": check.name, "ok": check.ok, "value": rounded(check.value), "limit": check.limit}
            | {"sentence": check.sentence}
            for check in measurement.checks
        ],
        "acceptance": _acceptance(measurement.acceptance),
        "editing": editing_document(measurement.editing),
        "tissue_said": said_document(measurement.notes.said),
        "control": control_document(measurement.notes.control),
        "wounds": [_wound(number, measurement) for number in range(len(measurement.wounds))],
        "flags": [_flag(flag) for flag in measurement.flags],
    }


def refusal(name: str, error: EbblineError, photo: Photo | None = None) -> Document:
    """Return the document of a photo that could not be measured: the reason is its only flag."""
    facts = _photo(photo) if photo else dict.fromkeys(("path", "sha256", "width", "height", "taken_at"))
    calibration: Document = {"source": "none", "layouts": [], "tilt_deg": None, "mm_per_px": None}
    return {
        "photo": {**facts, "path": name},
        "calibration": {**calibration, "residual_px": None, "relative_scale_uncertainty": None},
        "surface": {"limb_radius_mm": None, "rejected_points": []},
        "colour": _colour(None),
        "checks": [],
        "acceptance": None,
        "editing": None,
        "tissue_said": [],
        "control": None,
        "wounds": [],
        "flags": [_flag(Flag(error.code, str(error)))],
    }


def summary(measurement: Measurement) -> str:
    """Return the result of one photo as lines to read in a terminal."""
    calibration, prepared = measurement.prepared.calibration, measurement.prepared
    names = ", ".join(sticker.layout.name for sticker in calibration.stickers)
    tilt = "" if math.isnan(calibration.plane.tilt_deg) else f", tilt {calibration.plane.tilt_deg:.0f} degrees"
    lines = [
        prepared.photo.name,
        f"  scale from {calibration.source} {names}".rstrip() + f"{tilt}, {measurement.mm_per_px:.3f} mm per pixel",
    ]
    for number, wound in enumerate(measurement.wounds, 1):
        lines.append(f"  wound {number} ({wound.source} outline)")
        lines += [f"    {name:<18}{shown(quantity)}" for name, quantity in rows(wound)]
        causes = mostly(wound.area)
        lines += [f"    uncertainty mostly from: {causes}"] if causes else []
        lines += [f"    {line}" for line in _seen(number - 1, measurement)]
    if measurement.editing:
        lines.append(f"  {_edited(measurement.editing)}")
    if measurement.acceptance:
        lines.append(f"  {_kept(measurement.acceptance)}")
    failed = [check.sentence for check in measurement.checks if not check.ok]
    said = dict.fromkeys(failed + [flag.sentence for flag in told(measurement.flags)])
    lines += [f"  ! {sentence}" for sentence in said]
    return "\n".join(lines)


def _seen(number: int, measurement: Measurement) -> Iterator[str]:
    """Yield what colours tell of a wound, and what a person sees."""
    seen, by_eye = measurement.appearance, measurement.notes.by_eye
    if seen.tissue:
        yield f"{'tissue by colour':<18}{_proportions(seen.tissue[number].shares)}"
    if number < len(by_eye) and (estimate := by_eye[number]):
        yield f"{'tissue by eye':<18}{_proportions(estimate.shares)}"
    if seen.redness:
        yield from redness_lines(seen.redness[number])
    if seen.swabs:
        yield seen.swabs[number].sentence
        yield from REMINDERS


def _proportions(shares: Mapping[str, Share]) -> str:
    told = [(name, share) for name, share in shares.items() if round(share.percent)]
    return ", ".join(f"{name} {share.percent:.0f} +- {share.expanded_uncertainty:.0f} %" for name, share in told)


def rows(wound: Wound) -> list[tuple[str, Quantity]]:
    """Return the numbers of a wound in the order in which charts ask for them, in cm and cm2."""
    return [
        ("area", wound.area.scaled(*_CM2)),
        ("length", wound.length.scaled(*_CM)),
        ("width", wound.width.scaled(*_CM)),
        ("length x width", wound.length_x_width.scaled(*_CM2)),
        ("ellipse estimate", wound.ellipse.scaled(*_CM2)),
        ("perimeter", wound.perimeter.scaled(*_CM)),
    ]


def shown(quantity: Quantity) -> str:
    """Return value and expanded uncertainty as text; both to the same two decimals, as charts write them."""
    return f"{quantity.value:.2f} +- {quantity.expanded_uncertainty:.2f} {quantity.unit} (k = 2)"


def _photo(photo: Photo) -> Document:
    return {
        "path": photo.name,
        "sha256": photo.sha256,
        "width": photo.width,
        "height": photo.height,
        "taken_at": photo.taken_at.isoformat() if photo.taken_at else None,
    }


def _acceptance(acceptance: Acceptance | None) -> Document | None:
    return {"reason": acceptance.reason, "failed_checks": list(acceptance.failed)} if acceptance else None


def _kept(acceptance: Acceptance) -> str:
    return f"accepted in spite of: {', '.join(acceptance.failed)} - '{acceptance.reason}'"


def _edited(editing: Editing) -> str:
    times = "1 edit" if editing.edits == 1 else f"{editing.edits} edits"
    what = "edited and checked" if editing.edits and editing.checked else "checked" if editing.checked else "edited"
    return f"outline {what} by {editing.by or 'a person'}: {times}"


def _calibration(calibration: Calibration, measurement: Measurement) -> Document:
    return {
        "source": calibration.source,
        "layouts": [sticker.layout.name for sticker in calibration.stickers],
        "tilt_deg": rounded(calibration.plane.tilt_deg),
        "mm_per_px": rounded(measurement.mm_per_px),
        "residual_px": rounded(calibration.plane.residual_px),
        "relative_scale_uncertainty": rounded(measurement.relative_scale_uncertainty),
    }


def _surface(calibration: Calibration) -> Document:
    """Return what the sticker's points say of the skin, and which of them do not fit."""
    bend = calibration.plane.projection.bend
    return {
        "limb_radius_mm": None if bend is None else rounded(1 / bend.curvature),
        "rejected_points": [[rounded(x), rounded(y)] for x, y in calibration.plane.rejected_px.tolist()],
    }


def _colour(colour: Correction | None) -> Document:
    """Return what colours rest on; None where there is no sticker."""
    if colour is None:
        return {"source": "none", "model": None, "used": False, "residual_ciede2000": None, "patches": []}
    return {
        "source": colour.source,
        "model": colour.model,
        "used": colour.trusted,
        "residual_ciede2000": rounded(colour.residual),
        "patches": [
            {"patch": reading.name, "residual_ciede2000": rounded(reading.residual), "left_out": reading.unused or None}
            for reading in colour.readings
        ],
    }


def _wound(number: int, measurement: Measurement) -> Document:
    wound = measurement.wounds[number]
    rings = outline_document([wound.outline])["wounds"][0]
    return {
        "source": wound.source,
        "method": wound.method,
        **rings,
        "area_cm2": _quantity(wound.area, _CM2),
        "perimeter_cm": _quantity(wound.perimeter, _CM),
        "length_cm": _quantity(wound.length, _CM),
        "width_cm": _quantity(wound.width, _CM),
        "convention": str(measurement.convention),
        "length_x_width_cm2": _quantity(wound.length_x_width, _CM2),
        "ellipse_cm2": _quantity(wound.ellipse, _CM2),
        "shape": {
            "circularity": rounded(wound.circularity),
            "solidity": rounded(wound.solidity),
            "aspect_ratio": rounded(wound.aspect_ratio),
            "equivalent_diameter_cm": rounded(wound.equivalent_diameter_mm / 10),
        },
        **_appearance(number, measurement),
    }


def _appearance(number: int, measurement: Measurement) -> Document:
    """Return what colours tell of a wound, and what a person sees; None for what isn't told."""
    seen, by_eye = measurement.appearance, measurement.notes.by_eye
    tissue = seen.tissue[number].shares if seen.tissue else None
    return {
        "tissue": tissue and {name: _share(share) for name, share in tissue.items()},
        "tissue_by_hand": _by_hand(number, measurement),
        "tissue_by_eye": by_eye_document(by_eye[number]) if number < len(by_eye) else None,
        "redness": redness_document(seen.redness[number]) if seen.redness else None,
        "swab_site": swab_document(seen.swabs[number]) if seen.swabs else None,
    }


def _share(share: Share) -> Document:
    return {
        "percent": rounded(share.percent),
        "standard_uncertainty": rounded(share.standard_uncertainty),
        "components": _components(share.components),
    }


def _by_hand(number: int, measurement: Measurement) -> list[Document]:
    """Return the regions of a wound that a person named."""
    if not (measurement.tissue and measurement.tissue[number].said):
        return []
    found = regions(measurement.tissue[number])
    return [{"tissue": each.tissue, "percent": rounded(each.percent)} for each in found if each.by_hand]


def _quantity(quantity: Quantity, unit: tuple[float, str]) -> Document:
    shown = quantity.scaled(*unit)
    return {
        "value": rounded(shown.value),
        "standard_uncertainty": rounded(shown.standard_uncertainty),
        "components": _components(shown.components),
    }


def _components(components: Mapping[str, float]) -> Document:
    return {name: rounded(share) for name, share in components.items()}


def _flag(flag: Flag) -> Document:
    return {"code": flag.code, "sentence": flag.sentence}
