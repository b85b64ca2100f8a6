"""Keeping a photo in spite of a failed check: who keeps it says why, and the record carries that."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from calibration.errors import EbblineError
from measure.checks import Check

MAX_REASON = 200
"""Characters of a reason: a sentence or two. More belongs into the notes of the visit."""

_UNSHOWN = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode's general categories of control characters, lone surrogates, and breaks of a line or a paragraph."""

_TURNING = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})
"""Bidirectional classes of characters that turn the text after them round (Unicode Standard Annex 9, table 4)."""


class ReasonError(EbblineError):
    """A reason for keeping a photo that can't be recorded."""

    code = "unusable-reason"


@dataclass(frozen=True)
class Acceptance:
    """That a person kept a photo in spite of failed checks.

    Attributes
    ----------
    reason : str
        Why, in the person's own words, on one line.
    failed : tuple of str
        Names of the checks that had failed; at least one.
    """

    reason: str
    failed: tuple[str, ...]


def accepted(reason: str, checks: Iterable[Check]) -> Acceptance | None:
    """Keep a photo in spite of its failed checks; None where none failed.

    Without a failed check there is nothing to keep it in spite of. That is no mistake, for one reason may go with
    several photos, but an acceptance in the record of a good photo would say that something was wrong with it.

    Raises
    ------
    ReasonError
        If the reason can't be recorded, whether or not a check failed.
    """
    usable = usable_reason(reason)
    failed = tuple(check.name for check in checks if not check.ok)
    return Acceptance(usable, failed) if failed else None


def usable_reason(reason: str) -> str:
    """Return a reason without the space round it.

    Raises
    ------
    ReasonError
        If it is empty, longer than `MAX_REASON`, or holds characters that can't be shown on one line.
    """
    usable = reason.strip()
    if not usable:
        raise ReasonError("The reason is empty: say in a few words why the photo is kept in spite of a failed check.")
    if len(usable) > MAX_REASON:
        raise ReasonError(
            f"The reason has {len(usable)} characters, at most {MAX_REASON} are kept: say it in a sentence or two."
        )
    if any(unshown(character) for character in usable):
        raise ReasonError(
            "The reason holds a line break or a control character: write it on one line, in letters, digits and signs."
        )
    return usable


def unshown(character: str) -> bool:
    """Whether a character can't be shown as itself on one line."""
    return unicodedata.category(character) in _UNSHOWN or unicodedata.bidirectional(character) in _TURNING
