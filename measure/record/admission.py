"""What may go into the record: codes instead of names, initials, instants with their zone, words, and plain JSON.

Each function returns what is kept, or refuses it with a `RecordError` that says what was found and what to do.
"""

import json
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any

from measure.acceptance import unshown
from measure.editing import MAX_BY
from measure.record.errors import RecordError

MAX_CODE = 20
"""Characters of a person's code: room for a study's or a ward's numbering, too short for most full names."""

MAX_LINE = 60
"""Characters of a place, a position, a ward or a name of a finding: one line of a telephone's screen or two."""

MAX_NOTE = 10_000
"""Characters of a note or an answer: some three pages; more belongs into the chart."""

_CODE = re.compile(rf"[A-Z0-9-]{{1,{MAX_CODE}}}")
_DIGIT = re.compile(r"[0-9]")
_LINES = frozenset("\n\r\t")


def code(person: str) -> str:
    """Return a person's code in capital letters, so that p014 and P014 are the same person.

    A code holds letters of English, digits and dashes, and at least one digit, which names don't.
    """
    usable = person.strip().upper()
    if not usable:
        raise RecordError("No code of a person was given; give the one that your facility uses, such as P014.")
    if not (_CODE.fullmatch(usable) and _DIGIT.search(usable)):
        raise RecordError(
            f"What was given as a person's code, of {len(usable)} characters, may be a name, and names stay out of the "
            f"record; give a code of at most {MAX_CODE} letters, digits and dashes with a digit in it, such as P014."
        )
    return usable


def initials(by: str) -> str:
    """Return the initials or staff code of who acts."""
    usable = line(by, "Your initials or staff code", MAX_BY)
    if not usable:
        raise RecordError("Nobody is named who does this; give your initials or staff code.")
    return usable


def line(text: str, name: str, longest: int = MAX_LINE) -> str:
    """Return a text of one line without the space round it; empty stays empty.

    ``name`` begins the sentence that refuses it.
    """
    usable = text.strip()
    if len(usable) > longest:
        raise RecordError(f"{name}: {len(usable)} characters were given, at most {longest} are kept; say it shorter.")
    if any(unshown(character) for character in usable):
        raise RecordError(
            f"{name}: there is a line break or a control character in it; write letters, digits and signs on one line."
        )
    return usable


def words(text: str, name: str) -> str:
    """Return a text of any number of lines without the space round it; empty stays empty."""
    usable = text.strip()
    if len(usable) > MAX_NOTE:
        raise RecordError(f"{name}: {len(usable)} characters were given, at most {MAX_NOTE} are kept; say it shorter.")
    if any(unshown(character) for character in usable if character not in _LINES):
        raise RecordError(f"{name}: there is a control character in it; write letters, digits, signs and line breaks.")
    return usable


def instant(at: datetime | None) -> datetime:
    """Return an instant in UTC; now if none is given."""
    if at is None:
        return datetime.now(UTC)
    if at.utcoffset() is None:
        raise RecordError(
            f"The time {at.isoformat(sep=' ')} was given without its time zone; give it with one, as in "
            "2026-03-02 09:30+01:00."
        )
    return at.astimezone(UTC)


def day(value: date | None) -> date | None:
    """Return a day without the time that a datetime carries."""
    return value.date() if isinstance(value, datetime) else value


def json_value(value: object, name: str) -> Any:  # noqa: ANN401 - JSON holds anything
    """Return a value as JSON will give it back, with lists for tuples and exact floats; NaN is refused."""
    try:
        return json.loads(dumps(value))
    except ValueError as error:
        raise RecordError(
            f"{name} holds a number that isn't finite; leave out what isn't known, or give it as null."
        ) from error
    except (TypeError, RecursionError) as error:
        raise RecordError(
            f"{name} holds something other than texts, numbers, lists and named values; give it in that form."
        ) from error


def json_object(value: Mapping[str, object], name: str) -> dict[str, Any]:
    """Return named values as JSON will give them back."""
    kept = json_value(dict(value), name)
    if not isinstance(kept, dict):
        raise RecordError(f"{name} holds no named values; give it as such.")
    return kept


def dumps(value: object) -> str:
    """Write JSON as the record stores it: exact floats, no NaN, ASCII alone, so that every database takes it."""
    return json.dumps(value, allow_nan=False, separators=(",", ":"))
