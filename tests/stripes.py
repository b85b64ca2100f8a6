"""Tissue whose truth is known: each wound cut into upright stripes of its own box, named in turn.

It stands where the pipeline's own tissue stands, so that the pages are tried with regions at known places. Start the
pages with it: ``python -m tests.stripes PORT``. The address may ask for another: ``?tissue=scattered`` or ``refused``.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np
import shapely
import streamlit as st
from shapely.geometry import Point, box

import measure.pages.tissue
from measure.outline import from_polygon, polygon
from measure.pages.tissue import Circle, Skin, Swab, Tissue
from measure.proposal import NETWORK
from measure.server import serve

STRIPES = (("granulation", 0.45), ("slough", 0.35), ("necrotic", 0.2))
"""Tissue and share of the wound's width, from left to right."""

RADIUS = 60.0
"""Of circles, in photo px."""

REMINDERS = ("Clean the wound before the swab is taken.", "Take it from the cleanest tissue, not from slough.")


NO_SKIN = "The circle of skin that you chose shows too little skin: choose another place."
"""Said of whatever lies within `NOT_SKIN_PX` of the photo's left edge."""

NOT_SKIN_PX = 300.0


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


def striped(measurement):
    """Give a measurement its stripes, renamed as a person said."""
    notes = measurement.notes
    wounds = [_stripes(wound.outline, [(each.at, each.tissue) for each in notes.said]) for wound in measurement.wounds]
    first = measurement.wounds[0].outline.exterior if measurement.wounds else np.zeros((1, 2))
    left, top = first.min(axis=0)
    at = notes.control.at if notes.control else (float(left) - 150.0, float(top))
    return Tissue(
        tuple(wounds),
        tuple(_shares(regions) for regions in wounds),
        controls=(Circle(at, RADIUS),),
        control_radius=RADIUS,
        skin_trouble=NO_SKIN if notes.control and at[0] < NOT_SKIN_PX else "",
        skin=tuple(Skin((("0 to 5 mm from the edge", "+3.2 ± 1.8"),), ("Tone: light.",)) for _ in wounds),
        swabs=tuple(_swab(wound.outline) for wound in measurement.wounds),
        reminders=REMINDERS,
    )


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


def scattered(measurement):
    """Give a measurement its stripes, and new skin in spots too small for a region."""
    found = striped(measurement)
    return replace(found, shares=tuple({**shares, "epithelial": Part(4.0)} for shares in found.shares))


def refused(_):
    """Say why nothing is known of tissue."""
    return Tissue(trouble="There is no sticker in this photo, so its colours tell nothing.")


TISSUES = {"striped": striped, "scattered": scattered, "refused": refused}


def asked_for(measurement):
    """Give a measurement the tissue that the page's address asks for."""
    return TISSUES[st.query_params.get("tissue", "striped")](measurement)


if __name__ == "__main__":
    measure.pages.tissue.tissue_of = asked_for
    serve(int(sys.argv[1]), "127.0.0.1", NETWORK)
