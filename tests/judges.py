"""Tables of subjects and raters for tests: published ones, and studies with known components."""

import numpy as np

from measure.agreement.observations import Observations

JUDGES = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=np.float64
)
"""Six targets and four judges: Shrout and Fleiss, Psychol Bull 1979;86:420-428, table 2."""


LETTERED = tuple(f"rater {letter}" for letter in "ABCDEFGHIJKLMNOPQRST")


def table(cells, unit="cm2", raters=LETTERED):
    """Return cells of shape (subjects, raters) or (subjects, raters, trials) as a tidy table; NaN is left out."""
    cells = np.asarray(cells, dtype=np.float64)
    cells = cells[..., np.newaxis] if cells.ndim == 2 else cells
    rows = [
        (f"photo {i + 1:02d}", raters[j], str(k + 1), value)
        for (i, j, k), value in np.ndenumerate(cells)
        if np.isfinite(value)
    ]
    subject, rater, trial, value = (np.array(column) for column in zip(*rows, strict=True))
    return Observations(subject, rater, trial, np.full(len(rows), ""), value, unit, int(np.isnan(cells).sum()))


def study(seed=0, shape=(12, 3, 2), spread=0.05, between=0.05):
    """Return areas in cm2 of photos, raters and trials with known errors, as natural logarithms.

    ``spread`` is the standard deviation within raters, ``between`` that of raters.
    """
    rng = np.random.default_rng(seed)
    size = rng.normal(2.0, 1.0, (shape[0], 1, 1))
    lean = rng.normal(0.0, between, (1, shape[1], 1))
    return table(np.exp(size + lean + rng.normal(0.0, spread, shape)))
