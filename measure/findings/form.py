"""The form that findings have in the record: JSON values, each checked when it is read and when it is made.

The functions take anything, for a record may hold anything, and return what may be kept or say in a sentence why not.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime, timezone
from typing import Any, TypeVar

from calibration.errors import EbblineError
from measure.acceptance import unshown
from measure.findings.vocabulary import Vocabulary, listed

MAX_TEXT = 200
"""Characters of a text in a finding: a sentence or two. More belongs into the notes of the visit."""

_YEARS = range(1900, 2200)  # another one was typed wrongly
_SHOWN = 40  # characters of an unusable value that a sentence repeats

T = TypeVar("T")


class FindingError(EbblineError):
    """A finding that can't be recorded, or that the record holds in another form."""

    code = "unusable-finding"


def number(value: object, what: str, least: float, most: float, unit: str = "") -> float:
    """Return a finite number between two limits, both included."""
    if type(value) not in {int, float} or not least <= value <= most:  # type: ignore[operator] # NaN too
        space = f" {unit}" if unit else ""
        raise FindingError(f"{what} is given as {_told(value)}; give a number from {least:g} to {most:g}{space}.")
    return float(value)  # type: ignore[arg-type]


def above_zero(value: object, what: str, most: float, unit: str) -> float:
    """Return a number above 0 and up to a limit."""
    if type(value) not in {int, float} or not 0 < value <= most:  # type: ignore[operator] # NaN too
        raise FindingError(f"{what} is given as {_told(value)}; give more than 0 and at most {most:g} {unit}.")
    return float(value)  # type: ignore[arg-type]


def whole(value: object, what: str, least: int, most: int) -> int:
    """Return a whole number between two limits, both included."""
    if type(value) is not int or not least <= value <= most:
        raise FindingError(f"{what} is given as {_told(value)}; give a whole number from {least} to {most}.")
    return value


def answer(value: object, what: str) -> bool | None:
    """Return yes, no, or None where nobody said."""
    if value is None or isinstance(value, bool):
        return value
    raise FindingError(f"{what} is answered with {_told(value)}; answer yes or no, or leave it open.")


def chosen(value: object, what: str, names: Vocabulary) -> str:
    """Return one of the values of a vocabulary."""
    if not isinstance(value, str) or value not in names:
        raise FindingError(f"{what} is given as {_told(value)}; choose {listed(names)}.")
    return value


def chosen_or_none(value: object, what: str, names: Vocabulary) -> str:
    """Return the same, or an empty text where nobody said."""
    return "" if value == "" else chosen(value, what, names)


def all_chosen(value: object, what: str, names: Vocabulary) -> tuple[str, ...]:
    """Return some values of a vocabulary, each once, in its order."""
    given = several(value, what)
    for each in given:
        chosen(each, what, names)
    return tuple(name for name in names if name in given)


def several(value: object, what: str) -> tuple[Any, ...]:
    """Return a list as a tuple."""
    if not isinstance(value, list | tuple):
        raise FindingError(f"{what} is given as {_told(value)}; a list is expected, empty where there is none.")
    return tuple(value)


def text(value: object, what: str) -> str:
    """Return a text on one line, without the space round it; may be empty."""
    if not isinstance(value, str):
        raise FindingError(f"{what} is given as {_told(value)}; write it as text.")
    usable = value.strip()
    if len(usable) > MAX_TEXT:
        raise FindingError(
            f"{what} has {len(usable)} characters, at most {MAX_TEXT} are kept: say it in a sentence or two."
        )
    if any(unshown(character) for character in usable):
        raise FindingError(f"{what} holds a line break or a control character: write it on one line.")
    return usable


def instant(value: object, what: str) -> datetime:
    """Return a time with its offset from UTC, from a time or from text in ISO 8601."""
    if isinstance(value, str):
        value = _iso(datetime.fromisoformat, value, what, "2026-03-05T14:30:00+01:00")
    offset = value.utcoffset() if isinstance(value, datetime) else None
    if offset is None or not isinstance(value, datetime):
        raise FindingError(f"{what} is given as {_told(value)}; give date and time with the offset from UTC.")
    _refuse_year(value, what)
    return value.replace(tzinfo=timezone(offset), fold=0)  # of a zone's two 2:30 in autumn, the one that was meant


def day(value: object, what: str) -> date:
    """Return a date, from a date or from text in ISO 8601."""
    if isinstance(value, str):
        value = _iso(date.fromisoformat, value, what, "2026-03-05")
    if not isinstance(value, date) or isinstance(value, datetime):
        raise FindingError(f"{what} is given as {_told(value)}; give a date.")
    _refuse_year(value, what)
    return value


def _refuse_year(value: date, what: str) -> None:
    if value.year not in _YEARS:
        raise FindingError(f"{what} is in the year {value.year}: give the year as it is in full, like 2026.")


def _iso(read: Callable[[str], T], value: str, what: str, example: str) -> T:
    try:
        return read(value)
    except ValueError:
        raise FindingError(f"{what} is given as {_told(value)}; it is written like {example}.") from None


def _told(value: object) -> str:
    if value is None or isinstance(value, float | int):
        return f"{value}"[:_SHOWN]
    if isinstance(value, str):
        return f"'{value[:_SHOWN]}'" if value else "nothing"
    return f"a {type(value).__name__}"


def made(what: str, of: type[T], loaded: object) -> T:
    """Return a finding from the form it has in the record: a mapping with the names of its fields.

    Raises
    ------
    FindingError
        If it is no such mapping, or a field holds what can't be recorded.
    """
    if isinstance(loaded, of):
        return loaded
    if not is_dataclass(of) or not isinstance(loaded, Mapping):
        raise FindingError(f"{what} is given as {_told(loaded)}; the record keeps it as named fields.")
    known = [field.name for field in fields(of)]
    unknown = [name for name in loaded if name not in known]
    if unknown:
        raise FindingError(
            f"{what} has a field {_told(unknown[0])} that is not known here; known are {', '.join(known)}."
        )
    try:
        return of(**loaded)
    except TypeError:
        raise FindingError(f"{what} lacks a field; it has {', '.join(known)}.") from None


def plain_json(value: Any) -> Any:  # noqa: ANN401 - whatever a finding is made of
    """Return a finding as the record keeps it: the reverse of `made`."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {name: plain_json(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain_json(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
