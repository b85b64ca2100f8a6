"""What is said about a photo, as a JSON document or as text; the document is a contract (see DEVELOPERS.md)."""

import math
from collections.abc import Mapping
from typing import Any

from calibration.errors import EbblineError
from measure.acceptance import Acceptance
from measure.budget import mostly
from measure.editing import Editing, editing_document
from measure.flags import Flag, told
from measure.outline import document as outline_document
from measure.photo import Photo
from measure.pipeline import Measurement
from measure.scale import Calibration
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
        "checks": [
            {"check": check.name, "ok": check.ok, "value": _round(check.value), "limit": check.limit}
            | {"sentence": check.sentence}
            for check in measurement.checks
        ],
        "acceptance": _acceptance(measurement.acceptance),
        "editing": editing_document(measurement.editing),
        "wounds": [_wound(wound, measurement) for wound in measurement.wounds],
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
        "checks": [],
        "acceptance": None,
        "editing": None,
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
    if measurement.editing:
        lines.append(f"  {_edited(measurement.editing)}")
    if measurement.acceptance:
        lines.append(f"  {_kept(measurement.acceptance)}")
    failed = [check.sentence for check in measurement.checks if not check.ok]
    said = dict.fromkeys(failed + [flag.sentence for flag in told(measurement.flags)])
    lines += [f"  ! {sentence}" for sentence in said]
    return "\n".join(lines)


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
        "tilt_deg": _round(calibration.plane.tilt_deg),
        "mm_per_px": _round(measurement.mm_per_px),
        "residual_px": _round(calibration.plane.residual_px),
        "relative_scale_uncertainty": _round(measurement.relative_scale_uncertainty),
    }


def _surface(calibration: Calibration) -> Document:
    """Return what the sticker's points say of the skin, and which of them do not fit."""
    bend = calibration.plane.projection.bend
    return {
        "limb_radius_mm": None if bend is None else _round(1 / bend.curvature),
        "rejected_points": [[_round(x), _round(y)] for x, y in calibration.plane.rejected_px.tolist()],
    }


def _wound(wound: Wound, measurement: Measurement) -> Document:
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
            "circularity": _round(wound.circularity),
            "solidity": _round(wound.solidity),
            "aspect_ratio": _round(wound.aspect_ratio),
            "equivalent_diameter_cm": _round(wound.equivalent_diameter_mm / 10),
        },
        "tissue": None,
    }


def _quantity(quantity: Quantity, unit: tuple[float, str]) -> Document:
    shown = quantity.scaled(*unit)
    return {
        "value": _round(shown.value),
        "standard_uncertainty": _round(shown.standard_uncertainty),
        "components": _components(shown.components),
    }


def _components(components: Mapping[str, float]) -> Document:
    return {name: _round(share) for name, share in components.items()}


def _flag(flag: Flag) -> Document:
    return {"code": flag.code, "sentence": flag.sentence}


def _round(value: float) -> float | None:
    """Keep six significant digits, more than any photo carries; null for what isn't known."""
    return float(f"{value:.6g}") if math.isfinite(value) else None
