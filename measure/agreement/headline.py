"""The first line of an analysis: what it means for whoever reads two measurements, in plain words."""

import math

import numpy as np

from measure.agreement.errors import AgreementError
from measure.agreement.figure_words import unit_words
from measure.agreement.kappa import Kappa, cohen, fleiss
from measure.agreement.limits import repeated_limits
from measure.agreement.measurement_error import Kind, relative_change, smallest_change
from measure.agreement.number_sections import change_of
from measure.agreement.observations import Observations
from measure.agreement.pairs import pairs
from measure.agreement.ratings import Order

_STEPS = (1.0, 2.0, 5.0, 10.0)
"""Round numbers, of which one near the middle of the sizes is told."""

_LEAST, _MOST = 1e-4, 1e6
"""Smaller and larger numbers are told with a power of ten."""


def number_headline(observations: Observations, *, relative: bool) -> str:
    """Say by how much a value must change to be called changed, or how far two methods lie apart."""
    if len(observations.methods) > 1:
        return _between_methods(observations, relative=relative)
    try:
        found, kind = change_of(observations, relative=relative)
        statistic = relative_change(found, kind) if relative else smallest_change(found, kind)
    except AgreementError as error:
        return f"How large a change must be can't be told: {error}"
    who = "" if kind is Kind.AGREEMENT else ", if the same person measures both times,"
    size = _round(float(np.exp(np.log(observations.value).mean()))) if relative else 1.0
    least, low, high = (_digits(end * size) for end in (statistic.value, statistic.low, statistic.high))
    unit = f" {unit_words(observations.unit)}" if observations.unit else ""
    what = "wound" if observations.unit == "cm2" else "value"
    subject = f"a {size:g}{unit} {what}" if relative else f"a {what}"
    doubt = f" (95 % interval {low} to {high})" if statistic.has_interval else ""
    change = f"must change by {least}{unit}{who} before it can be called a change"
    return f"With the present practice {subject} {change}{doubt}."


def category_headline(observations: Observations, *, order: Order | None) -> str:
    """Say how often answers are equal, and how much of that is more than chance.

    Answers of two raters; where there are two methods, of the first two, and of one rater, of its trials.
    """
    try:
        who, found = _compared(observations, order)
    except AgreementError as error:
        return f"How well the answers agree can't be told: {error}"
    equal, chance = (round(100 * share) for share in (found.observed.value, found.by_chance))
    return (
        f"{who} the same answer {equal} times in 100; chance alone would bring {chance}, "
        f"so that kappa is {found.kappa.value:.2f} (1 is full agreement, 0 is chance)."
    )


def _compared(observations: Observations, order: Order | None) -> tuple[str, Kappa]:
    if len(observations.methods) > 1:
        one, other = observations.methods[:2]
        return f"{one} and {other} give", cohen(observations, one, other, by="method", order=order)
    if len(observations.raters) == 1 and observations.repeated:
        return "The same rater, asked again, gives", fleiss(observations, by="trial", order=order)
    return "Two raters give", fleiss(observations, order=order)


def _between_methods(observations: Observations, *, relative: bool) -> str:
    one, other = observations.methods[:2]
    try:
        found = repeated_limits(pairs(observations, one, other), unit=observations.unit, log=relative)
    except AgreementError as error:
        return f"How far {one} and {other} lie apart can't be told: {error}"
    if relative:
        bias, lower, upper = (f"{each.value:.3g}" for each in (found.bias, found.lower, found.upper))
        return (
            f"{one} gives {bias} times what {other} does on average, and in 95 of 100 measurements between {lower} and "
            f"{upper} times."
        )
    three, like = (found.bias, found.lower, found.upper), found.standard_deviation.value
    bias, lower, upper = (_digits(each.value, like) for each in three)
    unit = f" {unit_words(observations.unit)}" if observations.unit else ""
    usual = f"in 95 of 100 measurements between {lower} and {upper}{unit}"
    return f"{one} less {other} is {bias}{unit} on average, and {usual}."


def _round(size: float) -> float:
    """Return the round number nearest to a size, as ratios go."""
    power = 10.0 ** math.floor(math.log10(size))
    return min((step * power for step in _STEPS), key=lambda step: abs(math.log(step / size)))


def _digits(value: float, like: float | None = None) -> str:
    """Return a number to two digits, or to those of another one; whole ones with all of theirs up to a million."""
    scale = abs(value if like is None else like)
    if not _LEAST <= scale < _MOST:
        return f"{value:.2g}"
    return f"{value:.{max(0, 1 - math.floor(math.log10(scale)))}f}"
