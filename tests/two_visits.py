"""A record with two measured visits of one wound, four weeks apart: 3 mm healed, the sticker turned by 9 degrees."""

from datetime import UTC, datetime

from healed import Healed, camera, photographed

from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.record.draft import VisitDraft, drawn
from measure.record.entries import Kind, Side, Site
from measure.record.store import Record, open_record
from measure.rendering import Scene, Sticker

EARLIER = Scene(wound=Healed("blob", 40, 28), camera=camera(tilt_deg=8, roll_deg=-5), seed=3)
LATER = Scene(
    wound=Healed("blob", 40, 28, by_mm=3.0, right_mm=1.5),
    stickers=(Sticker(turn_deg=9, gap_mm=8),),
    camera=camera(tilt_deg=22, tilt_towards_deg=200, roll_deg=11),
    seed=3,
)
KEY = "P014/1"


def fill(where, scenes=(EARLIER, LATER)) -> Record:
    """Make a record in a folder."""
    record = open_record(where)
    site = Site(Side.LEFT, "lower leg", "medial")
    wound = record.open_wound("P014", site, Kind.VENOUS_LEG, "AB", at=datetime(2026, 3, 1, 9, tzinfo=UTC))
    for month, scene in enumerate(scenes, 3):
        rendering, data = photographed(scene)
        prepared = prepare(read_photo(data, "photo.jpg"), propose=False)
        measured = complete(prepared, [Outline(rendering.outline_px)], skin=False)
        outlines, numbers = drawn(measured, 0, "AB")
        photo = record.put_photo(data, "photo.jpg")
        at = datetime(2026, month, 4, 10, tzinfo=UTC)
        record.save_visit(VisitDraft(wound.id, at, "AB", photo=photo, outlines=outlines, measured=numbers))
    return record
