"""What a report consists of, whatever it is written as."""

from dataclasses import dataclass
from typing import TypeAlias

from measure.agreement.analysis import Figure
from measure.agreement.chart import Chart


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
    """A table of figures, each with value and interval and the number of its note, with what it is called."""

    caption: str
    rows: tuple[Figure, ...]
    notes: tuple[int, ...]


@dataclass(frozen=True)
class Notes:
    """Methods with their sources, numbered from 1: each once, for they are long and many figures share them."""

    found: tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class Picture:
    """A chart with its caption."""

    chart: Chart


Block: TypeAlias = Heading | Text | Points | Facts | Figures | Notes | Picture
