"""Whose turn is which photo: a random order for each rater and trial, that comes out the same after each pause."""

from dataclasses import dataclass

from measure.record.study_entries import StudyHead, StudyPhoto, StudyPlan
from measure.study.lots import lot


@dataclass(frozen=True, eq=False)
class Turn:
    """What a rater traces next.

    Attributes
    ----------
    photo : StudyPhoto
    trial : int
        From 1.
    place : int
        Which photo of the trial it is for this rater, from 1.
    """

    photo: StudyPhoto
    trial: int
    place: int


def next_turn(study: StudyHead, rater: str) -> Turn | None:
    """Return what a rater traces next; None once all is traced.

    A trial begins when the one before is finished.
    """
    for trial in range(1, study.plan.trials + 1):
        order = order_of(study.plan, rater, trial)
        left = [number for number in order if (rater, trial, number) not in study.done]
        if left:
            return Turn(study.plan.photo(left[0]), trial, len(order) - len(left) + 1)
    return None


def order_of(plan: StudyPlan, rater: str, trial: int) -> list[int]:
    """Return the numbers of the photos in the order in which a rater traces them in a trial.

    It is drawn anew for every rater and trial until it differs from that of the trial before, and does not begin with
    the photo with which that one ended, where there are more than two photos: that line is still remembered.
    """
    before: list[int] = []
    for each in range(1, trial + 1):
        before = _other_order(plan, rater, each, before)
    return before


def _other_order(plan: StudyPlan, rater: str, trial: int, before: list[int]) -> list[int]:
    numbers = [photo.number for photo in plan.photos]
    attempt = 0
    while True:
        order = sorted(numbers, key=lambda number: lot(plan.seed, "order", rater, trial, attempt, number))
        alike = len(numbers) > 1 and order == before
        if not alike and not (before and len(numbers) > 2 and order[0] == before[-1]):
            return order
        attempt += 1
