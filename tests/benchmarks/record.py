"""How long a record with many visits takes to answer and to save.

Run it with ``python -m tests.benchmarks.record`` in the repository's root; ``--where`` names the empty record to fill,
a folder or a URL, by default a temporary folder. Each visit has the outlines and the whole document of a measured
sample photo, and the findings of a usual change of dressing. Prints Markdown.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from sqlalchemy import insert

from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.record.draft import VisitDraft, drawn
from measure.record.entries import Kind, Side, Site, WoundEntry
from measure.record.rows import finding_rows, measurement_row, outline_row, photo_row
from measure.record.store import Record, open_record
from measure.record.tables import VisitRow
from tests.benchmarks.run import print_lines

PHOTO = Path(__file__).parents[2] / "sample_images" / "W01-shin-corner.jpg"
LONGEST, LONG = 200, 50
"""Visits of the wounds that are read: four years of weekly visits, and one."""
USUAL = 10
"""Visits of all other wounds."""
TIMES = 9
FIRST = datetime(2022, 1, 3, 9, tzinfo=UTC)
FINDINGS = {
    "depth_cm": 0.4,
    "exudate": {"amount": "moderate", "kind": "serous"},
    "pain": 3,
    "signs": {"fever": False, "spreading redness": False},
    "dressing": {"removed": "foam", "applied": "foam", "technique": "clean", "next_due": "2026-03-05"},
}


def rows(visits: int, where: str) -> Iterator[str]:
    """Yield the table: each call's median and worst time."""
    with closing(open_record(where)) as record:
        draft, data = measured_visit(record)
        size = len(json.dumps(draft.measured.document)) / 1000 if draft.measured else 0
        longest, long = fill_record(record, draft, visits)
        wounds = len(record.wounds())
        kind = record.place.url.drivername
        yield f"{visits} visits, {wounds} wounds, a document of {size:.0f} kB each, {kind}:\n"
        yield "| call | median | worst |"
        yield "|---|---:|---:|"
        calls: dict[str, Callable[[], object]] = {
            "`wounds()`": record.wounds,
            "`last_visits()`": record.last_visits,
            "`survey.practice()`": record.survey.practice,
            "`survey.sizes()`": record.survey.sizes,
            "`survey.accepted()`": record.survey.accepted,
            f"`visits` of a wound with {LONGEST}": lambda: record.visits(longest.id),
            f"`visits` of a wound with {LONG}": lambda: record.visits(long.id),
            "`put_photo`, 4032 x 3024 px, there already": lambda: record.put_photo(data, "photo"),
            "`save_visit`": lambda: record.save_visit(draft),
        }
        for name, call in calls.items():
            yield f"| {name} | {_ms(call)} |"
    yield f"| `open_record` | {_ms(lambda: open_record(where).close())} |"


def _ms(call: Callable[[], object]) -> str:
    """Time a call after it was made once."""
    call()
    took = []
    for _ in range(TIMES):
        began = perf_counter()
        call()
        took.append(1000 * (perf_counter() - began))
    return f"{median(took):.1f} ms | {max(took):.1f} ms"


def measured_visit(record: Record) -> tuple[VisitDraft, bytes]:
    """Measure the sample photo; return a visit with it, and the photo's file."""
    data = PHOTO.read_bytes()
    prepared = prepare(read_photo(data, PHOTO.name))
    outlines, measured = drawn(complete(prepared, prepared.outlines), 0, "AB")
    wound = _open(record, 0)
    photo = record.put_photo(data, PHOTO.name)
    return VisitDraft(wound.id, FIRST, "AB", "Ward 4", photo, outlines, measured, FINDINGS, "As last week."), data


def _open(record: Record, number: int) -> WoundEntry:
    return record.open_wound(f"P{number // 2}", Site(Side.LEFT, "lower leg"), Kind.VENOUS_LEG, "AB", at=FIRST)


def fill_record(record: Record, draft: VisitDraft, visits: int) -> tuple[WoundEntry, WoundEntry]:
    """Insert visits past `save_visit`, which would see each onto the disk; return the two wounds that are read."""
    longest, long = _open(record, 1), _open(record, 2)
    _insert(record, draft, longest.id, LONGEST)
    _insert(record, draft, long.id, LONG)
    left = visits - LONGEST - LONG
    for number in range(3, 3 + left // USUAL):
        _insert(record, draft, _open(record, number).id, USUAL)
    return longest, long


def _insert(record: Record, draft: VisitDraft, wound_id: int, count: int) -> None:
    with record._database.act() as session:
        for week in range(count):
            at = FIRST + timedelta(weeks=week)
            visit = session.scalar(
                insert(VisitRow)
                .values(wound_id=wound_id, unit=draft.unit, at=at, saved_at=at, by=draft.by)
                .returning(VisitRow.id)
            )
            assert visit
            assert draft.photo
            assert draft.measured
            photo = photo_row(visit, draft.photo)
            session.add(photo)
            session.flush()
            outlines = [outline_row(visit, photo.id, outline, at) for outline in draft.outlines]
            session.add_all([*outlines, *finding_rows(visit, draft.findings, at, draft.by)])
            session.flush()
            session.add(measurement_row(visit, outlines[draft.measured.outline].id, draft.measured, at, draft.by))
        session.flush()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--visits", type=int, default=10_000)
    parser.add_argument("--where", default="", help="folder or URL of an empty record")
    chosen = parser.parse_args()
    with TemporaryDirectory() as folder:
        print_lines(rows(chosen.visits, chosen.where or folder))
