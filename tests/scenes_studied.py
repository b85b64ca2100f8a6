"""A record of rendered photos, small and each of another wound, whose true outlines are known."""

from datetime import UTC, datetime, timedelta

import numpy as np
from shapely.geometry import Polygon

from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.record.draft import VisitDraft, drawn
from measure.record.entries import Kind, Side, Site
from measure.record.store import Record
from measure.rendering import Camera, Scene, Skin, Wound, jpeg, polygon_in_photo, render

PLACES = ("shin", "heel", "sacrum")
FIRST_DAY = datetime(2026, 1, 5, 8, 30, tzinfo=UTC)


def scene(number):
    """Return the scene of one of many photos: from 2 to some 15 cm2, on skin of another tone each."""
    length = 20 + 3 * number
    return Scene(
        wound=Wound("blob", length, 0.7 * length, turn_deg=25 * number),
        skin=Skin(ita_deg=60 - 9 * number),
        camera=Camera(1000, 750, distance_mm=180),
        seed=700 + number,
    )


def ring_px(seen, outside_mm=0.0, points=40):
    """Return points in photo px, shape (points, 2), at even steps round the wound, so far outside its true edge."""
    edge = seen.wound_mm().buffer(outside_mm).exterior
    steps = [edge.interpolate(turn, normalized=True) for turn in np.arange(points) / points]
    ring, _ = polygon_in_photo(seen.view(), Polygon([(step.x, step.y) for step in steps]))
    return ring


def fill(record: Record, count=12):
    """Save a visit with a photo, measured along its true edge, for each of so many people; return scenes by hash."""
    seen = {}
    for number in range(count):
        shown = scene(number)
        wound = record.open_wound(f"P{100 + number}", Site(Side.LEFT, PLACES[number % 3]), Kind.VENOUS_LEG, "AB")
        data = jpeg(render(shown))
        photo = record.put_photo(data, "photo.jpg")
        measured = complete(prepare(read_photo(data, "photo"), propose=False), [Outline(ring_px(shown))], skin=False)
        outlines, numbers = drawn(measured, 0, "AB")
        at = FIRST_DAY + timedelta(days=number)
        record.save_visit(VisitDraft(wound.id, at, "AB", photo=photo, outlines=outlines, measured=numbers))
        seen[photo.sha256] = shown
    return seen
