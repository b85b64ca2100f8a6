"""Figures of an analysis that belong together, with their names, and sentences for those that can't be found."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from measure.agreement.errors import AgreementError
from measure.agreement.statistic import Statistic


@dataclass(frozen=True)
class Figure:
    """A statistic with its name.

    Attributes
    ----------
    key : str
        In documents.
    label : str
        For people.
    statistic : Statistic
    detail : bool
        Whether a short text does without it.
    share : bool
        Whether it is a part of 1, which people read in percent.
    """

    key: str
    label: str
    statistic: Statistic
    detail: bool = False
    share: bool = False

    @property
    def shown(self) -> Statistic:
        """The statistic as people read it: a share in percent."""
        if not self.share:
            return self.statistic
        value, low, high = (100 * end for end in (self.statistic.value, self.statistic.low, self.statistic.high))
        return replace(self.statistic, value=value, low=low, high=high, unit="%")


@dataclass(frozen=True)
class Section:
    """Figures that belong together.

    Attributes
    ----------
    key, title : str
        In documents, and for people.
    figures : tuple of Figure
    sentences : tuple of str
        What to know when reading them, and why others are missing.
    about_people : bool
        Whether it tells about single raters, which the quality team alone sees.
    """

    key: str
    title: str
    figures: tuple[Figure, ...]
    sentences: tuple[str, ...] = ()
    about_people: bool = False

    def of(self, name: str) -> "Section":
        """Return the same section as that of one method or one pair."""
        return replace(self, key=f"{self.key} of {name}", title=f"{self.title}: {name}")


@dataclass
class Gathering:
    """Gathers a section: what can't be found becomes a sentence, said once."""

    key: str
    title: str
    figures: list[Figure] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)

    def add(
        self, key: str, label: str, statistic: Statistic | None, *, detail: bool = False, share: bool = False
    ) -> None:
        """Add a figure, if there is one."""
        if statistic is not None:
            self.figures.append(Figure(key, label, statistic, detail, share))

    def find(self, key: str, label: str, find: Callable[[], Statistic | None], *, share: bool = False) -> None:
        """Add a figure, or the sentence why there is none."""
        try:
            self.add(key, label, find(), share=share)
        except AgreementError as error:
            self.say(str(error))

    def say(self, *sentences: str) -> None:
        """Add sentences that were not said yet; empty ones say nothing."""
        self.sentences += [sentence for sentence in dict.fromkeys(sentences) if sentence not in {"", *self.sentences}]

    def section(self, *, about_people: bool = False) -> Section:
        """Return what was gathered."""
        return Section(self.key, self.title, tuple(self.figures), tuple(self.sentences), about_people)
