"""Categories, or other values that can be alike, which several observers gave to the same things, numbered."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Names, Observations, codes

By: TypeAlias = Literal["rater", "method", "trial"]
"""Between whom: raters, each by their first trial; methods, or trials, of the same rater."""

Codes: TypeAlias = NDArray[np.intp]
Order: TypeAlias = Sequence[str] | Sequence[float]
"""All categories there are, from one end to the other, those that nobody used too."""

MOST_CATEGORIES = 20
"""More different numbers than this are measurements, for which an intraclass correlation is made."""


@dataclass(frozen=True, eq=False)
class Ratings:
    """What each observer said of each thing.

    Attributes
    ----------
    unit, observer, category : ndarray of int, shape (N,)
        Number of the thing, of who or what observed it, and of the category; no observer stands twice at a thing.
    units : int
        How many things there are.
    observers : tuple of str
    categories : ndarray of float64 or of str, shape (K,)
        In the order given; without one numbers by size and words by the alphabet.
    ordered : bool
        Whether the order of the categories means something.
    """

    unit: Codes
    observer: Codes
    category: Codes
    units: int
    observers: tuple[str, ...]
    categories: NDArray[np.float64] | Names
    ordered: bool

    def counts(self) -> NDArray[np.float64]:
        """Return how many observers gave each unit each category, shape (units, categories)."""
        counts = np.zeros((self.units, len(self.categories)))
        np.add.at(counts, (self.unit, self.category), 1)
        return counts

    def pairs(self, one: str, other: str) -> NDArray[np.intp]:
        """Return the categories that two observers gave, shape (n, 2), of the units that both saw.

        Raises
        ------
        AgreementError
            If one of them is unknown, or no unit was seen by both.
        """
        for name in (one, other):
            if name not in self.observers:
                raise AgreementError(f"The table holds nothing by '{name}'; choose one of {', '.join(self.observers)}.")
        table = np.full((self.units, len(self.observers)), -1)
        table[self.unit, self.observer] = self.category
        both = table[:, [self.observers.index(one), self.observers.index(other)]]
        both = both[(both >= 0).all(axis=1)]
        if not len(both):
            raise AgreementError(f"{one} and {other} rated nothing in common; let both rate the same wounds.")
        return both


def rated_by(observations: Observations, *, by: By = "rater", order: Order | None = None, few: bool = False) -> Ratings:
    """Return what stands in a table, numbered, with raters, methods or trials as the observers.

    Raises
    ------
    AgreementError
        If there are not at least two observers, a value is missing in ``order``, the table mixes methods, or holds
        measurements where only a ``few`` categories have a meaning.
    """
    rows = observations if by == "trial" else observations.first_trials()
    if by != "method" and len(rows.methods) > 1:
        raise AgreementError(
            f"The table mixes the methods {', '.join(rows.methods)}; choose one, or compare them with each other."
        )
    observers = {"rater": rows.raters, "method": rows.methods, "trial": rows.trials}[by]
    if len(observers) < 2:
        raise AgreementError(f"The table holds one {by}; agreement between {by}s needs at least two.")
    categories = _categories(rows, order)
    if few and rows.numeric and order is None and len(categories) > MOST_CATEGORIES:
        raise AgreementError(
            f"The table holds {len(categories)} different numbers, but equal answers are counted of a few categories; "
            "take an intraclass correlation for measurements."
        )
    keys = rows.subject[:, None] if by == "rater" else np.stack([rows.subject, rows.rater], axis=1)
    units, unit = np.unique(keys, axis=0, return_inverse=True)
    return Ratings(
        unit=unit.reshape(-1),
        observer=codes(getattr(rows, by), observers),
        category=_category(rows, categories),
        units=len(units),
        observers=observers,
        categories=categories,
        ordered=order is not None or rows.numeric,
    )


def _categories(rows: Observations, order: Order | None) -> NDArray[np.float64] | Names:
    """Return all categories; the order given must hold those of the table."""
    if order is None:
        met: NDArray[np.float64] | Names = np.unique(rows.value)
        return met
    given: NDArray[np.float64] | Names
    given = np.asarray(order, dtype=np.float64) if rows.numeric else np.asarray(order, dtype=np.str_)
    if len(np.unique(given)) < len(given):
        raise AgreementError("A category stands twice in the order; name each once.")
    strange = np.setdiff1d(rows.value, given)
    if strange.size:
        raise AgreementError(
            f"'{strange[0]}' stands in the table but not among the categories {', '.join(map(str, order))}; add it, or "
            "correct the table."
        )
    return given


def _category(rows: Observations, categories: NDArray[np.float64] | Names) -> Codes:
    """Return the number of each row's category."""
    order = np.argsort(categories)
    return np.asarray(order[np.searchsorted(categories, rows.value, sorter=order)], dtype=np.intp)
