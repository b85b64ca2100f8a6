"""The charts that a table gives: which ones, on which scale, and why others are missing."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from measure.agreement.bias import rater_bias, rater_ratio
from measure.agreement.bias_chart import bias_chart
from measure.agreement.chart import Chart
from measure.agreement.difference_chart import difference_chart
from measure.agreement.distance_chart import distance_chart
from measure.agreement.errors import AgreementError
from measure.agreement.from_mean import from_mean
from measure.agreement.letters import lettered
from measure.agreement.limits import repeated_limits
from measure.agreement.observations import Observations
from measure.agreement.pairs import pairs
from measure.agreement.size_chart import size_chart

Made = Callable[[], Chart]


@dataclass(frozen=True, eq=False)
class Charts:
    """The charts of a table, and a sentence for each that it doesn't give."""

    drawn: tuple[Chart, ...]
    missing: tuple[str, ...]


def charts(observations: Observations, *, relative: bool = False, people: bool = False, noun: str = "photo") -> Charts:
    """Return the charts of a table.

    Parameters
    ----------
    observations : Observations
    relative : bool
        Whether errors grow in proportion to the size, so that distances are told in percent or as ratios.
    people : bool
        Whether raters have their names; else they have letters.
    noun : str
        What a subject is called.
    """
    if not observations.numeric:
        return Charts((), ("Categories are told in the table of figures; they have no differences to draw.",))
    told = observations if people else lettered(observations)
    drawn, missing = [], []
    for made in _made(told, noun, relative=relative):
        try:
            drawn.append(made())
        except AgreementError as error:
            missing.append(str(error))
    return Charts(tuple(drawn), tuple(dict.fromkeys(missing)))


def _made(told: Observations, noun: str, *, relative: bool) -> Iterator[Made]:
    """Yield what draws each chart: two methods beside each other, or the raters of one."""
    if len(told.methods) > 1:
        yield lambda: _two(told, "method", noun, relative=relative)
        return
    if len(told.raters) == 2:
        yield lambda: _two(told, "rater", noun, relative=relative)
    else:
        yield lambda: distance_chart(from_mean(told, relative=relative), noun=noun)
    yield lambda: size_chart(told, noun=noun)
    yield lambda: bias_chart((rater_ratio if relative else rater_bias)(told), ratio=relative, noun=noun)


def _two(told: Observations, by: Literal["method", "rater"], noun: str, *, relative: bool) -> Chart:
    names = told.methods if by == "method" else told.raters
    if len(names) > 2:
        raise AgreementError(f"{len(names)} methods are in the table; a chart shows the difference of two.")
    one, other = names
    limits = repeated_limits(pairs(told, one, other, by=by), unit=told.unit, log=relative)
    return difference_chart(limits, (one, other), noun=noun)
