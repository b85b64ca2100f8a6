"""Everything that a table of measurements tells about agreement: figures in sections, sentences for what it can't."""

from dataclasses import dataclass

from measure.agreement.observations import Observations
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
    """

    key: str
    label: str
    statistic: Statistic


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


@dataclass(frozen=True, eq=False)
class Analysis:
    """What a table tells.

    Attributes
    ----------
    observations : Observations
    headline : str
        The first line: what it means for a change, in plain words.
    sections : tuple of Section
    """

    observations: Observations
    headline: str
    sections: tuple[Section, ...]
