"""What a person sees: the proportions of tissue in a wound, estimated by eye. They stand beside what was measured."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from calibration.errors import EbblineError
from measure.editing import usable_by
from measure.hatching import LOOKS
from measure.proportions import Share

STANDARD_UNCERTAINTY: Mapping[str, float] = MappingProxyType(
    {"granulation": 6.88, "slough": 7.17, "necrotic": 7.2, "epithelial": 7.2, "unclear": 7.2}
)
"""Percentage points, of one nurse's estimate: the standard error of measurement between nurses who looked at the same
photographs (Landa et al., Int Wound J 13(5):619-624, 2016): 6.88 for granulation, 7.17 for slough. Theirs for
necrosis, 0.35, is of 20 photographs that showed hardly any, and tells nothing of a wound that has much: for it and for
what they did not ask about the larger of the other two stands, rounded up."""

_KEY = "tissue_by_eye"
_OFF = 0.5
"""Percentage points by which the sum may miss 100: what rounding five numbers to whole ones leaves, and no more."""

_FORM = '{"by": "AB", "percent": {"granulation": 60, "slough": 40, "necrotic": 0, "epithelial": 0, "unclear": 0}}'


class ByEyeError(EbblineError):
    """An estimate by eye that can't be recorded."""

    code = "unusable-estimate"


@dataclass(frozen=True)
class ByEye:
    """The proportions of tissue in one wound as a person sees them.

    Attributes
    ----------
    by : str
        Initials or staff code of who looked; empty while nobody said.
    percent : mapping of str to float
        Of each tissue in `measure.hatching.LOOKS`; together 100.

    Raises
    ------
    EditingError
        If ``by`` can't be recorded.
    ByEyeError
        If a tissue is unknown, a proportion is none, or they don't add up to 100 %.
    """

    by: str
    percent: Mapping[str, float]

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        object.__setattr__(self, "by", usable_by(self.by) if self.by.strip() else "")
        unknown = [name for name in self.percent if name not in LOOKS]
        if unknown:
            raise ByEyeError(f"There is no tissue named '{unknown[0]}'; the names are {', '.join(LOOKS)}.")
        for name, value in self.percent.items():
            if not 0 <= value <= 100:  # NaN too
                raise ByEyeError(f"{LOOKS[name].word} is given as {value:g} %; give 0 to 100 %.")
        missing = off_by(self.percent)
        if missing:
            raise ByEyeError(f"The proportions by eye add up to {100 - missing:g} %: {advice(missing)}")
        full = {name: float(self.percent.get(name, 0.0)) for name in LOOKS}
        object.__setattr__(self, "percent", MappingProxyType(full))

    @property
    def standard_uncertainty(self) -> Mapping[str, float]:
        """Of each proportion, in percentage points."""
        return STANDARD_UNCERTAINTY

    @property
    def shares(self) -> dict[str, Share]:
        """The proportions with their uncertainty."""
        return {name: Share(value, {"by eye": STANDARD_UNCERTAINTY[name]}) for name, value in self.percent.items()}


def off_by(percent: Mapping[str, float]) -> float:
    """Return how many percentage points are missing to 100; negative where there are too many, 0 where it is right."""
    missing = 100 - math.fsum(percent.values())
    return 0.0 if abs(missing) <= _OFF else round(missing, 1)


def advice(missing: float) -> str:
    """Say what to do about a sum that misses 100 % by so many percentage points."""
    return f"{missing:g} % still missing." if missing > 0 else f"{-missing:g} % too much, take some away."


def by_eye_document(by_eye: ByEye | None) -> dict[str, Any] | None:
    """Give the form that stands under ``tissue_by_eye`` of a wound; the reverse of `parse_by_eye`."""
    if by_eye is None:
        return None
    said = {"by": by_eye.by, "percent": dict(by_eye.percent)}
    return said | {"standard_uncertainty": dict(by_eye.standard_uncertainty)}


def parse_by_eye(loaded: object) -> ByEye | None:
    """Read an estimate by eye from the loaded document of a wound; None where it says nothing of it.

    Raises
    ------
    EditingError
        If who looked can't be recorded.
    ByEyeError
        If there is something under ``tissue_by_eye`` that has another form, or doesn't add up.
    """
    note = loaded.get(_KEY) if isinstance(loaded, dict) else None
    if note is None:
        return None
    if not isinstance(note, dict) or not _has_form(note):
        raise ByEyeError(f"What the outline file says under '{_KEY}' is not in the form {_FORM}; save it again.")
    return ByEye(note["by"], note["percent"])


def _has_form(note: dict[str, object]) -> bool:
    percent = note.get("percent")
    if not isinstance(note.get("by"), str) or not isinstance(percent, dict):
        return False
    return all(isinstance(name, str) for name in percent) and all(
        type(value) in {int, float} for value in percent.values()
    )
