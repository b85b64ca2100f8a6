"""What holds a wound together, and how the line stands: stitches, staples, strips."""

from dataclasses import dataclass
from types import MappingProxyType

from measure.findings.form import FindingError, answer, chosen, chosen_or_none, whole
from measure.findings.vocabulary import Vocabulary, Word

KINDS: Vocabulary = MappingProxyType(
    {
        "sutures": Word("sutures", "Stitches of thread."),
        "staples": Word("staples", "Metal clips, taken out with a staple remover."),
        "strips": Word("adhesive strips", "Strips of tape across the line."),
    }
)
"""What can be counted (trade words: common practice)."""

COUNTED = frozenset({"sutures", "staples"})
"""The kinds that stay until somebody takes them out; strips come off by themselves."""

LINES: Vocabulary = MappingProxyType(
    {
        "closed": Word("closed", "The edges meet along the whole line."),
        "gaping": Word("gaping", "The surface gapes at a place, and its edges do not move apart."),
        "separated": Word("separated", "The edges have come apart, or come apart as closures are removed."),
    }
)
"""How the line stands."""

SEPARATED = "separated"

MAX_CLOSURES = 300
"""A line of 1 m with three staples a cm; more was typed wrongly."""


@dataclass(frozen=True)
class Closures:
    """Closures of one wound.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    present : int
        How many there were when the visit began.
    removed : int
        How many of them were taken out.
    alternate : bool, optional
        Whether every other one was taken out; None where nobody said.
    line : str
        One of `LINES`, when the visit ended; empty where nobody said.
    order_recorded : bool, optional
        Whether a provider's order to remove them is in the chart.

    Raises
    ------
    FindingError
        If a value is impossible, or the counts don't add up.
    """

    kind: str
    present: int
    removed: int = 0
    alternate: bool | None = None
    line: str = ""
    order_recorded: bool | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be recorded."""
        chosen(self.kind, "The kind of closures", KINDS)
        whole(self.present, f"The number of {self.kind} present", 0, MAX_CLOSURES)
        whole(self.removed, f"The number of {self.kind} removed", 0, MAX_CLOSURES)
        answer(self.alternate, "Whether every other one was removed")
        chosen_or_none(self.line, "The line", LINES)
        answer(self.order_recorded, "Whether an order to remove them is recorded")
        self._refuse_counts()

    def _refuse_counts(self) -> None:
        if self.removed > self.present:
            raise FindingError(
                f"{self.removed} {self.kind} were removed, and {self.present} were there before: count again."
            )
        if self.alternate and self.removed > self.most_alternate:
            raise FindingError(
                f"{self.removed} of {self.present} {self.kind} were removed; every other one is at most "
                f"{self.most_alternate}: count again, or say that it was not every other one."
            )

    @property
    def remaining(self) -> int:
        """How many are still there."""
        return self.present - self.removed

    @property
    def most_alternate(self) -> int:
        """How many every other one are, at most: the first and the last of an odd number among them."""
        return (self.present + 1) // 2

    def __str__(self) -> str:
        """Say it as charts do: 6 of 12 staples removed, every other one, line closed."""
        if self.removed:
            told = f"{self.removed} of {self.present} {self.kind} removed"
        else:
            told = f"{self.present} {self.kind} present"
        told += ", every other one" if self.removed and self.alternate else ""
        return told + (f", line {LINES[self.line].word}" if self.line else "")
