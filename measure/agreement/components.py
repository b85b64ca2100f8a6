"""Where measurements of the same subjects differ: variance components of subject, rater, their interaction, and error.

A value is taken as mean + subject + rater + interaction + error, each drawn independently. Any number of values may
stand in a cell of subject and rater, none too.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import bmat, coo_matrix
from scipy.sparse.csgraph import connected_components

from measure.agreement.errors import AgreementError
from measure.agreement.mean_square import (
    LARGE_SAMPLE,
    LARGE_SAMPLE_SOURCE,
    ROUNDING,
    MeanSquare,
    large_sample_interval,
)
from measure.agreement.observations import Observations, codes
from measure.agreement.statistic import Statistic

SUBJECT, RATER, INTERACTION, ERROR = "subject", "rater", "interaction", "error"

METHOD = (
    "variance components by fitting constants (Henderson's method III; subject and rater each adjusted for the other), "
    "which is the analysis of variance where all cells hold as many values; a negative one is set to 0"
)
SOURCE = (
    "Henderson CR. Biometrics 1953;9:226-252; Searle SR, Casella G, McCulloch CE. Variance Components, 1992, chapter 5"
)

_NOTHING = 1e-10
"""Of the largest: less is rounding as a component, and as an eigenvalue stands for raters that nothing compares."""

Grid = NDArray[np.float64]


@dataclass(frozen=True)
class Components:
    """The variances of which the values are made.

    Attributes
    ----------
    subject : float
        Between subjects, in squared units; none of the components is negative.
    rater : float, optional
        Between raters over all subjects; None where no subjects tie raters together, as with one rater.
    interaction : float, optional
        Of raters with subjects; None where it can't be told from the error, or wasn't asked for, and is then in the
        error.
    error : float
        Of a rater measuring a subject again; with ``interaction`` None and more raters, both.
    repeated : bool
        Whether a rater measured a subject more than once, which tells the error from the interaction.
    mean_squares : tuple of MeanSquare
        A row for each component that is there, in the order above.
    unit : str
        Of the values.
    subjects, raters, values : int
        How many.
    sentences : tuple of str
        Which components came out negative and were set to 0.
    """

    subject: float
    rater: float | None
    interaction: float | None
    error: float
    repeated: bool
    mean_squares: tuple[MeanSquare, ...]
    unit: str
    subjects: int
    raters: int
    values: int
    sentences: tuple[str, ...] = ()

    def spread(self, *names: str) -> Statistic:
        """Return the standard deviation that some components make together, with its interval.

        Parameters
        ----------
        *names : str
            As ``"rater"``; those that are None are left out.

        Raises
        ------
        AgreementError
            If none of them is there.
        """
        found = [value for name in names if (value := getattr(self, name)) is not None]
        if not found:
            raise AgreementError(
                f"These measurements don't tell how much of the spread comes from the {' and '.join(names)}."
            )
        value = math.sqrt(sum(found))
        low, high = large_sample_interval(self._shares(names), self.mean_squares)
        return Statistic(
            value,
            min(math.sqrt(max(low, 0.0)), value),
            max(math.sqrt(max(high, 0.0)), value),
            self.unit,
            f"standard deviation; {METHOD}; {LARGE_SAMPLE}",
            f"{SOURCE}; {LARGE_SAMPLE_SOURCE}",
        )

    def _shares(self, names: tuple[str, ...]) -> NDArray[np.float64]:
        """Return how many times each mean square is in the sum of components, shape (rows,)."""
        wished = np.array([float(each.name in names) for each in self.mean_squares])
        return np.linalg.solve(_expected(self.mean_squares).T, wished)


def components(observations: Observations, *, interaction: bool = True) -> Components:
    """Tell how much subject, rater, interaction and error add to the variance.

    Parameters
    ----------
    observations : Observations
        Numbers, of one method; cells may be missing, and hold different numbers of values.
    interaction : bool
        Whether the interaction is told from the error where that is possible.

    Raises
    ------
    AgreementError
        If the values are categories or all alike, of several methods, of one subject, or nothing was measured again.
    """
    _refuse(observations)
    cells = _Cells.of(observations)
    if not (cells.repeats or cells.crossings):
        raise AgreementError(
            "Nothing in the table was measured again in a way that tells the error; let two raters measure the same "
            "subjects, or one rater measure them twice."
        )
    rows = _table(cells, interaction=interaction)
    squares = np.array([row.value for row in rows])
    raw = np.linalg.solve(_expected(rows), squares)
    raw[np.abs(raw) <= _NOTHING * squares.max()] = 0.0
    found = {row.name: float(value) for row, value in zip(rows, raw, strict=True)}
    negative = [name for name, value in found.items() if value < 0]
    clamped = {name: max(value, 0.0) for name, value in found.items()}
    return Components(
        clamped[SUBJECT],
        clamped.get(RATER),
        clamped.get(INTERACTION),
        clamped[ERROR],
        cells.repeats > 0,
        rows,
        observations.unit,
        len(observations.subjects),
        len(observations.raters),
        len(observations.value),
        tuple(_negative(name, found[name]) for name in negative),
    )


def _refuse(observations: Observations) -> None:
    if not observations.numeric:
        raise AgreementError("The values are categories; a spread can be found of numbers only.")
    if len(observations.methods) > 1:
        raise AgreementError("The table holds several methods; look at the spread of one at a time.")
    if np.ptp(observations.value) == 0:
        raise AgreementError("All values are the same, so nothing can be said about how they spread.")


def _negative(name: str, value: float) -> str:
    return (
        f"The variance of the {name} came out as {value:.3g}, which no variance can be, and was set to 0: it is too "
        "small for this study to see."
    )


def _expected(rows: tuple[MeanSquare, ...]) -> Grid:
    """Return how many times each component (columns) is in each mean square (rows)."""
    return np.array([row.expected for row in rows])


@dataclass(frozen=True, eq=False)
class _Cells:
    """Counts and means of subject (rows) and rater (columns), and how the raters are tied together.

    ``means`` are less the mean of all values, and 0 in empty cells; ``within`` is the sum of squares about them;
    ``parts`` counts the groups of raters and subjects that no measurement connects.
    """

    count: Grid
    means: Grid
    within: float
    parts: int
    rounding: float

    @classmethod
    def of(cls, observations: Observations) -> "_Cells":
        rows = codes(observations.subject, observations.subjects)
        columns = codes(observations.rater, observations.raters)
        values = observations.value - observations.value.mean()
        count = np.zeros((len(observations.subjects), len(observations.raters)))
        total = np.zeros_like(count)
        np.add.at(count, (rows, columns), 1)
        np.add.at(total, (rows, columns), values)
        means = total / np.maximum(count, 1)
        rounding = len(values) * (ROUNDING * np.abs(observations.value).max()) ** 2
        within = float(((values - means[rows, columns]) ** 2).sum())
        return cls(count, means, within, _parts(count), rounding)

    @property
    def rank(self) -> int:
        """Degrees of freedom of subjects and raters together, the mean among them."""
        return sum(self.count.shape) - self.parts

    @property
    def repeats(self) -> int:
        """Degrees of freedom of the values within cells."""
        return int(self.count.sum()) - int((self.count > 0).sum())

    @property
    def crossings(self) -> int:
        """Degrees of freedom of the interaction."""
        return int((self.count > 0).sum()) - self.rank

    def squares(self, deviations: Grid) -> float:
        """Return the sum of squares over all values of deviations of each cell; 0 where it is rounding alone."""
        return self._seen(float((self.count * deviations**2).sum()))

    @property
    def within_squares(self) -> float:
        """The sum of squares within cells; 0 where it is rounding alone."""
        return self._seen(self.within)

    def _seen(self, squares: float) -> float:
        return squares if squares > self.rounding else 0.0


def _parts(count: Grid) -> int:
    links = coo_matrix(count)
    found, _ = connected_components(bmat([[None, links], [links.T, None]]), directed=False)
    return int(found)


def _table(cells: _Cells, *, interaction: bool) -> tuple[MeanSquare, ...]:
    """Return the mean squares; each expectation is the trace of its quadratic form (Searle and others)."""
    count, total = cells.count, float(cells.count.sum())
    fitted, leverage = _fit(count, cells.means)
    by_subject, by_rater = (_means(count, cells.means, axis) for axis in (1, 0))
    of_cells = float((count**2 * leverage).sum())
    in_subjects, in_raters = (float((count**2 / count.sum(axis=axis, keepdims=True)).sum()) for axis in (1, 0))
    subjects, raters = count.shape
    split = interaction and cells.repeats > 0 and cells.crossings > 0
    crossed = cells.squares(cells.means - fitted)
    error = cells.within_squares + (0.0 if split else crossed)
    error_freedom = cells.repeats + (0 if split else cells.crossings)
    kept = (SUBJECT, *((RATER,) if cells.crossings > 0 else ()), *((INTERACTION,) if split else ()), ERROR)
    if subjects == cells.parts:
        raise AgreementError("Nobody measured more than one subject; let each rater measure at least two.")
    sums: dict[str, tuple[float, int, dict[str, float]]] = {
        SUBJECT: (
            cells.squares(fitted - by_rater),
            subjects - cells.parts,
            {SUBJECT: total - in_raters, INTERACTION: of_cells - in_raters},
        ),
        RATER: (
            cells.squares(fitted - by_subject),
            raters - cells.parts,
            {RATER: total - in_subjects, INTERACTION: of_cells - in_subjects},
        ),
        INTERACTION: (crossed, cells.crossings, {INTERACTION: total - of_cells}),
        ERROR: (error, error_freedom, {}),
    }
    return tuple(_row(name, kept, *sums[name]) for name in kept)


def _row(name: str, kept: tuple[str, ...], squares: float, freedom: int, times: dict[str, float]) -> MeanSquare:
    expected = {**{each: value / freedom for each, value in times.items()}, ERROR: 1.0}
    return MeanSquare(name, squares, freedom, tuple(expected.get(each, 0.0) for each in kept))


def _means(count: Grid, means: Grid, axis: int) -> Grid:
    return np.asarray((count * means).sum(axis=axis, keepdims=True) / count.sum(axis=axis, keepdims=True))


def _fit(count: Grid, means: Grid) -> tuple[Grid, Grid]:
    """Return what subject and rater without interaction say of each cell, and its leverage (variance over error's).

    The more numerous of the two are eliminated, so that the equations left are as few as raters or subjects.
    """
    if count.shape[0] < count.shape[1]:
        fitted, leverage = _fit(count.T, means.T)
        return fitted.T, leverage.T
    size = count.sum(axis=1, keepdims=True)
    share = count / size
    row_means = (share * means).sum(axis=1, keepdims=True)
    left = np.diag(count.sum(axis=0)) - count.T @ share
    inverse: NDArray[Any] = np.linalg.pinv(left, rcond=_NOTHING, hermitian=True)
    columns = inverse @ (count * (means - row_means)).sum(axis=0)
    fitted = row_means + columns - (share @ columns)[:, None]
    seen = share @ inverse
    leverage = 1 / size + np.diag(inverse) - 2 * seen + (seen * share).sum(axis=1, keepdims=True)
    return fitted, leverage
