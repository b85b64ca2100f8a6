"""What the record holds, as it is read: frozen, without a database behind it.

Instants carry their time zone. Nothing that was recorded is changed later: a correction is a further entry, and the
newest one counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Literal

from measure.outline import Outline


class Side(StrEnum):
    """Side of the body, the person's own."""

    LEFT = "left"
    RIGHT = "right"
    MIDLINE = "midline"


class Kind(StrEnum):
    """What sort of wound it is, as the provider says; nothing here finds that out."""

    DIABETIC_FOOT = "diabetic foot ulcer"
    VENOUS_LEG = "venous leg ulcer"
    ARTERIAL = "arterial ulcer"
    PRESSURE = "pressure injury"
    SURGICAL = "surgical wound"
    TRAUMATIC = "traumatic wound"
    BURN = "burn"
    OTHER = "other wound"


class Status(StrEnum):
    """How a wound stands after its last event."""

    OPEN = "open"
    HEALED = "healed"
    MERGED = "merged"
    SPLIT = "split"


class What(StrEnum):
    """What happened to a wound as a whole."""

    OPENED = "opened"
    HEALED = "healed"
    REOPENED = "reopened"
    MERGED = "merged"
    SPLIT = "split"


PLACES = (
    "head", "neck", "chest", "back", "abdomen", "shoulder", "upper arm", "elbow", "forearm", "hand", "sacrum",
    "buttock", "hip", "groin", "thigh", "knee", "shin", "calf", "lower leg", "ankle", "heel", "foot", "toe",
    "other place",
)  # fmt: skip
"""Parts of the body, from head to toe."""

FOOT = frozenset({"heel", "foot", "toe"})
"""Places on which the clock of a wound has its 12 at the heel."""

POSITIONS = ("front", "back", "inner", "outer", "upper", "lower", "sole", "top")
"""Where on that part; a tap each, in plain words."""


LEFT_OUT = "left_out"
"""The finding that leaves a visit out of the series, with the reason; null takes it in again."""


@dataclass(frozen=True)
class Site:
    """Where on the body a wound lies.

    Attributes
    ----------
    side : Side
    place : str
        As in `PLACES`.
    position : str
        As in `POSITIONS`; empty where nobody said.
    """

    side: Side
    place: str
    position: str = ""

    @property
    def on_foot(self) -> bool:
        """Whether 12 o'clock is at the heel."""
        return self.place in FOOT

    def __str__(self) -> str:
        """Say it as charts do: left heel, sole."""
        named = self.place if self.side is Side.MIDLINE else f"{self.side} {self.place}"
        return f"{named}, {self.position}" if self.position else named


@dataclass(frozen=True)
class Event:
    """Something that happened to a wound as a whole.

    ``other`` is the number, of the same person, of the wound that it was merged or split into.
    """

    what: What
    at: datetime
    by: str
    other: int | None = None


@dataclass(frozen=True)
class WoundEntry:
    """A wound of a person.

    Attributes
    ----------
    id : int
        The record's own.
    person : str
        Code of the person, never a name.
    number : int
        From 1 a person; never given twice.
    site : Site
    kind : Kind
    events : tuple of Event
        Oldest first; the first one is `What.OPENED`.
    onset : date, optional
        Since when the person has it.
    """

    id: int
    person: str
    number: int
    site: Site
    kind: Kind
    events: tuple[Event, ...]
    onset: date | None = None

    @property
    def key(self) -> str:
        """What commands call it: ``P014/2``."""
        return f"{self.person}/{self.number}"

    @property
    def status(self) -> Status:
        """How it stands now."""
        last = self.events[-1].what
        return Status.OPEN if last in {What.OPENED, What.REOPENED} else Status(last.value)

    def __str__(self) -> str:
        """Say which wound it is: wound 2, left heel, sole."""
        return f"wound {self.number}, {self.site}"


@dataclass(frozen=True)
class PhotoEntry:
    """A photo in the record; its file lies under its hash.

    Attributes
    ----------
    sha256 : str
        Of the file as it is stored, in hexadecimal digits.
    source_sha256 : str
        Of the file as it came, before place, serial numbers, owner and thumbnails were taken out of it.
    media_type : str
        As ``image/jpeg``.
    width, height : int
        In pixels, with the orientation applied.
    taken_at : str, optional
        Capture time, ISO 8601; without an offset where the camera noted none.
    """

    sha256: str
    source_sha256: str
    media_type: str
    width: int
    height: int
    taken_at: str | None = None


OutlineKind = Literal["proposed", "edited", "given", "retraced"]


@dataclass(frozen=True, eq=False)
class OutlineEntry:
    """An outline on a photo, in its pixels; never overwritten.

    Attributes
    ----------
    id : int
    photo : str
        Hash of the photo as stored.
    kind : str
        What it is: proposed by a method, edited or checked by a person, given from a file, or traced anew later.
    method : str
        Name and version of what drew it; ``given`` where a person did.
    outline : Outline
    at : datetime
    by : str
        Initials or staff code; empty where no person had a part in it.
    """

    id: int
    photo: str
    kind: OutlineKind
    method: str
    outline: Outline
    at: datetime
    by: str


@dataclass(frozen=True, eq=False)
class MeasurementEntry:
    """The numbers of one wound in one photo.

    Attributes
    ----------
    id : int
    outline : OutlineEntry
        What was measured.
    convention : str
        How length and width were taken.
    document : mapping
        The photo's document as of `measure.report.document`, with this wound alone under ``wounds``: whole budgets,
        checks, flags, calibration; ``software`` names the version that made it.
    at : datetime
    by : str
    """

    id: int
    outline: OutlineEntry
    convention: str
    document: Mapping[str, Any]
    at: datetime
    by: str

    @property
    def wound(self) -> Mapping[str, Any]:
        """The wound's part of the document."""
        found: Mapping[str, Any] = self.document["wounds"][0]
        return found


@dataclass(frozen=True)
class FindingEntry:
    """One finding of a visit, in the form of `measure.findings`."""

    name: str
    value: Any
    at: datetime
    by: str


@dataclass(frozen=True)
class NoteEntry:
    """Words about a visit."""

    text: str
    at: datetime
    by: str


@dataclass(frozen=True)
class AnswerEntry:
    """What was done about a prompt; ``reason`` is the prompt's own, as of `measure.escalation.prompts`."""

    reason: str
    answer: str
    at: datetime
    by: str


@dataclass(frozen=True, eq=False)
class VisitEntry:
    """A visit to one wound.

    Attributes
    ----------
    id : int
    wound : int
        ``id`` of the wound.
    at : datetime
        When the wound was seen.
    by : str
        Initials or staff code.
    unit : str
        Ward or team; empty where nobody said.
    saved_at : datetime
        When it came into the record.
    photos : tuple of PhotoEntry
    outlines : tuple of OutlineEntry
    measurements : tuple of MeasurementEntry
    findings : tuple of FindingEntry
        Everything that was ever said, oldest first.
    notes : tuple of NoteEntry
    answers : tuple of AnswerEntry
        To prompts that this visit led to.
    """

    id: int
    wound: int
    at: datetime
    by: str
    unit: str
    saved_at: datetime
    photos: tuple[PhotoEntry, ...] = ()
    outlines: tuple[OutlineEntry, ...] = ()
    measurements: tuple[MeasurementEntry, ...] = ()
    findings: tuple[FindingEntry, ...] = ()
    notes: tuple[NoteEntry, ...] = ()
    answers: tuple[AnswerEntry, ...] = ()

    @property
    def measurement(self) -> MeasurementEntry | None:
        """The newest numbers; None where the wound was not measured."""
        return self.measurements[-1] if self.measurements else None

    @property
    def found(self) -> dict[str, Any]:
        """The newest value of each finding, by its name, for `measure.findings.parse_findings`."""
        return {finding.name: finding.value for finding in self.findings if finding.name != LEFT_OUT}

    @property
    def left_out(self) -> str:
        """Why it is left out of the series, as one saved to the wrong wound is; empty where it counts."""
        said = [finding.value for finding in self.findings if finding.name == LEFT_OUT]
        return str(said[-1] or "") if said else ""
