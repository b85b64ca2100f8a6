"""A visit before it is saved: what a person saw, drew and said, and the numbers that came of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from importlib.metadata import version
from typing import Any

from measure.outline import Outline
from measure.pipeline import Measurement
from measure.record.entries import OutlineKind, PhotoEntry
from measure.report import document


@dataclass(frozen=True, eq=False)
class DraftOutline:
    """An outline to be kept with a visit, in photo pixels; attributes as of `measure.record.entries.OutlineEntry`."""

    kind: OutlineKind
    method: str
    outline: Outline
    by: str = ""


@dataclass(frozen=True, eq=False)
class DraftMeasurement:
    """Numbers to be kept with a visit.

    Attributes
    ----------
    outline : int
        Which of the visit's outlines was measured.
    convention : str
        How length and width were taken.
    document : mapping
        As of `measure.record.entries.MeasurementEntry`.
    """

    outline: int
    convention: str
    document: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class VisitDraft:
    """What `measure.record.store.Record.save_visit` takes: all but who, when and which wound may be missing.

    Attributes
    ----------
    wound : int
        ``id`` of the wound.
    at : datetime
        When the wound was seen, with its time zone.
    by : str
        Initials or staff code.
    unit : str
        Ward or team.
    photo : PhotoEntry, optional
        As returned by `measure.record.store.Record.put_photo`.
    outlines : tuple of DraftOutline
        Of that photo.
    measured : DraftMeasurement, optional
    findings : mapping
        By name, as of `measure.findings`.
    note : str
    """

    wound: int
    at: datetime
    by: str
    unit: str = ""
    photo: PhotoEntry | None = None
    outlines: tuple[DraftOutline, ...] = ()
    measured: DraftMeasurement | None = None
    findings: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""


def drawn(measurement: Measurement, number: int, by: str) -> tuple[tuple[DraftOutline, ...], DraftMeasurement]:
    """Return what is kept of one wound of a measured photo: all outlines proposed, the one measured, its numbers.

    Parameters
    ----------
    measurement : Measurement
    number : int
        Which of its wounds, from 0.
    by : str
        Who drew or checked the outline, where a person did and did not say so with it.
    """
    prepared, wound, editing = measurement.prepared, measurement.wounds[number], measurement.editing
    proposed = tuple(DraftOutline("proposed", prepared.method, outline) for outline in prepared.outlines)
    as_proposed = [i for i, outline in enumerate(prepared.outlines) if outline is wound.outline]
    told = document(measurement)
    kept = {**told, "photo": {**told["photo"], "path": ""}, "wounds": [told["wounds"][number]]}
    numbers = kept | {"software": {"ebbline": version("ebbline")}}
    convention = str(measurement.convention)
    if as_proposed and editing is None:
        return proposed, DraftMeasurement(as_proposed[0], convention, numbers)
    given: OutlineKind = "edited" if editing else "given"
    person = (editing.by if editing else "") or by
    outlines = (*proposed, DraftOutline(given, wound.method, wound.outline, person))
    return outlines, DraftMeasurement(len(proposed), convention, numbers)
