"""Published tables of agreement studies, and observations from a table."""

import numpy as np

from measure.agreement.observations import Observations

SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=np.float64
)
"""Shrout PE, Fleiss JL. Psychol Bull 1979;86:420-428, table 2: 6 targets by 4 judges."""

PEAK_FLOW = np.array(
    [
        [190, 220, 200, 200],
        [220, 200, 240, 230],
        [260, 260, 240, 280],
        [210, 300, 280, 265],
        [270, 265, 280, 270],
        [280, 280, 270, 275],
        [260, 280, 280, 300],
        [275, 275, 275, 305],
        [280, 290, 300, 290],
        [320, 290, 300, 290],
        [300, 300, 310, 300],
        [270, 250, 330, 370],
        [320, 330, 330, 330],
        [335, 320, 335, 375],
        [350, 320, 340, 365],
        [360, 320, 350, 345],
        [330, 340, 380, 390],
        [335, 385, 360, 370],
        [400, 420, 425, 420],
        [430, 460, 480, 470],
    ],
    dtype=np.float64,
)
"""Bland JM, Altman DG. BMJ 1996;313:744: peak expiratory flow (l/min) of 20 children, 4 times each."""


def observations_of(table, unit=""):
    """Return the observations of a table (subjects, raters) or (subjects, raters, trials); NaN is missing."""
    values = np.asarray(table, dtype=np.float64)
    values = values[:, :, None] if values.ndim == 2 else values
    told = ~np.isnan(values)
    subject, rater, trial = (
        np.array([f"{name} {number + 1:03d}" for number in numbers[told]])
        for name, numbers in zip(("photo", "rater", "trial"), np.indices(values.shape), strict=True)
    )
    method = np.full(subject.shape, "")
    return Observations(subject, rater, trial, method, values[told], unit, int((~told).sum()))
