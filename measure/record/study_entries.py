"""What the record holds of agreement studies, as it is read: frozen, without a database behind it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from measure.outline import Outline


class DrawnBy(StrEnum):
    """How the photos of a study were drawn from those that the record holds."""

    RANDOM = "random"
    SIZE = "size"
    SITE = "site"
    TONE = "tone"


class StudyWhat(StrEnum):
    """What happened to a study as a whole after it began."""

    CLOSED = "closed"
    REOPENED = "reopened"


@dataclass(frozen=True, eq=False)
class StudyPhoto:
    """A photo of a study, and what was known of it when it was drawn; raters see the photo alone.

    Attributes
    ----------
    number : int
        From 1, in the order of the draw.
    sha256 : str
        Hash of the photo as stored.
    wound_key : str
        Of the wound that it shows, as ``P014/2``.
    area_cm2 : float
        As it was measured at the visit.
    stratum : str
        The group that it was drawn from; empty where all were drawn from one.
    proposal : Outline, optional
        What had been proposed at the visit, in photo px; None where nothing was.
    method : str
        Name and version of what proposed it.
    """

    number: int
    sha256: str
    wound_key: str
    area_cm2: float
    stratum: str = ""
    proposal: Outline | None = None
    method: str = ""

    @property
    def subject(self) -> str:
        """What tables call it: ``photo 01``."""
        return f"photo {self.number:02}"


@dataclass(frozen=True, eq=False)
class StudyPlan:
    """What is traced in a study, by whom, how often and how; never changed once it has begun.

    Attributes
    ----------
    seed : int
        Of the draw and of every order; with it and the same record both come out the same.
    drawn_by : DrawnBy
    photos : tuple of StudyPhoto
    raters : tuple of str
        Initials or staff codes.
    trials : int
        How often each rater traces each photo.
    proposal : bool
        Whether raters begin with what was proposed at the visit; else with the photo alone.
    convention : str
        How length and width are taken; as the site does when the study begins.
    """

    seed: int
    drawn_by: DrawnBy
    photos: tuple[StudyPhoto, ...]
    raters: tuple[str, ...]
    trials: int
    proposal: bool
    convention: str

    def rater(self, by: str) -> str | None:
        """Return what the study calls a person who gives these initials, in whatever case; None if it has no such."""
        return next((rater for rater in self.raters if rater.casefold() == by.strip().casefold()), None)

    def photo(self, number: int) -> StudyPhoto:
        """Return the photo of a number."""
        return next(photo for photo in self.photos if photo.number == number)

    @property
    def tracings(self) -> int:
        """How many tracings it takes in all."""
        return len(self.photos) * len(self.raters) * self.trials


@dataclass(frozen=True)
class StudyEvent:
    """That a study was closed or opened again, and why."""

    what: StudyWhat
    reason: str
    at: datetime
    by: str


@dataclass(frozen=True, eq=False)
class TracingEntry:
    """One photo as one rater traced it in one trial; never overwritten.

    Attributes
    ----------
    id : int
    photo : int
        Number of the photo in the study.
    rater : str
        As the study's plan has it.
    trial : int
        From 1.
    outline : Outline
        In photo px.
    document : mapping
        As of `measure.record.entries.MeasurementEntry`, with ``head_deg`` where the convention needs it: where the
        rater saw the head, in degrees clockwise from the top of the photo.
    seconds : float
        From when the photo was first shown until it was saved, breaks included.
    at : datetime
    by : str
    """

    id: int
    photo: int
    rater: str
    trial: int
    outline: Outline
    document: Mapping[str, Any]
    seconds: float
    at: datetime
    by: str

    @property
    def wound(self) -> Mapping[str, Any]:
        """The wound's part of the document."""
        found: Mapping[str, Any] = self.document["wounds"][0]
        return found


@dataclass(frozen=True, eq=False)
class StudyHead:
    """A study and how far it has come, without what was traced.

    Attributes
    ----------
    id : int
    name : str
    plan : StudyPlan
    at : datetime
        When it began.
    by : str
        Who began it.
    events : tuple of StudyEvent
        Oldest first.
    done : frozenset of (str, int, int)
        Rater, trial, and number of the photo of each tracing that was saved.
    """

    id: int
    name: str
    plan: StudyPlan
    at: datetime
    by: str
    events: tuple[StudyEvent, ...] = ()
    done: frozenset[tuple[str, int, int]] = frozenset()

    @property
    def closed(self) -> StudyEvent | None:
        """How it was closed; None while it is open."""
        last = self.events[-1] if self.events else None
        return last if last and last.what is StudyWhat.CLOSED else None

    def done_by(self, rater: str, trial: int | None = None) -> int:
        """Return how many tracings a rater has saved, of one trial or of all."""
        return sum(1 for by, time, _ in self.done if by == rater and trial in {None, time})


@dataclass(frozen=True, eq=False)
class StudyEntry(StudyHead):
    """A study with everything that was traced, oldest first."""

    tracings: tuple[TracingEntry, ...] = ()
