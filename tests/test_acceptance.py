"""Keeping a photo in spite of a failed check: which reasons can be recorded, and what the record says."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.acceptance import MAX_REASON, Acceptance, ReasonError, accepted, usable_reason
from measure.checks import check_distance, check_tilt
from measure.outline import Outline
from measure.photo import Photo
from measure.pipeline import complete, prepare
from measure.report import document, summary

GOOD, TILTED, FAR = check_tilt(5.0), check_tilt(40.0), check_distance(0.5)


def test_the_failed_checks_are_recorded_by_name():
    assert accepted("Best of several", [GOOD, TILTED, FAR]) == Acceptance("Best of several", ("tilt", "distance"))


def test_a_good_photo_has_nothing_to_be_kept_in_spite_of():
    assert accepted("Best of several", [GOOD]) is None
    assert accepted("Best of several", []) is None


def test_an_acceptance_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        accepted("Best of several", [TILTED]).reason = "another"


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("", "The reason is empty"),
        (" \t\n", "The reason is empty"),
        ("x" * (MAX_REASON + 1), "has 201 characters, at most 200 are kept"),
        ("two\nlines", "line break or a control character"),
        ("two\u2028lines", "line break or a control character"),
        ("bell\x07", "line break or a control character"),
        ("escape\x1b[31m", "line break or a control character"),
        ("half a pair \ud800", "line break or a control character"),
        ("turned \u202eround", "line break or a control character"),
    ],
)
@pytest.mark.parametrize("checks", [[TILTED], [GOOD]], ids=["failed", "good"])
def test_a_reason_that_cannot_be_recorded_is_refused(reason, said, checks):
    with pytest.raises(ReasonError, match=said) as refused:
        accepted(reason, checks)
    assert refused.value.code == "unusable-reason"
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("reason", ["x" * MAX_REASON, "Trop sombre\u202f!", "زخم می\u200cشود", "傷口", "Größe: 3½ cm"])
def test_every_script_is_usable(reason):
    """A narrow no-break space before a sign (French) and a zero-width non-joiner (Persian) belong to plain writing."""
    assert usable_reason(f"  {reason} ") == reason


@given(st.text(max_size=250))
def test_a_reason_is_refused_or_stands_on_one_line(reason):
    try:
        usable = usable_reason(reason)
    except ReasonError:
        return
    assert 0 < len(usable) <= MAX_REASON
    assert len(usable.splitlines()) == 1
    assert usable_reason(usable) == usable


@pytest.fixture(scope="module")
def coarse():
    """Return a photo without a sticker of which a pixel covers 0.5 mm: it fails the check of distance alone."""
    photo = Photo("coarse.png", np.full((600, 800, 3), 150, dtype=np.uint8), "ab" * 32, None, None)
    return prepare(photo, scale=(100, 500, 200, 500, 50.0), propose=False)


SQUARE = [Outline(np.array([(100, 100), (300, 100), (300, 300), (100, 300)], dtype=float))]


def test_checks_of_the_outline_count_too(coarse):
    assert complete(coarse, SQUARE, accept="Best of several").acceptance.failed == ("distance",)
    assert complete(coarse, SQUARE).acceptance is None


def test_an_unusable_reason_measures_nothing(coarse):
    with pytest.raises(ReasonError):
        complete(coarse, SQUARE, accept="")


def test_only_the_acceptance_is_added_to_the_document(coarse):
    kept = document(complete(coarse, SQUARE, accept="Best of several"))
    assert kept["acceptance"] == {"reason": "Best of several", "failed_checks": ["distance"]}
    assert kept | {"acceptance": None} == document(complete(coarse, SQUARE))


def test_the_summary_still_says_what_failed(coarse):
    text = summary(complete(coarse, SQUARE, accept="Best of several"))
    assert "\n  accepted in spite of: distance - 'Best of several'\n" in text
    assert "! The camera was too far away, one pixel covers 0.500 mm: move closer" in text
