"""How far the outlines of a study lie apart, photo by photo and over all photos."""

import math
from collections.abc import Mapping, Sequence
from functools import partial
from statistics import fmean

import numpy as np

from measure.agreement.errors import AgreementError
from measure.agreement.overlaps import Overlap, Overlaps, Traced, overlaps, summary
from measure.agreement.section import Gathering, Section
from measure.outline import map_outline, polygon
from measure.record.study_entries import StudyEntry

_KEY, _TITLE = "outlines", "How far the outlines lie apart"
_SCALE = (
    "Distances are in mm by each photo's mean scale at the wound, from area in cm² and in px; in a tilted photo single "
    "places may be some percent off. The overlaps don't depend on it."
)


def traced(study: StudyEntry) -> tuple[Traced, ...]:
    """Return all outlines of a study in mm, by one scale a photo: that of the areas measured in it.

    Raises
    ------
    AgreementError
        If an outline encloses no sound area.
    """
    scales = _scales(study)
    return tuple(
        Traced(
            study.plan.photo(each.photo).subject,
            each.rater,
            str(each.trial),
            map_outline(each.outline, partial(np.multiply, scales[each.photo])),
        )
        for each in study.tracings
    )


def compared(study: StudyEntry) -> tuple[Overlap, ...]:
    """Compare all outlines of each photo, which takes some 2 ms a pair; none where nothing is comparable."""
    try:
        return overlaps(traced(study))
    except AgreementError:
        return ()


def photo_overlaps(study: StudyEntry, pairs: Sequence[Overlap]) -> Mapping[int, float]:
    """Return the mean Dice coefficient of each photo by its number, the lowest first."""
    found: dict[str, list[float]] = {}
    for pair in pairs:
        found.setdefault(pair.photo, []).append(pair.dice)
    means = {photo.number: fmean(found[photo.subject]) for photo in study.plan.photos if photo.subject in found}
    return dict(sorted(means.items(), key=lambda item: item[1]))


def outlines_section(pairs: Sequence[Overlap]) -> Section:
    """Return how far outlines lie apart: of any two raters, and of the same rater twice."""
    gathered = Gathering(_KEY, _TITLE)
    for same_rater, key, whose in ((False, "raters", "two raters"), (True, "same_rater", "same rater twice")):
        alike = [pair for pair in pairs if pair.same_rater == same_rater]
        if alike:
            _add(gathered, summary(alike), key, whose)
        else:
            gathered.say(f"No photo was traced by {whose}, so that no outlines can be compared so.")
    if gathered.figures:
        gathered.say(_SCALE)
    return gathered.section()


def _add(gathered: Gathering, found: Overlaps, key: str, whose: str) -> None:
    gathered.add(f"dice_{key}", f"Overlap of the outlines (Dice), {whose}", found.dice)
    gathered.add(f"iou_{key}", f"Shared part of both outlines (IoU), {whose}", found.iou)
    gathered.add(f"distance_{key}", f"Mean distance of the edges, {whose}", found.distance)
    gathered.add(f"hausdorff95_{key}", f"Distance that 95 % of the edges keep, {whose}", found.hausdorff95)


def _scales(study: StudyEntry) -> Mapping[int, float]:
    """Return the mm of a px of each photo: the root of all its areas in mm2 by all in px."""
    mm2: dict[int, float] = {}
    px2: dict[int, float] = {}
    for each in study.tracings:
        mm2[each.photo] = mm2.get(each.photo, 0.0) + 100 * float(each.wound["area_cm2"]["value"])
        px2[each.photo] = px2.get(each.photo, 0.0) + polygon(each.outline).area
    return {photo: math.sqrt(area / px2[photo]) for photo, area in mm2.items()}
