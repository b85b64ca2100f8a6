"""A study with known tracings: circles in photos of half a millimetre to the pixel, each rater a little larger."""

import math

from filled import outline
from studied import plan, traced

MM_PX = 0.5
RATERS = ("KL", "MN", "QR")
MAIN = ("granulation", "slough")


def radius(photo, rater, trial):
    """Return the radius in px of a tracing: 20 to 60, a rater 1 px larger than the one before, a trial 0.5 px."""
    return 16.0 + 5.0 * photo + RATERS.index(rater) + 0.5 * (trial - 1)


def document(photo, rater, trial):
    """Return what would be measured of that circle; MN and QR never see tissue, as if their light was bad."""
    round_px = radius(photo, rater, trial)
    polygon_px2 = 18 * round_px**2 * math.sin(2 * math.pi / 36)
    across = 2 * round_px * MM_PX / 10
    values = {"area_cm2": polygon_px2 * MM_PX**2 / 100, "length_cm": across, "width_cm": across}
    values |= {"length_x_width_cm2": across**2, "perimeter_cm": math.pi * across}
    tissue = {name: {"percent": 60.0 - 20 * (number != photo % 2)} for number, name in enumerate(MAIN)}
    wound = {name: {"value": value} for name, value in values.items()}
    return {"wounds": [wound | {"tissue": tissue if rater == "KL" else None}]}


def drafts(photos, raters=RATERS, trials=(1, 2)):
    """Return the tracings of so many photos."""
    return [
        traced(
            photo,
            rater,
            trial,
            outline=outline(radius(photo, rater, trial)),
            document=document(photo, rater, trial),
        )
        for rater in raters
        for trial in trials
        for photo in range(1, photos + 1)
    ]


def three_raters(drawn):
    """Return a plan in which three raters trace each photo twice."""
    return plan(drawn, raters=RATERS)
