"""What a report consists of, whatever it is written as."""

from dataclasses import dataclass
from typing import TypeAlias

from measure.agreement.analysis import Figure
from measure.agreement.chart import Chart

ABOVE = ("as above", "")
"""Method and source of a figure that was found like the one above it."""


@dataclass(frozen=True)
class Heading:
    """A heading of level 1, 2 or 3; each level follows the one above it."""

    level: int
    words: str


@dataclass(frozen=True)
class Text:
    """A paragraph; one that leads is written larger."""

    words: str
    leads: bool = False


@dataclass(frozen=True)
class Points:
    """Sentences as a list."""

    sentences: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """A table of names and what holds for them, with what it is called."""

    caption: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Figures:
    """A table of figures, each with value, interval, method and source, with what it is called."""

    caption: str
    rows: tuple[Figure, ...]

    @property
    def found(self) -> list[tuple[str, str]]:
        """Method and source of each row, said once where rows below each other share them."""
        both = [(row.statistic.method, row.statistic.source) for row in self.rows]
        return [ABOVE if both[:number][-1:] == [each] else each for number, each in enumerate(both)]


@dataclass(frozen=True, eq=False)
class Picture:
    """A chart with its caption."""

    chart: Chart


Block: TypeAlias = Heading | Text | Points | Facts | Figures | Picture
