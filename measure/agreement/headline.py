"""The first line of an analysis: what it means for whoever reads two measurements, in plain words."""

import math

import numpy as np

from measure.agreement.errors import AgreementError
from measure.agreement.figure_words import unit_words
from measure.agreement.kappa import fleiss
from measure.agreement.limits import repeated_limits
from measure.agreement.measurement_error import Kind, relative_change, smallest_change
from measure.agreement.number_sections import change_of
from measure.agreement.observations import Observations
from measure.agreement.pairs import pairs
from measure.agreement.ratings import Order

_STEPS = (1.0, 2.0, 5.0, 10.0)
"""Round numbers, of which one near the middle of the sizes is told."""


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
    ends = (statistic.value, statistic.low, statistic.high)
    least, low, high = (_digits(end * size, statistic.value * size) for end in ends)
    unit = f" {unit_words(observations.unit)}" if observations.unit else ""
    what = "wound" if observations.unit == "cm2" else "value"
    subject = f"a {size:g}{unit} {what}" if relative else f"a {what}"
    doubt = f" (95 % interval {low} to {high})" if statistic.has_interval else ""
    change = f"must change by {least}{unit}{who} before it can be called a change"
    return f"With the present practice {subject} {change}{doubt}."


def category_headline(observations: Observations, *, order: Order | None) -> str:
    """Say how often answers are equal, and how much of that is more than chance."""
    try:
        found = fleiss(observations, order=order)
    except AgreementError as error:
        return f"How well the answers agree can't be told: {error}"
    equal, chance = (round(100 * share) for share in (found.observed.value, found.by_chance))
    return (
        f"Two raters give the same answer {equal} times in 100; chance alone would bring {chance}, "
        f"so that kappa is {found.kappa.value:.2f} (1 is full agreement, 0 is chance)."
    )


def _between_methods(observations: Observations, *, relative: bool) -> str:
    one, other = observations.methods[:2]
    try:
        found = repeated_limits(pairs(observations, one, other), unit=observations.unit, log=relative)
    except AgreementError as error:
        return f"How far {one} and {other} lie apart can't be told: {error}"
    if relative:
        bias, lower, upper = (_digits(each.value) for each in (found.bias, found.lower, found.upper))
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
    """Return a number to two digits, or to those of another one."""
    scale = abs(value if like is None else like)
    places = max(0, 1 - math.floor(math.log10(scale))) if scale > 0 else 0
    return f"{value:.{places}f}"
