"""What is flagged of a photo's colours."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.correction import FLAGGED_ABOVE, REFUSED_ABOVE, fit_colour
from calibration.prints import is_grey
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.verdict import colour_flags

GLARE = 255


@pytest.fixture(scope="module")
def prepared(first_sample):
    return prepare(read_photo(first_sample.photo))


def _codes(colour):
    return [flag.code for flag in colour_flags(colour)]


@pytest.mark.parametrize(
    ("residual", "codes", "trusted"),
    [
        (FLAGGED_ABOVE, [], True),
        (FLAGGED_ABOVE + 0.1, ["colour-unsure"], True),
        (REFUSED_ABOVE + 0.1, ["colour-refused"], False),
        (float("nan"), ["colour-from-paper"], True),
    ],
)
def test_how_far_left_out_patches_are_off_decides(prepared, residual, codes, trusted):
    colour = replace(prepared.colour, residual=residual)
    assert _codes(colour) == codes
    assert colour.trusted == trusted


def test_a_print_without_colour_is_flagged(prepared):
    readings = tuple(
        replace(reading, unused=reading.unused if is_grey(reading.name) else "printed without colour")
        for reading in prepared.colour.readings
    )
    assert _codes(replace(prepared.colour, readings=readings)) == ["colour-from-greys"]


def test_refused_colours_leave_size_and_say_nothing_of_tissue(prepared):
    refused = replace(prepared, colour=replace(prepared.colour, residual=REFUSED_ABOVE + 1))
    measurement = complete(refused, culture=True)
    assert measurement.wounds
    assert (measurement.tissue, measurement.redness, measurement.swabs) == ((), (), ())


def test_without_a_sticker_no_colour_is_claimed():
    assert _codes(None) == ["colour-unknown"]


def test_without_a_patch_the_paper_tells_the_lamp_and_that_is_flagged(prepared):
    """Glare lies on every patch; the hem's white cells are still to be read."""
    pixels, plane = prepared.photo.pixels.copy(), prepared.calibration.plane
    sticker = prepared.calibration.stickers[0]
    for patch in sticker.layout.patches:
        corners = np.rint(plane.to_px(patch.place.corners)).astype(int)
        (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
        pixels[top : bottom + 1, left : right + 1] = GLARE
    colour = fit_colour(pixels, [sticker], plane)
    assert colour.source == "paper"
    assert colour.trusted
    assert _codes(colour) == ["colour-from-paper"]
    assert (colour.lab_sigma > prepared.colour.lab_sigma).all()
    measurement = complete(replace(prepared, colour=colour))
    (by_paper,) = measurement.tissue
    (by_patches,) = complete(prepared).tissue
    assert sum(share.percent for share in by_paper.shares.values()) == pytest.approx(100, abs=0.01)
    for name, share in by_paper.shares.items():
        assert share.percent == pytest.approx(by_patches.shares[name].percent, abs=5)
