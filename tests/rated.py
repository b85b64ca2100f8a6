"""Tables of what raters said, for tests."""

import numpy as np

from measure.agreement.observations import Observations


def said(*, trial="1", method="", **answers):
    """Return what raters said of wounds 1, 2 and so on, a list each; None where one is missing."""
    rows = [
        (f"wound {number}", rater, trial, method, answer)
        for rater, each in answers.items()
        for number, answer in enumerate(each, 1)
        if answer is not None
    ]
    subject, raters, trials, methods, values = zip(*rows, strict=True)
    words = any(isinstance(value, str) for value in values)
    names = (np.array(each, dtype=np.str_) for each in (subject, raters, trials, methods))
    return Observations(*names, np.array(values, dtype=np.str_ if words else np.float64))


def joined(*tables):
    """Return tables one below the other."""
    parts = ("subject", "rater", "trial", "method", "value")
    return Observations(*(np.concatenate([getattr(table, part) for table in tables]) for part in parts))
