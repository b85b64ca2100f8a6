"""A tidy table of an agreement study: one row a measurement of a subject by a rater, once or several times."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Self, TypeAlias

import numpy as np
from numpy.typing import NDArray

from measure.agreement.errors import AgreementError

Names: TypeAlias = NDArray[np.str_]
Numbers: TypeAlias = NDArray[np.float64]

LEAST, MOST = 1e-60, 1e60
"""Between them a table's largest value lies, whose square can be squared again in a float."""

FEW = 5
"""Different whole numbers up to which a table may hold categories that are only numbered."""


@dataclass(frozen=True, eq=False)
class Observations:
    """What was measured, row by row.

    Attributes
    ----------
    subject, rater, trial, method : ndarray of str, shape (N,)
        What was measured, who measured it, at which of several times, and how; ``trial`` is numbered from 1 in the
        order of the rows where nobody said, and ``method`` is empty then. No two rows have all four alike.
    value : ndarray of float64 or of str, shape (N,)
        Numbers, in ``unit``, or categories; none is missing.
    unit : str
    missing : int
        Rows that were left out because they had no value.

    Raises
    ------
    AgreementError
        If there is no row, a row stands there twice, or a number is not finite or beyond what can be squared.
    """

    subject: Names
    rater: Names
    trial: Names
    method: Names
    value: NDArray[Any]
    unit: str = ""
    missing: int = 0

    def __post_init__(self) -> None:
        """Refuse what can't be analysed."""
        if not self.value.size:
            raise AgreementError("The table holds no measurement; give rows with subject, rater and value.")
        if self.numeric and not np.isfinite(self.value).all():
            raise AgreementError("The table holds a value that is no finite number; leave the cell empty instead.")
        if self.numeric and (largest := float(np.abs(self.value).max())) and not LEAST < largest < MOST:
            raise AgreementError(
                f"The largest value is of the size {largest:g}, too far from 1 to reckon with; choose another unit."
            )
        keys = np.stack([self.subject, self.rater, self.trial, self.method], axis=1)
        rows, counts = np.unique(keys, axis=0, return_counts=True)
        if counts.max() > 1:
            subject, rater, trial, method = rows[int(counts.argmax())]
            by = f" with {method}" if method else ""
            raise AgreementError(
                f"Trial {trial} of {subject} by {rater}{by} stands in the table {counts.max()} times; keep one, or "
                "number the trials."
            )

    @property
    def numeric(self) -> bool:
        """Whether the values are numbers, not categories."""
        return bool(np.issubdtype(self.value.dtype, np.floating))

    @property
    def subjects(self) -> tuple[str, ...]:
        """All subjects, in the order of the rows."""
        return _met(self.subject)

    @property
    def raters(self) -> tuple[str, ...]:
        """All raters, in the order of the rows."""
        return _met(self.rater)

    @property
    def trials(self) -> tuple[str, ...]:
        """All trials, in the order of the rows."""
        return _met(self.trial)

    @property
    def methods(self) -> tuple[str, ...]:
        """All methods, in the order of the rows."""
        return _met(self.method)

    @property
    def repeated(self) -> bool:
        """Whether a rater measured a subject more than once with the same method."""
        return len(self.first_trials().value) < len(self.value)

    @property
    def few_whole_numbers(self) -> bool:
        """Whether the values may be the numbers of categories: whole, and of at most `FEW` kinds."""
        return self.numeric and len(np.unique(self.value)) <= FEW and bool((self.value == np.round(self.value)).all())

    def where(self, kept: NDArray[np.bool_]) -> Self:
        """Return some of the rows.

        Raises
        ------
        AgreementError
            If none is left.
        """
        parts = {name: getattr(self, name)[kept] for name in ("subject", "rater", "trial", "method", "value")}
        return replace(self, **parts)

    def by_method(self, method: str) -> Self:
        """Return the rows of one method."""
        return self.where(self.method == method)

    def first_trials(self) -> Self:
        """Return the first row of each subject, rater and method: one value each, whatever the trials are called."""
        return self._first_trials

    @cached_property
    def _first_trials(self) -> Self:
        """The same, found once: each pair of raters asks for it."""
        keys = np.stack([self.subject, self.rater, self.method], axis=1)
        _, first = np.unique(keys, axis=0, return_index=True)
        kept = np.zeros(len(self.value), dtype=np.bool_)
        kept[first] = True
        return self.where(kept)

    def logged(self) -> Self:
        """Return the natural logarithms of the values, for errors that grow with the size.

        Raises
        ------
        AgreementError
            If a value is not more than 0.
        """
        if not self.numeric or (self.value <= 0).any():
            raise AgreementError(
                "Errors in proportion to the size need values above 0, and the table holds others; analyse it as it is."
            )
        return replace(self, value=np.log(self.value), unit="")

    def crossed(self) -> Numbers:
        """Return the mean of each subject and rater, shape (subjects, raters); NaN where there is none."""
        rows, columns = codes(self.subject, self.subjects), codes(self.rater, self.raters)
        total = np.zeros((len(self.subjects), len(self.raters)))
        count = np.zeros_like(total)
        np.add.at(total, (rows, columns), self.value)
        np.add.at(count, (rows, columns), 1)
        return np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)


def codes(names: Names, known: Sequence[str]) -> NDArray[np.intp]:
    """Return the number of each name among those known, shape (N,)."""
    found = np.array(known)
    order = np.argsort(found)
    return np.asarray(order[np.searchsorted(found, names, sorter=order)], dtype=np.intp)


def _met(names: Names) -> tuple[str, ...]:
    found, first = np.unique(names, return_index=True)
    return tuple(str(name) for name in found[np.argsort(first)])
