"""Everything that a table of measurements tells about agreement: figures in sections, sentences for what it can't."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from measure.agreement.category_sections import category_sections
from measure.agreement.errors import AgreementError
from measure.agreement.headline import category_headline, number_headline
from measure.agreement.measurement_error import relative_change
from measure.agreement.number_sections import change_of, limits_section, number_sections
from measure.agreement.observations import Observations
from measure.agreement.ratings import Order
from measure.agreement.section import Figure, Section
from measure.agreement.statistic import Statistic

__all__ = ["Analysis", "Figure", "Section", "analyse"]


@dataclass(frozen=True, eq=False)
class Analysis:
    """What a table tells.

    Attributes
    ----------
    observations : Observations
    headline : str
        The first line: what it means for a change, in plain words.
    sections : tuple of Section
    relative : bool
        Whether errors were taken as growing in proportion to the size.
    """

    observations: Observations
    headline: str
    sections: tuple[Section, ...]
    relative: bool = False

    def relative_sdc(self) -> Statistic:
        """Return the smallest detectable change as a share of the mean of two values.

        Raises
        ------
        AgreementError
            If the table doesn't tell it.
        """
        if not self.relative:
            raise AgreementError("The errors were not taken as growing with the size; analyse the table so.")
        return relative_change(*change_of(self.observations, relative=True))


def analyse(
    observations: Observations, *, relative: bool = False, order: Order | None = None, categories: bool = False
) -> Analysis:
    """Tell all that a table says about agreement.

    Parameters
    ----------
    observations : Observations
    relative : bool
        Whether errors grow in proportion to the size, as those of areas do.
    order : sequence, optional
        Categories from least to most, where they have an order.
    categories : bool
        Whether numbers are those of categories. Whole numbers of a few kinds are analysed both ways anyway.

    Raises
    ------
    AgreementError
        If errors can't grow with the size, because a value is not above 0.
    """
    if relative:
        observations.logged()
    numbers = observations.numeric and not categories
    if numbers:
        headline = number_headline(observations, relative=relative)
    else:
        headline = category_headline(observations, order=order)
    return Analysis(observations, headline, tuple(_sections(observations, order, numbers, relative)), relative)


def _sections(observations: Observations, order: Order | None, numbers: bool, relative: bool) -> Iterator[Section]:  # noqa: FBT001
    several = len(observations.methods) > 1
    if several and numbers:
        for one, other in combinations(observations.methods, 2):
            yield limits_section(observations, one, other, by="method", relative=relative)
    for method in observations.methods:
        alone = observations.by_method(method)
        for section in _of_method(alone, order, numbers, relative):
            yield section.of(method) if several else section


def _of_method(observations: Observations, order: Order | None, numbers: bool, relative: bool) -> Iterator[Section]:  # noqa: FBT001
    if numbers:
        yield from number_sections(observations, relative=relative)
    if not numbers or (observations.few_whole_numbers and len(observations.raters) > 1):
        yield from category_sections(observations, order=order)
