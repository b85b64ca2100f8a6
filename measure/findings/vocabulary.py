"""The words that a finding can be recorded in: what a screen shows for each, and what it means in one line."""

from collections.abc import Mapping
from typing import NamedTuple


class Word(NamedTuple):
    """How one value of a finding is shown, and what it means; the value itself never changes once recorded."""

    word: str
    meaning: str


Vocabulary = Mapping[str, Word]
"""Values in the order in which a screen offers them."""


def listed(names: Vocabulary) -> str:
    """Return all values as they are read out: a, b or c."""
    *others, last = names
    return f"{', '.join(others)} or {last}" if others else last
