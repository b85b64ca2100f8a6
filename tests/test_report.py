"""Documents and text: units, rounding, and null for what isn't known."""

import json

import numpy as np
import pytest

from calibration.errors import StickerNotFoundError
from measure.outline import Outline
from measure.photo import Photo
from measure.pipeline import complete, prepare
from measure.report import document, refusal, rows, shown, summary
from measure.uncertainty import Quantity


@pytest.fixture(scope="module")
def measurement():
    """Measure a square of 20 mm on a photo with a scale by hand: 10 px a mm."""
    photo = Photo("square.png", np.full((600, 800, 3), 150, dtype=np.uint8), "ab" * 32, None, None)
    prepared = prepare(photo, scale=(100, 500, 600, 500, 50.0), propose=False)
    return complete(prepared, [Outline(np.array([(100, 100), (300, 100), (300, 300), (100, 300)], dtype=float))])


def test_documents_are_in_cm_and_cm2(measurement):
    (wound,) = document(measurement)["wounds"]
    assert wound["area_cm2"]["value"] == pytest.approx(4.0)
    assert wound["perimeter_cm"]["value"] == pytest.approx(8.0)
    assert wound["length_cm"]["value"] == pytest.approx(np.sqrt(8), rel=1e-5)
    assert wound["length_x_width_cm2"]["value"] == pytest.approx(8.0)
    assert wound["ellipse_cm2"]["value"] == pytest.approx(2 * np.pi, rel=1e-5)
    assert wound["shape"]["circularity"] == pytest.approx(np.pi / 4, rel=1e-5)


def test_what_is_not_known_is_null(measurement):
    found = document(measurement)
    assert found["calibration"]["tilt_deg"] is None
    assert found["calibration"]["residual_px"] is None
    assert found["wounds"][0]["tissue"] is None
    json.dumps(found, allow_nan=False)


def test_a_refusal_has_the_same_keys(measurement):
    error = StickerNotFoundError("No sticker.")
    refused = refusal("a.jpg", error)
    full = document(measurement)
    assert refused.keys() == full.keys()
    assert refused["photo"].keys() == full["photo"].keys()
    assert refused["calibration"].keys() == full["calibration"].keys()
    assert refused["flags"] == [{"code": "no-sticker", "sentence": "No sticker."}]


def test_a_refused_photo_that_was_read_keeps_its_facts(measurement):
    photo = measurement.prepared.photo
    assert refusal("x", StickerNotFoundError("No."), photo)["photo"]["sha256"] == photo.sha256


def test_the_summary_says_what_the_uncertainty_is_made_of(measurement):
    """Hand calculation for 20 mm squared at 0.1 mm a pixel, seen from 0.1 mm times the 624 px of a 27 mm lens.

    Unknown tilt of a length: (1 - cos 20) / sqrt(3) = 3.5 %; its middle is 34 mm from that of the two points, which
    changes the distance of 62 mm by 34 sin(20 / sqrt(3)) = 6.7 mm, 10.8 %; both twice for an area: 22.6 %. Edge to
    0.2 mm: 4 x 0.2 / 20 = 4.0 %; 1 mm of height: 2 / 62.4 = 3.2 %. In squares 95, 3 and 2 %; under 5 % is not named.
    """
    said = "tilt not corrected 95 %"
    assert f"\n    uncertainty mostly from: {said}\n" in summary(measurement)


def test_value_and_k_stand_together():
    assert shown(Quantity(4.0, "cm2", {"a": 0.01})) == "4.00 +- 0.08 cm2 (k = 2)"


def test_summary_names_every_number_once(measurement):
    text = summary(measurement)
    for name, _ in rows(measurement.wounds[0]):
        assert f"\n    {name:<18}" in text
    assert "two points" in text
    assert "nan" not in text
