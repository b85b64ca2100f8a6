"""Drafts become rows of the record, each checked for what may go in."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from measure.record.admission import initials, json_object, json_value, line
from measure.record.draft import DraftMeasurement, DraftOutline
from measure.record.entries import PhotoEntry
from measure.record.errors import RecordError
from measure.record.rings import rings_document
from measure.record.tables import FindingRow, MeasurementRow, OutlineRow, PhotoRow


def photo_row(visit_id: int, photo: PhotoEntry) -> PhotoRow:
    """Return the row of a visit's photo."""
    return PhotoRow(
        visit_id=visit_id,
        sha256=photo.sha256,
        source_sha256=photo.source_sha256,
        media_type=photo.media_type,
        width=photo.width,
        height=photo.height,
        taken_at=photo.taken_at,
    )


def outline_row(visit_id: int, photo_id: int, draft: DraftOutline, now: datetime) -> OutlineRow:
    """Return the row of an outline on a visit's photo; floats stay exact."""
    return OutlineRow(
        visit_id=visit_id,
        photo_id=photo_id,
        kind=draft.kind,
        method=line(draft.method, "The method of an outline"),
        rings=rings_document(draft.outline),
        at=now,
        by=initials(draft.by) if draft.by.strip() else "",
    )


def measurement_row(visit_id: int, outline_id: int, draft: DraftMeasurement, now: datetime, by: str) -> MeasurementRow:
    """Return the row of an outline's numbers.

    Raises
    ------
    RecordError
        If the document holds no wound, or a number that isn't finite.
    """
    document = json_object(draft.document, "The document of the numbers")
    if not document.get("wounds"):
        raise RecordError("The document of the numbers holds no wound; measure the photo again.")
    return MeasurementRow(
        visit_id=visit_id,
        outline_id=outline_id,
        convention=line(draft.convention, "The convention of length and width"),
        document=document,
        at=now,
        by=by,
    )


def finding_rows(visit_id: int, findings: Mapping[str, Any], now: datetime, by: str) -> list[FindingRow]:
    """Return the rows of a visit's findings.

    Raises
    ------
    RecordError
        If one has no name, or a value that JSON can't hold.
    """
    return [_finding_row(visit_id, name, value, now, by) for name, value in findings.items()]


def _finding_row(visit_id: int, name: str, value: object, now: datetime, by: str) -> FindingRow:
    usable = line(name, "The name of a finding")
    if not usable:
        raise RecordError("A finding has no name; name what was found.")
    return FindingRow(visit_id=visit_id, name=usable, value=json_value(value, f"The finding {usable}"), at=now, by=by)
