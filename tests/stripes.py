"""Tissue whose truth is known: each wound cut into upright stripes of its own box, named in turn.

It stands where the pipeline's own tissue stands, so that the pages are tried with regions at known places. Start the
pages with it: ``python -m tests.stripes PORT``.
"""

import dataclasses
import sys
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Point, box

from measure import pipeline
from measure.outline import from_polygon, polygon
from measure.pages import correction
from measure.pages.tissue import Circle, Skin, Swab, Tissue
from measure.proposal import NETWORK
from measure.server import serve

STRIPES = (("granulation", 0.45), ("slough", 0.35), ("necrotic", 0.2))
"""Tissue and share of the wound's width, from left to right."""

RADIUS = 60.0
"""Of circles, in photo px."""

REMINDERS = ("Clean the wound before the swab is taken.", "Take it from the cleanest tissue, not from slough.")


@dataclass(frozen=True)
class Stripe:
    """A region."""

    tissue: str
    rings: tuple
    by_hand: bool


@dataclass(frozen=True)
class Part:
    """A proportion."""

    percent: float
    standard_uncertainty: float = 4.5


@dataclass(frozen=True, eq=False)
class Striped(pipeline.Measurement):
    """A measurement with tissue."""

    tissue: Tissue | None = None


def striped(measurement, said=(), control=None):
    """Give a measurement its stripes, renamed as a person said."""
    wounds = [_stripes(wound.outline, said) for wound in measurement.wounds]
    first = measurement.wounds[0].outline.exterior if measurement.wounds else np.zeros((1, 2))
    left, top = first.min(axis=0)
    tissue = Tissue(
        tuple(wounds),
        tuple(_shares(regions) for regions in wounds),
        controls=(Circle(control or (float(left) - 150.0, float(top)), RADIUS),),
        control_radius=RADIUS,
        skin=tuple(Skin((("0 to 5 mm from the edge", "+3.2 ± 1.8"),), ("Tone: light.",)) for _ in wounds),
        swabs=tuple(_swab(wound.outline) for wound in measurement.wounds),
        reminders=REMINDERS,
    )
    fields = {field.name: getattr(measurement, field.name) for field in dataclasses.fields(pipeline.Measurement)}
    return Striped(**fields, tissue=tissue)


def _swab(outline):
    x, y = outline.exterior.mean(axis=0)
    return Swab("If a culture is ordered: swab the marked circle.", Circle((float(x), float(y)), RADIUS))


def _stripes(outline, said):
    wound = polygon(outline)
    left, top, right, bottom = wound.bounds
    stripes, start = [], left
    for tissue, share in STRIPES:
        end = start + share * (right - left)
        for part in shapely.get_parts(wound.intersection(box(start, top, end, bottom))):
            words = [word for at, word in said if part.contains(Point(at))]
            ring = from_polygon(part)
            stripes.append(Stripe(words[-1] if words else tissue, (ring.exterior, *ring.holes), bool(words)))
        start = end
    return stripes


def _shares(stripes):
    areas = {}
    for stripe in stripes:
        outer, *holes = (shapely.Polygon(ring).area for ring in stripe.rings)
        areas[stripe.tissue] = areas.get(stripe.tissue, 0.0) + outer - sum(holes)
    return {tissue: Part(100 * area / sum(areas.values())) for tissue, area in areas.items()}


def complete(*args, tissue_said=(), control=None, **words):
    """Measure, and look for stripes."""
    return striped(pipeline.complete(*args, **words), tissue_said, control)


def refused(*args, **words):
    """Measure, and say why nothing is known of tissue."""
    fields = vars(pipeline.complete(*args, **words))
    return Striped(**fields, tissue=Tissue(trouble="There is no sticker in this photo, so its colours tell nothing."))


if __name__ == "__main__":
    correction.complete = refused if "refused" in sys.argv else complete
    serve(int(sys.argv[1]), "127.0.0.1", NETWORK)
