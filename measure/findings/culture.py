"""A wound culture: whether it was ordered, and how the swab was taken. Where to swab: `measure.culture`."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

from measure.findings.form import answer

QUESTIONS: Mapping[str, str] = MappingProxyType(
    {
        "ordered": "Has a provider ordered a culture?",
        "taken": "Was the swab taken?",
        "after_cleansing": "Was the wound cleansed with saline first?",
        "viable_tissue": "Was it taken from clean, living tissue?",
        "before_antibiotics": "Was it taken before antibiotics were started?",
    }
)
"""What is asked, by the name of each field, in order."""


@dataclass(frozen=True)
class Culture:
    """A culture; each answer is None where nobody gave it.

    Attributes
    ----------
    ordered : bool, optional
        Whether a provider ordered it.
    before_antibiotics : bool, optional
        Whether the swab was taken before antibiotics were started.
    viable_tissue : bool, optional
        Whether it was taken from clean, living tissue.
    after_cleansing : bool, optional
        Whether the wound was cleansed first.
    taken : bool, optional
        Whether it was taken.

    Raises
    ------
    FindingError
        If an answer is neither yes nor no nor open.
    """

    ordered: bool | None = None
    before_antibiotics: bool | None = None
    viable_tissue: bool | None = None
    after_cleansing: bool | None = None
    taken: bool | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        for field in fields(self):
            answer(getattr(self, field.name), f"'{QUESTIONS[field.name]}'")

    def __str__(self) -> str:
        """Say it as charts do: culture taken as ordered, after cleansing, from living tissue, before antibiotics."""
        words = {True: "culture taken", False: "culture not taken", None: "culture"}
        orders = {True: " as ordered" if self.taken else " ordered", False: " without an order", None: ""}
        told = words[self.taken] + orders[self.ordered]
        told += ", after cleansing" if self.after_cleansing else ""
        told += ", from living tissue" if self.viable_tissue else ""
        return told + (", before antibiotics" if self.before_antibiotics else "")
