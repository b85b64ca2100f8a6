"""What a study has to know of each visit's photo before it draws some: narrow rows, however many visits there are."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from measure.record.inside import number_inside, text_inside
from measure.record.reading import read_left_out
from measure.record.tables import MeasurementRow, OutlineRow, PersonRow, PhotoRow, VisitRow, WoundRow


@dataclass(frozen=True)
class PhotoFacts:
    """A visit, its photo, and of its numbers what a draw needs.

    Attributes
    ----------
    visit : int
        ``id`` of the visit.
    wound_key : str
        As ``P014/2``.
    place : str
        Of the wound on the body.
    left_out : bool
        Whether somebody left the visit out of its series.
    sha256, source_sha256 : str
        Of the photo that was measured, else of the visit's last one; empty where there is none.
    proposed : int
        How many outlines were proposed at the visit.
    area_cm2 : float, optional
        None where the photo was not measured.
    scale : str
        What gave the photo its scale, as ``sticker``; empty where nothing tells.
    ita_deg : float, optional
        Typology angle of the skin that the skin round the wound was compared with.
    """

    visit: int
    wound_key: str
    place: str
    left_out: bool
    sha256: str = ""
    source_sha256: str = ""
    proposed: int = 0
    area_cm2: float | None = None
    scale: str = ""
    ita_deg: float | None = None


def read_photo_facts(connection: Connection) -> list[PhotoFacts]:
    """Return the facts of all visits, by when the wound was seen, in five queries."""
    left_out = set(read_left_out(connection))
    photos = {
        row.visit_id: (row.sha256, row.source_sha256)
        for row in connection.execute(
            select(PhotoRow.visit_id, PhotoRow.sha256, PhotoRow.source_sha256).order_by(PhotoRow.id)
        )
    }
    proposed = _proposed(connection)
    numbers = _numbers(connection)
    visits = (
        select(VisitRow.id, PersonRow.code, WoundRow.number, WoundRow.place)
        .join(WoundRow, WoundRow.id == VisitRow.wound_id)
        .join(PersonRow, PersonRow.id == WoundRow.person_id)
        .order_by(VisitRow.at, VisitRow.id)
    )
    return [
        PhotoFacts(
            row.id,
            f"{row.code}/{row.number}",
            row.place,
            row.id in left_out,
            **_photo(numbers, photos, row.id),
            proposed=proposed[row.id],
        )
        for row in connection.execute(visits)
    ]


def count_facts(connection: Connection) -> tuple[int, ...]:
    """Return what is another value as soon as the facts may be others: much cheaper than reading them."""
    counted = [select(func.count(table.id)).scalar_subquery() for table in (VisitRow, MeasurementRow)]
    return (*connection.execute(select(*counted)).one(), *read_left_out(connection))


def _proposed(connection: Connection) -> Counter[int]:
    counted = (
        select(OutlineRow.visit_id, func.count(OutlineRow.id).label("count"))
        .where(OutlineRow.kind == "proposed")
        .group_by(OutlineRow.visit_id)
    )
    return Counter({row.visit_id: row.count for row in connection.execute(counted)})


def _numbers(connection: Connection) -> dict[int, dict[str, Any]]:
    """Return what the newest numbers of each visit tell; the database takes it out of the documents."""
    paths: dict[str, ColumnElement[Any]] = {
        "area_cm2": number_inside(connection, MeasurementRow.document, "wounds", 0, "area_cm2", "value"),
        "scale": text_inside(connection, MeasurementRow.document, "calibration", "source"),
        "ita_deg": number_inside(connection, MeasurementRow.document, "wounds", 0, "redness", "control", "ita_deg"),
    }
    rows = (
        select(
            MeasurementRow.visit_id,
            PhotoRow.sha256,
            PhotoRow.source_sha256,
            *(part.label(name) for name, part in paths.items()),
        )
        .join(OutlineRow, OutlineRow.id == MeasurementRow.outline_id)
        .join(PhotoRow, PhotoRow.id == OutlineRow.photo_id)
        .order_by(MeasurementRow.id)
    )
    return {
        row.visit_id: {
            "sha256": row.sha256,
            "source_sha256": row.source_sha256,
            "area_cm2": row.area_cm2,
            "scale": row.scale or "",
            "ita_deg": row.ita_deg,
        }
        for row in connection.execute(rows)
    }


def _photo(
    numbers: Mapping[int, dict[str, Any]], photos: Mapping[int, tuple[str, str]], visit_id: int
) -> dict[str, Any]:
    if visit_id in numbers:
        return numbers[visit_id]
    sha256, source = photos.get(visit_id, ("", ""))
    return {"sha256": sha256, "source_sha256": source}
