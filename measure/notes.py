"""What a person said of a photo's colours: which tissue a region is, which skin to compare with, what the eye sees.

It stands beside what was measured, with who said it, and neither replaces the other. In a file of outlines it has the
keys ``tissue_said`` and ``control`` beside ``wounds``, and ``tissue_by_eye`` in a wound.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from measure.by_eye import ByEye, parse_by_eye
from measure.editing import usable_by
from measure.tissue import Said, TissueError

_FARTHEST_PX = 1e6  # no photo has sides that long; farther off, numbers have no pixel or not even a place
_SAID_FORM = '[{"at": [x, y], "tissue": "slough", "by": "AB"}]'
_CONTROL_FORM = '{"at": [x, y], "by": "AB"}'


@dataclass(frozen=True)
class ChosenSkin:
    """The skin that a person chose to compare with: a place (x, y) in px of the photo, and who chose it."""

    at: tuple[float, float]
    by: str = ""


@dataclass(frozen=True)
class Notes:
    """What a person said.

    Attributes
    ----------
    said : tuple of Said
        Of regions of tissue, in the order in which it was said.
    control : ChosenSkin, optional
    by_eye : tuple of ByEye or None
        Of each wound, in their order; may be shorter than there are wounds.
    """

    said: tuple[Said, ...] = ()
    control: ChosenSkin | None = None
    by_eye: tuple[ByEye | None, ...] = field(default=())


def parse_notes(loaded: object) -> Notes:
    """Read what a person said from a photo's loaded document; nothing where it holds nothing of it.

    Raises
    ------
    TissueError
        If what stands there has another form.
    EditingError
        If who said it can't be recorded.
    ByEyeError
        If an estimate by eye doesn't add up.
    """
    if not isinstance(loaded, dict):
        return Notes()
    wounds = loaded.get("wounds")
    by_eye = tuple(map(parse_by_eye, wounds)) if isinstance(wounds, list) else ()
    return Notes(_said(loaded.get("tissue_said")), _control(loaded.get("control")), by_eye)


def _said(loaded: object) -> tuple[Said, ...]:
    if loaded is None:
        return ()
    if not isinstance(loaded, list):
        raise _misshapen("tissue_said", _SAID_FORM)
    return tuple(map(_one_said, loaded))


def _one_said(loaded: object) -> Said:
    if not isinstance(loaded, dict) or not isinstance(loaded.get("tissue"), str):
        raise _misshapen("tissue_said", _SAID_FORM)
    return Said(_place(loaded, "tissue_said", _SAID_FORM), loaded["tissue"], _by(loaded, "tissue_said", _SAID_FORM))


def _control(loaded: object) -> ChosenSkin | None:
    if loaded is None:
        return None
    if not isinstance(loaded, dict):
        raise _misshapen("control", _CONTROL_FORM)
    return ChosenSkin(_place(loaded, "control", _CONTROL_FORM), _by(loaded, "control", _CONTROL_FORM))


def _place(loaded: dict[str, Any], key: str, form: str) -> tuple[float, float]:
    at = loaded.get("at")
    if not isinstance(at, list) or len(at) != 2 or any(type(value) not in {int, float} for value in at):
        raise _misshapen(key, form)
    if not all(abs(value) <= _FARTHEST_PX for value in at):  # NaN too
        raise _misshapen(key, form)
    return float(at[0]), float(at[1])


def _by(loaded: dict[str, Any], key: str, form: str) -> str:
    by = loaded.get("by", "")
    if not isinstance(by, str):
        raise _misshapen(key, form)
    return usable_by(by) if by.strip() else ""


def _misshapen(key: str, form: str) -> TissueError:
    return TissueError(f"What the outline file says under '{key}' is not in the form {form}; save it again.")


def said_document(said: Sequence[Said]) -> list[dict[str, Any]]:
    """Give the form that stands under ``tissue_said``; the reverse of `parse_notes`."""
    return [{"at": list(each.at), "tissue": each.tissue, "by": each.by} for each in said]


def control_document(control: ChosenSkin | None) -> dict[str, Any] | None:
    """Give the form that stands under ``control``."""
    return {"at": list(control.at), "by": control.by} if control else None
