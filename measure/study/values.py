"""What was traced in a study as tables for `measure.agreement`."""

from collections.abc import Callable

import numpy as np

from measure.agreement.observations import Observations
from measure.record.study_entries import StudyEntry, TracingEntry

UNITS = {
    "area_cm2": "cm2",
    "length_cm": "cm",
    "width_cm": "cm",
    "length_x_width_cm2": "cm2",
    "perimeter_cm": "cm",
}
"""The quantities of a wound's document that are compared, and their units."""


def study_observations(study: StudyEntry, quantity: str = "area_cm2") -> Observations:
    """Return one number of every tracing.

    Parameters
    ----------
    study : StudyEntry
    quantity : str
        As in `UNITS`.

    Returns
    -------
    Observations
        Subjects as ``photo 01``, trials as ``1``; ``missing`` are the tracings that the plan asks for and that nobody
        has made yet.

    Raises
    ------
    AgreementError
        If nothing is traced yet.
    KeyError
        If there is no such quantity.
    """
    unit = UNITS[quantity]
    return _observations(study, lambda tracing: float(tracing.wound[quantity]["value"]), unit)


def study_categories(study: StudyEntry) -> Observations:
    """Return the tissue that takes the largest part of each wound traced, where colours tell it.

    Tracings in which they don't count as ``missing`` too.

    Raises
    ------
    AgreementError
        If no tracing tells it.
    """
    return _observations(study, _dominant_tissue)


def _dominant_tissue(tracing: TracingEntry) -> str | None:
    """Return a tissue; None where nothing may be said of colour."""
    told = tracing.wound.get("tissue")
    return max(told, key=lambda name: float(told[name]["percent"])) if told else None


def _observations(
    study: StudyEntry, value: Callable[[TracingEntry], float | str | None], unit: str = ""
) -> Observations:
    found = [(tracing, value(tracing)) for tracing in _in_order(study)]
    told = [(tracing, each) for tracing, each in found if each is not None]
    return Observations(
        subject=np.array([study.plan.photo(tracing.photo).subject for tracing, _ in told], dtype=np.str_),
        rater=np.array([tracing.rater for tracing, _ in told], dtype=np.str_),
        trial=np.array([str(tracing.trial) for tracing, _ in told], dtype=np.str_),
        method=np.array([""] * len(told), dtype=np.str_),
        value=np.array([each for _, each in told]),
        unit=unit,
        missing=study.plan.tracings - len(told),
    )


def _in_order(study: StudyEntry) -> list[TracingEntry]:
    """Return the tracings by photo, rater as planned, trial: a table that reads the same whoever traced first."""
    place = {rater: number for number, rater in enumerate(study.plan.raters)}
    return sorted(study.tracings, key=lambda one: (one.photo, place[one.rater], one.trial))
