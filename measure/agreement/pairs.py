"""The same subjects measured in two ways, or by two raters, once or several times each."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from measure.agreement.errors import AgreementError
from measure.agreement.observations import Numbers, Observations, codes


@dataclass(frozen=True, eq=False)
class Pairs:
    """Values of the same subjects, measured two ways.

    Attributes
    ----------
    subjects : tuple of str
        Measured both ways.
    first_single, second_single : tuple of ndarray
        The single values of each subject, either way.
    left_out : int
        Subjects measured one way only.
    """

    subjects: tuple[str, ...]
    first_single: tuple[Numbers, ...]
    second_single: tuple[Numbers, ...]
    left_out: int = 0

    @property
    def first(self) -> Numbers:
        """Mean of each subject the first way, shape (n,)."""
        return means(self.first_single)

    @property
    def second(self) -> Numbers:
        """Mean of each subject the second way, shape (n,)."""
        return means(self.second_single)

    @property
    def repeated(self) -> bool:
        """Whether a subject was measured more than once either way."""
        return any(len(values) > 1 for values in (*self.first_single, *self.second_single))


@dataclass(frozen=True)
class Repeats:
    """How single values of the same subject, measured one way, vary.

    Attributes
    ----------
    variance : float
        Within subjects; 0 where nothing was repeated.
    degrees : int
        Its degrees of freedom.
    lost : float
        Share of it that means over the repeats don't show: 1 less the mean of 1 / repeats.
    """

    variance: float
    degrees: int
    lost: float

    @classmethod
    def of(cls, single: Sequence[Numbers]) -> Self:
        """Sum up the single values of each subject."""
        counts = np.array([len(values) for values in single])
        degrees = int((counts - 1).sum())
        squares = sum(float(((values - values.mean()) ** 2).sum()) for values in single)
        return cls(squares / degrees if degrees else 0.0, degrees, float(1 - (1 / counts).mean()))

    @property
    def missing(self) -> float:
        """Variance that single values have and their means don't."""
        return self.lost * self.variance

    @property
    def doubt(self) -> float:
        """Sampling variance of `missing`, for normal errors."""
        return 2 * self.missing**2 / self.degrees if self.degrees else 0.0


def pairs(observations: Observations, one: str, other: str, *, by: Literal["method", "rater"] = "method") -> Pairs:
    """Pair the values of two methods, or of two raters, subject by subject; whoever else measured, and when.

    Raises
    ------
    AgreementError
        If the values are no numbers, raters are compared over several methods, or no subject was measured both ways.
    """
    if not observations.numeric:
        raise AgreementError("Limits of agreement need numbers, and the table holds categories.")
    if by == "rater" and len(observations.methods) > 1:
        raise AgreementError("Raters are compared with one method at a time, and the table holds several; take one.")
    names = observations.method if by == "method" else observations.rater
    firsts, seconds = (_by_subject(observations, names == name) for name in (one, other))
    shared = tuple(subject for subject in firsts if subject in seconds)
    if not shared:
        raise AgreementError(
            f"No subject was measured both by {one} and by {other}; limits of agreement need subjects measured by both."
        )
    left_out = len(firsts.keys() | seconds.keys()) - len(shared)
    first, second = (tuple(found[subject] for subject in shared) for found in (firsts, seconds))
    return Pairs(shared, first, second, left_out)


def _by_subject(observations: Observations, kept: NDArray[np.bool_]) -> dict[str, Numbers]:
    """Return the values in the rows kept, by subject in the order of the table."""
    known = observations.subjects
    numbers = codes(observations.subject[kept], known)
    order = np.argsort(numbers, kind="stable")
    ends = np.cumsum(np.bincount(numbers, minlength=len(known)))[:-1]
    parts = np.split(observations.value[kept][order], ends)
    return {name: part for name, part in zip(known, parts, strict=True) if part.size}


def means(single: Sequence[Numbers]) -> Numbers:
    """Return the mean of each subject's values, shape (n,)."""
    return np.array([values.mean() for values in single])
