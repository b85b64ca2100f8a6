"""A small record of invented people, and all that it tells; also makes the files that tests of migrations open.

``python tests/filled.py FILE`` fills a new SQLite file in the newest form of the tables. Each form is kept so before
the next one is made: ``tests/reference/record-0002.db`` before there was a third.
"""

import sqlite3
import sys
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from PIL import Image

from measure.outline import Outline
from measure.record.draft import DraftMeasurement, DraftOutline, VisitDraft
from measure.record.entries import Kind, Side, Site, What
from measure.record.store import Record, open_record

FIRST_DAY = datetime(2026, 1, 5, 8, 30, tzinfo=UTC)


def jpeg(number=0, width=320, height=240):
    """Return the bytes of a photo like no other number's."""
    pixels = np.full((height, width, 3), 90, np.uint8)
    for bit in range(24):
        pixels[:16, 8 * bit : 8 * bit + 8] += 100 * (number >> bit & 1)
    file = BytesIO()
    Image.fromarray(pixels).save(file, "JPEG")
    return file.getvalue()


def outline(radius=40.0, count=36, holes=()):
    """Return a circle, whose coordinates have all the digits that a float has."""
    turn = 2 * np.pi * np.arange(count) / count
    return Outline(np.column_stack([160 + radius * np.cos(turn), 120 + radius * np.sin(turn)]), holes)


def numbers(area_cm2):
    """Return a document with one number, in the form of a photo's document."""
    quantity = {"value": area_cm2, "standard_uncertainty": area_cm2 / 30, "components": {"lens": 0.1 + 0.2}}
    return {"photo": {"width": 320, "height": 240}, "wounds": [{"area_cm2": quantity, "tissue": None}]}


def draft(wound, photo, day=0, **changes):
    """Return a visit with all that a visit can have."""
    radius = 40.0 - day
    given = {
        "wound": wound.id,
        "at": FIRST_DAY + timedelta(days=day),
        "by": "AB",
        "unit": "Ward 4",
        "photo": photo,
        "outlines": (
            DraftOutline("proposed", "by-colour 1", outline(radius + 2)),
            DraftOutline("edited", "given", outline(radius, holes=(outline(5).exterior,)), "AB"),
        ),
        "measured": DraftMeasurement(1, "longest-perpendicular", numbers(radius**2 / 100)),
        "findings": {
            "depth_cm": 0.1 * day,
            "pain": 3,
            "dressing": {"next_due": (FIRST_DAY.date() + timedelta(days=day + 3)).isoformat()},
        },
        "note": "Wie neu.\nZweite Zeile: ± 5 mm",
    }
    return VisitDraft(**(given | changes))


def fill(record: Record) -> None:
    """Fill a record: two people, four wounds, among them one healed and opened again and one merged, seven visits."""
    heel = record.open_wound(
        "P014", Site(Side.LEFT, "heel", "plantar"), Kind.DIABETIC_FOOT, "AB", at=FIRST_DAY, onset=date(2025, 11, 2)
    )
    shin = record.open_wound("P014", Site(Side.RIGHT, "lower leg", "medial"), Kind.VENOUS_LEG, "AB", at=FIRST_DAY)
    beside = record.open_wound("P014", Site(Side.RIGHT, "lower leg"), Kind.VENOUS_LEG, "CD", at=FIRST_DAY)
    belly = record.open_wound("Q-2", Site(Side.MIDLINE, "abdomen"), Kind.SURGICAL, "CD", at=FIRST_DAY)
    for number, day in enumerate((0, 7, 14, 21)):
        record.save_visit(draft(heel, record.put_photo(jpeg(number), "heel.jpg"), day))
    record.save_visit(draft(shin, record.put_photo(jpeg(10), "shin.jpg"), 3, unit="", note=""))
    record.save_visit(VisitDraft(belly.id, FIRST_DAY, "CD", findings={"closures": {"kind": "staples", "present": 12}}))
    second = record.save_visit(draft(belly, record.put_photo(jpeg(20), "belly.jpg"), 5, findings={})).visit
    record.add_findings(second.id, {"pain": 5, "odour": None}, "CD")
    record.add_note(second.id, "Called the provider.", "CD")
    record.add_measurement(second.id, outline(33), numbers(11.0), "EF", convention="head-to-toe")
    record.mark(shin.id, What.MERGED, "AB", at=FIRST_DAY + timedelta(days=4), other=beside.number)
    record.mark(belly.id, What.HEALED, "CD", at=FIRST_DAY + timedelta(days=20))
    record.mark(belly.id, What.REOPENED, "CD", at=FIRST_DAY + timedelta(days=26))
    record.set("units", ["Ward 4", "Community"], "AB")
    record.set("smallest_detectable_change", {"area_relative": 0.1 + 0.2, "source": "our own study"}, "AB")


def told(record: Record) -> dict:
    """Return all that a record tells but when it was entered and under which hashes."""
    return {
        "people": record.people(),
        "wounds": record.wounds(),
        "visits": {wound.key: [_visit(visit) for visit in record.visits(wound.id)] for wound in record.wounds()},
        "last": record.last_visits(),
        "units": record.setting("units"),
        "change": record.setting("smallest_detectable_change"),
    }


def _visit(visit):
    return {
        "visit": (visit.id, visit.wound, visit.at, visit.by, visit.unit),
        "photos": [(photo.media_type, photo.width, photo.height, photo.taken_at) for photo in visit.photos],
        "outlines": [_outline(entry) for entry in visit.outlines],
        "numbers": [(each.outline.id, each.convention, each.document, each.by) for each in visit.measurements],
        "findings": [(finding.name, finding.value, finding.by) for finding in visit.findings],
        "notes": [(note.text, note.by) for note in visit.notes],
    }


def _outline(entry):
    rings = [ring.tolist() for ring in (entry.outline.exterior, *entry.outline.holes)]
    return entry.id, entry.kind, entry.method, entry.by, rings


def _main(file: str) -> None:
    """Fill a record, and put its database as one file without a log beside it."""
    with TemporaryDirectory() as folder:
        record = open_record(folder)
        fill(record)
        record.close()
        with closing(sqlite3.connect(Path(folder) / "record.db")) as source:
            source.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            source.execute("PRAGMA journal_mode = DELETE")
            source.execute("VACUUM INTO ?", (file,))


if __name__ == "__main__":
    _main(sys.argv[1])
