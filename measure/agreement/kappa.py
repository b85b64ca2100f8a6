"""Agreement on categories beyond what chance would bring: Cohen's kappa, plain and weighted, and Fleiss' kappa.

All are 1 - (disagreement seen) / (disagreement by chance). They fall where nearly all wounds have the same category,
however well raters agree; read them beside the share of equal answers. Where raters never differ, the formulas of the
errors give 0, which is no interval: there is none then.
"""

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, stdtrit

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Observations
from measure.agreement.ratings import By, Order, rated_by
from measure.agreement.statistic import Statistic

Weights: TypeAlias = Literal["none", "linear", "quadratic"]
"""How much two categories agree: not at all unless they are the same, or less the further apart they stand."""

NORMAL_95 = 1.96

COHEN = "Cohen, Educ Psychol Meas 1960;20:37-46; error by Fleiss, Cohen and Everitt, Psychol Bull 1969;72:323-7"
WEIGHTED = "Cohen, Psychol Bull 1968;70:213-20; error by Fleiss, Cohen and Everitt, Psychol Bull 1969;72:323-7"
FLEISS = "Fleiss, Psychol Bull 1971;76:378-82; error by Gwet, Br J Math Stat Psychol 2008;61:29-48"
WILSON = "Wilson, J Am Stat Assoc 1927;22:209-12"

_NO_ERROR = 1e-9  # an error below this is rounding: nobody differed

Table: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class Kappa:
    """Agreement on categories.

    Attributes
    ----------
    kappa : Statistic
    observed : Statistic
        Share of equal answers; of pairs of raters where there are more than two.
    by_chance : float
        Agreement that chance would bring: what 0 of kappa stands for, weighted where kappa is.
    chance_error : float
        Standard error of kappa if the answers had nothing to do with each other.
    units, left_out : int
        Things counted, and those left out because a rater gave no answer.
    categories : tuple of str
        In their order.
    """

    kappa: Statistic
    observed: Statistic
    by_chance: float
    chance_error: float
    units: int
    left_out: int
    categories: tuple[str, ...]

    @property
    def p_value(self) -> float:
        """Probability of a kappa as far from 0, were the answers unrelated (two-sided, normal)."""
        return float(2 * ndtr(-abs(self.kappa.value) / self.chance_error)) if self.chance_error else math.nan

    @property
    def equal_chances(self) -> float:
        """Kappa as if chance chose all categories alike, which does not fall where one of them prevails.

        Brennan and Prediger, Educ Psychol Meas 1981;41:687-99; of several raters Randolph 2005.
        """
        chance = 1 / len(self.categories)
        return (self.observed.value - chance) / (1 - chance)


def cohen(  # noqa: PLR0913 - who, and what counts as agreement
    observations: Observations,
    one: str,
    other: str,
    *,
    by: By = "rater",
    weights: Weights = "none",
    order: Order | None = None,
) -> Kappa:
    """Return Cohen's kappa of two raters, or of two methods or trials of the same raters.

    The steps between categories are those of their order, not of numbers they may be; give an ``order`` that holds
    categories which nobody used. What only one of the two rated is left out and counted. With methods or trials each
    rater's answer to a subject counts as one thing, and the interval takes them as independent.

    Raises
    ------
    AgreementError
        If a kappa has no meaning: one rater, nothing in common, one category, weights without an order.
    """
    rated = rated_by(observations, by=by, order=order, few=True)
    if weights != "none" and not rated.ordered:
        raise AgreementError(f"A {weights} kappa needs the order of the categories; give it, from least to most.")
    pairs = rated.pairs(one, other)
    table = np.zeros((len(rated.categories),) * 2)
    np.add.at(table, (pairs[:, 0], pairs[:, 1]), 1)
    return _cohen(table, weights, rated.units - len(pairs), tuple(map(_named, rated.categories)))


def cohen_of(table: ArrayLike, weights: Weights = "none") -> Kappa:
    """Return Cohen's kappa of a square table (K, K) of counts: rows what one rater said, columns what the other said.

    Raises
    ------
    AgreementError
        If it is no square table of counts, or kappa has no meaning for it.
    """
    counts = np.asarray(table, dtype=np.float64)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or not (counts >= 0).all():
        raise AgreementError("Cohen's kappa needs a square table of counts, the same categories down and across.")
    return _cohen(counts, weights, 0, tuple(str(number) for number in range(1, len(counts) + 1)))


def _named(category: object) -> str:
    return f"{category:g}" if isinstance(category, float) else str(category)


def _cohen(table: Table, weights: Weights, left_out: int, categories: tuple[str, ...]) -> Kappa:
    total = round(float(table.sum()))
    _check(total, int(np.count_nonzero(table.sum(axis=0) + table.sum(axis=1))))
    share, agreeing = table / total, _weights(len(table), weights)
    unrelated = np.outer(share.sum(axis=1), share.sum(axis=0))
    seen, chance = float((share * agreeing).sum()), float((unrelated * agreeing).sum())
    kappa = (seen - chance) / (1 - chance)
    half = NORMAL_95 * _large_sample_error(share, agreeing, kappa) / math.sqrt(total)
    return Kappa(
        kappa=_statistic(kappa, half, _cohen_method(weights), COHEN if weights == "none" else WEIGHTED),
        observed=_equal(round(float(np.trace(table))), total),
        by_chance=chance,
        chance_error=_large_sample_error(unrelated, agreeing, 0.0) / math.sqrt(total),
        units=total,
        left_out=left_out,
        categories=categories,
    )


def _check(units: int, used: int) -> None:
    """Refuse what kappa has no meaning for."""
    if units < 2:
        raise AgreementError(f"Kappa needs at least 2 things that were rated more than once, and there is {units}.")
    if used < 2:
        raise AgreementError(
            "All answers are the same category, so that chance alone would bring full agreement; kappa needs a second "
            "category in use."
        )


def _weights(count: int, weights: Weights) -> Table:
    """Return how much categories agree, shape (K, K): 1 for the same, 0 for the two ends."""
    if weights == "none":
        return np.eye(count)
    place = np.arange(count) / (count - 1)
    away = np.abs(place[:, None] - place)
    return np.asarray(1 - (away if weights == "linear" else away**2), dtype=np.float64)


def _large_sample_error(share: Table, agreeing: Table, kappa: float) -> float:
    """Return the standard error of Fleiss, Cohen and Everitt, of one thing.

    With the shares that unrelated answers bring, and a kappa of 0, it is the one they give for testing that.
    """
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    chance = float(rows @ agreeing @ columns)
    margins = (agreeing @ columns)[:, None] + (rows @ agreeing)[None, :]
    spread = float((share * (agreeing - margins * (1 - kappa)) ** 2).sum())
    return math.sqrt(max(spread - (kappa - chance * (1 - kappa)) ** 2, 0.0)) / (1 - chance)


def _cohen_method(weights: Weights) -> str:
    kind = "Cohen's kappa" if weights == "none" else f"Cohen's kappa with {weights} weights by the order of categories"
    return f"{kind}; kappa +- 1.96 large-sample standard errors, cut at -1 and 1"


def _statistic(kappa: float, half: float, method: str, source: str) -> Statistic:
    if half < _NO_ERROR:
        return Statistic(kappa, method=f"{method}; no interval, because the raters never differed", source=source)
    return Statistic(kappa, max(kappa - half, -1.0), min(kappa + half, 1.0), method=method, source=source)


def _equal(equal: int, total: int) -> Statistic:
    """Return the share of equal answers."""
    square = NORMAL_95**2
    centre = (equal + square / 2) / (total + square)
    half = NORMAL_95 * math.sqrt(equal * (total - equal) / total + square / 4) / (total + square)
    method = "share of things with equal answers; Wilson interval"
    return Statistic(equal / total, centre - half, centre + half, method=method, source=WILSON)


def fleiss(observations: Observations, *, by: By = "rater", order: Order | None = None) -> Kappa:
    """Return Fleiss' kappa of any number of raters; what not all of them rated is left out and counted.

    Raises
    ------
    AgreementError
        If it has no meaning: one rater, nothing rated by all, one category.
    """
    rated = rated_by(observations, by=by, order=order, few=True)
    counts = rated.counts()
    whole = counts.sum(axis=1) == len(rated.observers)
    if not whole.any():
        raise AgreementError(
            f"Nothing was rated by all {len(rated.observers)} {by}s; Krippendorff's alpha allows for missing answers."
        )
    return _fleiss(counts[whole], int((~whole).sum()), tuple(map(_named, rated.categories)))


def fleiss_of(counts: ArrayLike) -> Kappa:
    """Return Fleiss' kappa of a table (N, K): how many raters gave each thing each category; as many in all rows.

    Raises
    ------
    AgreementError
        If the numbers differ or are fewer than 2, or kappa has no meaning.
    """
    table = np.asarray(counts, dtype=np.float64)
    if table.ndim != 2 or not (table >= 0).all() or len(np.unique(table.sum(axis=1))) != 1 or table[0].sum() < 2:
        raise AgreementError("Fleiss' kappa needs a table of counts with the same number of raters, 2 or more, a row.")
    return _fleiss(table, 0, tuple(str(number) for number in range(1, table.shape[1] + 1)))


def _fleiss(counts: Table, left_out: int, categories: tuple[str, ...]) -> Kappa:
    units, raters = len(counts), float(counts[0].sum())
    share = counts.sum(axis=0) / counts.sum()
    _check(units, int(np.count_nonzero(share)))
    alike = (counts * (counts - 1)).sum(axis=1) / (raters * (raters - 1))
    seen, chance = float(alike.mean()), float((share**2).sum())
    kappa = (seen - chance) / (1 - chance)
    error = _linearised_error(alike, counts @ share / raters, kappa, chance)
    method = "Fleiss' kappa; kappa +- Student's t times the standard error over things (linearised), cut at -1 and 1"
    return Kappa(
        kappa=_statistic(kappa, float(stdtrit(units - 1, 0.975)) * error, method, FLEISS),
        observed=Statistic(seen, method="mean share of pairs of raters with equal answers", source=FLEISS),
        by_chance=chance,
        chance_error=_chance_error(share, units, raters),
        units=units,
        left_out=left_out,
        categories=categories,
    )


def _linearised_error(alike: Table, likely: Table, kappa: float, chance: float) -> float:
    """Return Gwet's standard error: of each thing's contribution to kappa, that to the agreement by chance included.

    That of Fleiss (1971) was found wrong, and that of Fleiss, Nee and Landis holds for unrelated answers only.
    """
    each = (alike - chance) / (1 - chance) - 2 * (1 - kappa) * (likely - chance) / (1 - chance)
    return float(each.std(ddof=1) / math.sqrt(len(each)))


def _chance_error(share: Table, units: int, raters: float) -> float:
    """Return the standard error where answers are unrelated: Fleiss, Nee and Landis, Psychol Bull 1979;86:974-7."""
    both = share * (1 - share)
    variance = 2 * (both.sum() ** 2 - (both * (1 - 2 * share)).sum()) / (units * raters * (raters - 1))
    return float(math.sqrt(max(variance, 0.0)) / both.sum())
