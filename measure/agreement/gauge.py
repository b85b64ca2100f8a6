"""How much of the spread of a table is the measuring (gauge R&R): by averages and ranges, and by analysis of variance.

The two give other numbers on the same table, and by the number of categories they may even judge it differently; each
result says which it is.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc, ndtr

from measure.agreement.components import ERROR, INTERACTION, RATER, SUBJECT, Components, components
from measure.agreement.errors import AgreementError
from measure.agreement.observations import Observations, codes
from measure.agreement.statistic import Statistic

SOURCE = "AIAG. Measurement Systems Analysis, 4th edition, 2010"

ANOVA_SOURCE = f"{SOURCE}; McNeese W. Three Ways to Analyze a Gage R&R Study, 2015"

POOL_ABOVE = 0.25
"""The interaction goes into the error where its F has a larger p: common practice, after Bancroft TA. Analysis and
Inference for Incomplete Models, 1964. Others pool from 0.05 on, and lose interactions that are there."""

CATEGORIES = 1.41
"""Categories that can be told apart are so many times the spread of subjects over that of measuring: √2, as printed."""

ENOUGH_CATEGORIES = 5
GOOD, MARGINAL = 10.0, 30.0
"""Percent of the whole spread up to which the manual calls measuring good, and still usable."""

MANY_RANGES = 15
"""Above so many ranges the factor of their mean is taken as that of any number, as the manual's table does."""


@dataclass(frozen=True)
class Gauge:
    """A table's spread in parts, all standard deviations in the unit of the values.

    Attributes
    ----------
    repeatability : Statistic
        Of one rater measuring a subject again (equipment variation, EV).
    reproducibility : Statistic
        Between raters, with their interaction with subjects where that was told apart (appraiser variation, AV).
    measuring : Statistic
        Both together (GRR).
    subjects : Statistic
        Between subjects (part variation, PV).
    whole : Statistic
        All together (TV).
    percent : Statistic
        Of measuring, in percent of the whole spread (%GRR); such percents of parts don't add up to 100.
    categories : Statistic
        How many groups of subjects can be told apart (ndc), before the fraction is cut off.
    sentences : tuple of str
        What was pooled or set to 0, and what the result means.
    interaction_p : float, optional
        Of the F of the interaction, where it was tested.
    pooled : bool
        Whether the interaction went into the error.
    """

    repeatability: Statistic
    reproducibility: Statistic
    measuring: Statistic
    subjects: Statistic
    whole: Statistic
    percent: Statistic
    categories: Statistic
    sentences: tuple[str, ...]
    interaction_p: float | None = None
    pooled: bool = False

    @property
    def distinct(self) -> int:
        """The categories without their fraction."""
        return math.floor(self.categories.value)

    def percent_of(self, part: Statistic) -> float:
        """Return a part's standard deviation in percent of the whole."""
        return 100 * part.value / self.whole.value


def average_and_range(observations: Observations) -> Gauge:
    """Analyse by averages and ranges, quick to check by hand; raters' interaction with subjects is not seen.

    The factors are 1 / d2* to four digits, as the manual prints them: for the mean range of trials 1 / d2 (K1), for the
    one range of raters (K2) and of subjects (K3) d2* of one range.

    Raises
    ------
    AgreementError
        If there are not two subjects, raters and trials, cells are missing or unequal, or no value repeated differs.
    """
    values = _complete(observations)
    subjects, raters, trials = values.shape
    of_trials, of_raters, of_subjects = range_factor(trials), range_factor(raters, 1), range_factor(subjects, 1)
    repeat = float(np.ptp(values, axis=2).mean()) * of_trials
    apart = float(np.ptp(values.mean(axis=(0, 2)))) * of_raters
    variance = apart**2 - repeat**2 / (subjects * trials)
    rater, subject = math.sqrt(max(variance, 0.0)), float(np.ptp(values.mean(axis=(1, 2)))) * of_subjects
    sentences = []
    if variance < 0:
        sentences.append("Raters differ no more than repeated values do; reproducibility was set to 0.")
    if subjects * raters <= MANY_RANGES:
        sentences.append(
            f"The factor of repeatability ({of_trials:.4f}) is for more than {MANY_RANGES} ranges; there are "
            f"{subjects * raters}, so repeatability is a little too large."
        )
    method = (
        f"average-and-range method with 1/d2* of {trials} trials ({of_trials:.4f}), {raters} raters ({of_raters:.4f}) "
        f"and {subjects} subjects ({of_subjects:.4f}); no interval"
    )
    parts = tuple(
        Statistic(each, unit=observations.unit, method=method, source=SOURCE)
        for each in (repeat, rater, math.hypot(repeat, rater), subject, math.hypot(repeat, rater, subject))
    )
    return _gauge(parts, sentences)


def analysis_of_variance(observations: Observations, *, pool_above: float = POOL_ABOVE) -> Gauge:
    """Analyse by variance components; cells may be missing or unequal.

    Parameters
    ----------
    observations : Observations
        Numbers of one method, with repeated trials.
    pool_above : float
        The interaction goes into the error where its p is larger; 1 keeps it apart.

    Raises
    ------
    AgreementError
        As `components`; also if no rater measured a subject twice or too few subjects tie raters together.
    """
    found = components(observations)
    if not found.repeated or found.interaction is None:
        raise AgreementError(
            "Measuring can be split into repeatability and reproducibility only where raters measured the same "
            "subjects at least twice each; add trials."
        )
    *_, crossed, error = found.mean_squares
    freedom = crossed.degrees_of_freedom, error.degrees_of_freedom
    p = float(fdtrc(*freedom, crossed.value / error.value)) if error.value else 0.0
    pooled = p > pool_above
    kept = components(observations, interaction=False) if pooled else found
    told = (
        f"The interaction of raters with subjects (p = {p:.3f}) was {'put into' if pooled else 'kept apart from'} the "
        f"error, as p is {'above' if pooled else 'not above'} {pool_above:g}."
    )
    sentences = [told, *kept.sentences]
    return _gauge(_parts(kept, pooled=pooled), sentences, interaction_p=p, pooled=pooled)


def _parts(found: Components, *, pooled: bool) -> tuple[Statistic, ...]:
    names = (
        (ERROR,),
        (RATER, INTERACTION),
        (RATER, INTERACTION, ERROR),
        (SUBJECT,),
        (SUBJECT, RATER, INTERACTION, ERROR),
    )
    head = f"analysis of variance, interaction {'in the error' if pooled else 'apart'}"
    spreads = (found.spread(*each) for each in names)
    return tuple(
        Statistic(
            each.value, each.low, each.high, each.unit, f"{head}; {each.method}", f"{ANOVA_SOURCE}; {each.source}"
        )
        for each in spreads
    )


def _gauge(
    parts: tuple[Statistic, ...], sentences: list[str], *, interaction_p: float | None = None, pooled: bool = False
) -> Gauge:
    """Return the result of repeatability, reproducibility, measuring, subjects and the whole, in this order."""
    repeatability, reproducibility, measuring, subjects, whole = parts
    if measuring.value == 0:
        raise AgreementError(
            "No two measurements of a subject differ, so the spread of measuring is too small to see at the digits "
            "that were noted."
        )
    head = repeatability.method.split(";")[0]
    percent = 100 * measuring.value / whole.value
    categories = CATEGORIES * subjects.value / measuring.value
    return Gauge(
        repeatability,
        reproducibility,
        measuring,
        subjects,
        whole,
        Statistic(percent, unit="%", method=f"measuring over the whole spread, by {head}", source=measuring.source),
        Statistic(categories, method=f"{CATEGORIES} subjects over measuring, by {head}", source=measuring.source),
        (*sentences, _meaning(percent, math.floor(categories))),
        interaction_p,
        pooled,
    )


def _meaning(percent: float, distinct: int) -> str:
    word = "good" if percent < GOOD else "usable for some purposes" if percent <= MARGINAL else "not good enough"
    enough = "enough" if distinct >= ENOUGH_CATEGORIES else f"fewer than the {ENOUGH_CATEGORIES} that are wished for"
    groups = "group" if distinct == 1 else "groups"
    return (
        f"Measuring makes {percent:.1f} % of the whole spread, which the manual calls {word}; it tells {distinct} "
        f"{groups} of sizes apart, {enough}. Both depend on how much the subjects of this study differ."
    )


def _complete(observations: Observations) -> NDArray[np.float64]:
    """Return the values, shape (subjects, raters, trials), each cell in the order of its rows."""
    if not observations.numeric:
        raise AgreementError("The values are categories; averages and ranges can be found of numbers only.")
    if len(observations.methods) > 1:
        raise AgreementError("The table holds several methods; analyse one at a time.")
    shape = len(observations.subjects), len(observations.raters)
    cell = codes(observations.subject, observations.subjects) * shape[1] + codes(
        observations.rater, observations.raters
    )
    count = np.bincount(cell, minlength=shape[0] * shape[1])
    if min(*shape, count.max()) < 2 or np.ptp(count) > 0:
        raise AgreementError(
            "Averages and ranges need at least two subjects, raters and trials, with as many trials by each rater of "
            "each subject; fill the gaps, or use the analysis of variance."
        )
    return observations.value[np.argsort(cell, kind="stable")].reshape(*shape, -1)


@lru_cache
def range_factor(size: int, ranges: int | None = None) -> float:
    """Return 1 / d2*, which makes a mean range of normal values their standard deviation, to four digits.

    Parameters
    ----------
    size : int
        Values that each range is of, two or more.
    ranges : int, optional
        How many ranges the mean is of; None for very many, where it is 1 / d2.
    """
    mean, square = _range_moments(size)
    spread = square - mean**2
    return round(1 / math.sqrt(mean**2 + (spread / ranges if ranges else 0.0)), 4)


def _range_moments(size: int) -> tuple[float, float]:
    """Return the mean of the range of so many standard normal values, and of its square, by summing over a grid."""
    x = np.linspace(-8, 8, 801)
    step = x[1] - x[0]
    below = ndtr(x)
    mean = float((1 - below**size - (1 - below) ** size).sum() * step)
    density = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)
    between = np.abs(below[:, None] - below) ** (size - 2)
    pairs = size * (size - 1) / 2 * np.outer(density, density) * between
    return mean, float(((x[:, None] - x) ** 2 * pairs).sum() * step**2)
