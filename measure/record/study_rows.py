"""Studies and tracings become rows of the record, each checked for what may go in, and rows become plans again."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from measure.geometry import Convention
from measure.outline import Outline
from measure.record.admission import initials, json_object, line
from measure.record.errors import RecordError
from measure.record.rings import outline_of, rings_document
from measure.record.study_entries import DrawnBy, StudyPhoto, StudyPlan
from measure.record.tables import StudyRow, TracingRow

MAX_TRIALS = 9
"""More than twice is rare, and more than this a slip of the finger."""


@dataclass(frozen=True, eq=False)
class TracingDraft:
    """A tracing before it is saved; attributes as of `measure.record.study_entries.TracingEntry`."""

    photo: int
    rater: str
    trial: int
    outline: Outline
    document: Mapping[str, Any]
    seconds: float


def study_row(name: str, plan: StudyPlan, now: datetime, by: str) -> StudyRow:
    """Return the row of a study.

    Raises
    ------
    RecordError
        If it has no name, or a plan that can't be followed.
    """
    usable = line(name, "The name of the study")
    if not usable:
        raise RecordError("The study has no name; give it one by which its raters know it.")
    _check_photos(plan)
    raters = _raters(plan)
    if not 1 <= plan.trials <= MAX_TRIALS:
        raise RecordError(f"Each photo would be traced {plan.trials} times; give a number from 1 to {MAX_TRIALS}.")
    if len(raters) * plan.trials < 2:
        raise RecordError(
            "One rater who traces each photo once agrees with nobody; name a second rater, or let each photo be traced "
            "twice."
        )
    return StudyRow(name=usable, plan=plan_document(plan) | {"raters": raters}, at=now, by=by)


def tracing_row(study_id: int, draft: TracingDraft, now: datetime, by: str) -> TracingRow:
    """Return the row of a tracing.

    Raises
    ------
    RecordError
        If its document does not hold just one wound, or its time is none.
    """
    document = json_object(draft.document, "The document of the tracing")
    wounds = len(document.get("wounds") or ())
    if wounds != 1:
        raise RecordError(
            f"The tracing holds {wounds} wounds, and just 1 is compared; draw the one wound of the photo."
        )
    if not (math.isfinite(draft.seconds) and draft.seconds >= 0):
        raise RecordError(f"The tracing took {draft.seconds} seconds; give how long it took.")
    return TracingRow(
        study_id=study_id,
        photo=draft.photo,
        rater=draft.rater,
        trial=draft.trial,
        rings=rings_document(draft.outline),
        document=document,
        seconds=float(draft.seconds),
        at=now,
        by=by,
    )


def _check_photos(plan: StudyPlan) -> None:
    if not plan.photos:
        raise RecordError("The study has no photos; draw at least one.")
    if [photo.number for photo in plan.photos] != list(range(1, len(plan.photos) + 1)):
        raise RecordError("The photos of the study are not numbered from 1 without gaps; number them so.")
    if len({photo.sha256 for photo in plan.photos}) < len(plan.photos):
        raise RecordError("A photo stands in the study twice; draw each once, and have it traced twice instead.")


def _raters(plan: StudyPlan) -> list[str]:
    raters = [initials(rater) for rater in plan.raters]
    if not raters:
        raise RecordError("The study has no raters; name those who are to trace by their initials or staff codes.")
    folded = [rater.casefold() for rater in raters]
    twice = next((rater for rater in raters if folded.count(rater.casefold()) > 1), None)
    if twice:
        raise RecordError(f"{twice} is named twice among the raters; name each once, whether in capitals or not.")
    return raters


# A plan as JSON


def plan_document(plan: StudyPlan) -> dict[str, Any]:
    """Return the form in which a plan is kept; the reverse of `plan_of`."""
    return {
        "seed": int(plan.seed),
        "drawn_by": DrawnBy(plan.drawn_by).value,
        "photos": [_photo_document(photo) for photo in plan.photos],
        "raters": list(plan.raters),
        "trials": plan.trials,
        "proposal": bool(plan.proposal),
        "convention": Convention(plan.convention).value,
    }


def plan_of(kept: Mapping[str, Any]) -> StudyPlan:
    """Return the plan of a row."""
    return StudyPlan(
        seed=kept["seed"],
        drawn_by=DrawnBy(kept["drawn_by"]),
        photos=tuple(_photo_of(photo) for photo in kept["photos"]),
        raters=tuple(kept["raters"]),
        trials=kept["trials"],
        proposal=kept["proposal"],
        convention=kept["convention"],
    )


def _photo_document(photo: StudyPhoto) -> dict[str, Any]:
    return {
        "number": photo.number,
        "sha256": photo.sha256,
        "wound": photo.wound_key,
        "area_cm2": float(photo.area_cm2),
        "stratum": photo.stratum,
        "proposal": None if photo.proposal is None else rings_document(photo.proposal),
        "method": photo.method,
    }


def _photo_of(kept: Mapping[str, Any]) -> StudyPhoto:
    return StudyPhoto(
        number=kept["number"],
        sha256=kept["sha256"],
        wound_key=kept["wound"],
        area_cm2=kept["area_cm2"],
        stratum=kept["stratum"],
        proposal=None if kept["proposal"] is None else outline_of(kept["proposal"]),
        method=kept["method"],
    )
