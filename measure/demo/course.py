"""The course of an invented wound: whose it is, where, and what was seen and said at each visit."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from measure.findings.findings import Findings
from measure.record.entries import Kind, Site
from measure.rendering import Seam, Skin, Wound


@dataclass(frozen=True)
class Look:
    """What a photo shows beside the sticker.

    Attributes
    ----------
    wound : Wound, optional
        None where the skin is closed.
    seam : Seam, optional
        An incision.
    measured : bool
        Whether the nurse measures the wound; there is none to measure once the skin is closed.
    """

    wound: Wound | None = None
    seam: Seam | None = None
    measured: bool = True


@dataclass(frozen=True)
class Seen:
    """A visit.

    Attributes
    ----------
    at : datetime
        With its time zone.
    by : str
        Initials.
    look : Look, optional
        None where no photo was taken.
    findings : Findings
    note : str
    told : str
        What the provider said who was told of what this visit prompts; empty where there was nothing to tell.
    culture : bool
        Whether a culture was ordered, so that the photo is searched for where to swab.
    """

    at: datetime
    by: str
    look: Look | None = None
    findings: Findings = field(default_factory=Findings)
    note: str = ""
    told: str = ""
    culture: bool = False


@dataclass(frozen=True)
class Course:
    """A wound from its first visit to its last.

    Attributes
    ----------
    person : str
        Code.
    site : Site
    kind : Kind
    unit : str
        Ward or clinic.
    onset : date
    skin : Skin
        As all photos show it.
    layouts : tuple of str
        Of the stickers that are used in turn.
    visits : tuple of Seen
        Oldest first.
    aim_mm : tuple of float, optional
        Where cameras aim; at the middle of wound and sticker without it.
    gap_mm : float
        Between wound and sticker, about.
    healed : bool
        Whether the last visit found it healed.
    seed : int
        Of everything that photos show by chance.
    """

    person: str
    site: Site
    kind: Kind
    unit: str
    onset: date
    skin: Skin
    layouts: tuple[str, ...]
    visits: tuple[Seen, ...]
    aim_mm: tuple[float, float] | None = None
    gap_mm: float = 5.0
    healed: bool = False
    seed: int = 1


def moment(day: date, after: int, clock: str) -> datetime:
    """Return a time of the clock so many days after a day, in the time zone of the place where this runs."""
    return datetime.combine(day + timedelta(days=after), time.fromisoformat(clock)).astimezone()


def thinned(course: Course, photos: int) -> tuple[Seen, ...]:
    """Return all visits, but at most so many photos, evenly chosen from the first to the last."""
    shown = [number for number, seen in enumerate(course.visits) if seen.look]
    kept = {shown[place] for place in _even(len(shown), photos)}
    return tuple(seen if number in kept else replace(seen, look=None) for number, seen in enumerate(course.visits))


def _even(count: int, most: int) -> Sequence[int]:
    if count <= most:
        return range(count)
    return [round(step * (count - 1) / max(most - 1, 1)) for step in range(most)]
