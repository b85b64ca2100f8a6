"""Visits to a wound whose numbers are chosen: the document of a sample photo, with others in their place."""

import copy
import json
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from measure.outline import Outline, read_outlines
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.record.entries import (
    Event,
    FindingEntry,
    Kind,
    MeasurementEntry,
    OutlineEntry,
    Side,
    Site,
    VisitEntry,
    What,
    WoundEntry,
)
from measure.report import document

START = datetime(2026, 8, 3, 9, 30, tzinfo=UTC)
SAMPLE = Path(__file__).parent.parent / "sample_images" / "W01-shin-corner.jpg"
SQUARE = Outline(np.array([(100.0, 100.0), (300.0, 100.0), (300.0, 300.0), (100.0, 300.0)]))
LONGEST = "longest-perpendicular"


def on(day):
    """Return the instant so many days after the start."""
    return START + timedelta(days=day)


def wound(kind=Kind.VENOUS_LEG, events=()):
    """Return an open wound, to which the events happened on the days given with them."""
    happened = (Event(What.OPENED, START, "AB"), *(Event(what, on(day), "AB") for what, day in events))
    return WoundEntry(1, "P014", 2, Site(Side.LEFT, "lower leg", "medial"), kind, happened)


@cache
def sampled():
    """Return the document of a sample photo, as the record holds it."""
    photo = read_photo(SAMPLE.read_bytes(), SAMPLE.name)
    prepared = prepare(photo, propose=False)
    outlines = read_outlines(SAMPLE.with_suffix(".outline.json"), photo.width, photo.height)
    return json.loads(json.dumps(document(complete(prepared, outlines)), allow_nan=False))


def visit(day, area=None, **numbers):
    """Return a visit; without an area nothing was measured.

    Parameters
    ----------
    day : float
        Since `START`.
    area : float, optional
        In cm2; the other numbers are those of a circle.
    **numbers
        ``share``: relative standard uncertainty of the area, half of it that of the perimeter, by default 0.05;
        ``perimeter`` in cm; ``convention``; ``tissue``: mapping of names to percent, each uncertain by 3 points;
        ``depth`` in cm.
    """
    at, number = on(day), int(100 * day)
    depth = numbers.get("depth")
    findings = () if depth is None else (FindingEntry("depth_cm", depth, at, "AB"),)
    measured = () if area is None else (_measured(at, number, area, **numbers),)
    outlines = tuple(each.outline for each in measured)
    return VisitEntry(number, 1, at, "AB", "", at, outlines=outlines, measurements=measured, findings=findings)


def _measured(at, number, area, *, share=0.05, perimeter=None, convention=LONGEST, tissue=None, **_):  # noqa: PLR0913
    told = copy.deepcopy(sampled())
    found = told["wounds"][0]
    across = 2 * np.sqrt(area / np.pi)
    around = np.pi * across if perimeter is None else perimeter
    sizes = {"area_cm2": (area, share), "perimeter_cm": (around, share / 2), "length_cm": (across, share / 2)}
    sizes |= {"width_cm": (across, share / 2), "length_x_width_cm2": (across**2, share), "ellipse_cm2": (area, share)}
    for name, (value, relative) in sizes.items():
        found[name] = {"value": value, "standard_uncertainty": value * relative}
        found[name]["components"] = {"outline placement": relative}
    found["convention"] = convention
    found["tissue"] = tissue and {
        name: {"percent": percent, "standard_uncertainty": 3.0, "components": {"class doubt": 3.0}}
        for name, percent in tissue.items()
    }
    outline = OutlineEntry(number, "ab" * 32, "given", "given", SQUARE, at, "AB")
    return MeasurementEntry(number, outline, convention, told, at, "AB")
