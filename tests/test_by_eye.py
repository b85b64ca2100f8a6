"""Proportions of tissue by eye: kept, stored and read, and refused in plain words where they do not add up."""

import json
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.by_eye import STANDARD_UNCERTAINTY, ByEye, ByEyeError, advice, by_eye_document, off_by, parse_by_eye
from measure.editing import EditingError
from measure.hatching import LOOKS

SEEN = {"granulation": 60.0, "slough": 40.0}


def test_it_is_frozen_and_names_every_tissue():
    estimate = ByEye(" AB ", SEEN)
    with pytest.raises(FrozenInstanceError):
        estimate.by = "CD"
    with pytest.raises(TypeError):
        estimate.percent["slough"] = 41.0
    assert estimate.by == "AB"
    assert estimate.percent == SEEN | {"necrotic": 0.0, "epithelial": 0.0, "unclear": 0.0}


def test_the_uncertainty_is_that_between_nurses():
    """Standard error of measurement, Landa et al., Int Wound J 13(5):619-624 (2016)."""
    assert ByEye("AB", SEEN).standard_uncertainty["granulation"] == 6.88
    assert ByEye("AB", SEEN).standard_uncertainty["slough"] == 7.17
    assert set(STANDARD_UNCERTAINTY) == set(LOOKS)
    assert min(STANDARD_UNCERTAINTY.values()) >= 6.88  # necrosis too, whose published 0.35 is of wounds without any


def test_nobody_need_be_named_yet():
    assert ByEye("  ", SEEN).by == ""


@pytest.mark.parametrize(
    ("percent", "sentence"),
    [
        ({"granulation": 60, "slough": 35}, "add up to 95 %: 5 % still missing."),
        ({"granulation": 60, "slough": 50}, "add up to 110 %: 10 % too much, take some away."),
        ({}, "add up to 0 %: 100 % still missing."),
        ({"granulation": 120, "slough": -20}, "Granulation is given as 120 %; give 0 to 100 %."),
        ({"slough": float("nan")}, "Slough is given as nan %"),
        ({"fat": 100}, "no tissue named 'fat'; the names are granulation, slough"),
    ],
)
def test_what_can_not_be_recorded_is_refused_in_a_sentence(percent, sentence):
    with pytest.raises(ByEyeError, match=sentence):
        ByEye("AB", percent)


def test_a_name_instead_of_initials_is_refused():
    with pytest.raises(EditingError, match="21 characters"):
        ByEye("a" * 21, SEEN)


@given(st.lists(st.integers(0, 20), min_size=5, max_size=5))
def test_what_is_said_of_a_sum_is_true(twentieths):
    percent = dict(zip(LOOKS, (5 * number for number in twentieths), strict=True))
    missing = off_by(percent)
    assert missing == 100 - sum(percent.values())
    if missing == 0:
        assert sum(ByEye("AB", percent).percent.values()) == 100
    else:
        assert ("missing" in advice(missing)) == (sum(percent.values()) < 100)
        with pytest.raises(ByEyeError):
            ByEye("AB", percent)


def test_three_thirds_in_whole_numbers_are_enough():
    assert off_by({"granulation": 33.3, "slough": 33.3, "necrotic": 33.3}) == 0


# Storing and reading


def test_stored_and_read_it_is_the_same():
    stored = json.loads(json.dumps({"tissue_by_eye": by_eye_document(ByEye("AB", SEEN))}, allow_nan=False))
    assert parse_by_eye(stored) == ByEye("AB", SEEN)


@pytest.mark.parametrize("loaded", [{}, {"tissue_by_eye": None}, [], None])
def test_a_file_need_not_speak_of_it(loaded):
    assert by_eye_document(parse_by_eye(loaded)) is None


@pytest.mark.parametrize(
    "note",
    [
        "AB",
        {},
        {"by": 1, "percent": SEEN},
        {"by": "AB", "percent": [60, 40]},
        {"by": "AB", "percent": {"slough": "all"}},
        {"by": "AB", "percent": {"slough": True}},
    ],
)
def test_another_form_is_refused(note):
    with pytest.raises(ByEyeError, match="says under 'tissue_by_eye' is not in the form"):
        parse_by_eye({"tissue_by_eye": note})
