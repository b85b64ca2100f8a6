"""Tables of a study for the statistics: every tracing once, under its photo, rater and trial."""

import pytest
from studied import drawn_photo, entry, plan, traced

from measure.agreement.errors import AgreementError
from measure.study.values import UNITS, study_categories, study_observations

TWO = plan((drawn_photo(1), drawn_photo(2)))
"""Two photos, two raters, two trials."""


def document(area, tissue=None):
    """Return the document of a wound whose quantities are all told, each another one."""
    wound = {name: {"value": area + number} for number, name in enumerate(UNITS)}
    return {"wounds": [wound | {"tissue": tissue}]}


@pytest.fixture
def study():
    """Return a study in which one rater has not begun trial 2."""
    told = (
        ("CD", 1, 2, 9.0),
        ("CD", 1, 1, 16.5),
        ("AB", 1, 1, 16.0),
        ("AB", 1, 2, 9.5),
        ("AB", 2, 2, 9.25),
        ("AB", 2, 1, 15.0),
    )
    return entry(TWO, *(traced(photo, rater, trial, document=document(area)) for rater, trial, photo, area in told))


def test_each_tracing_is_a_row(study):
    found = study_observations(study, "area_cm2")
    rows = list(zip(found.subject, found.rater, found.trial, found.value, strict=True))
    assert rows == [
        ("photo 01", "AB", "1", 16.0),
        ("photo 01", "AB", "2", 15.0),
        ("photo 01", "CD", "1", 16.5),
        ("photo 02", "AB", "1", 9.5),
        ("photo 02", "AB", "2", 9.25),
        ("photo 02", "CD", "1", 9.0),
    ]
    assert (found.unit, found.missing, found.numeric, found.methods) == ("cm2", 2, True, ("",))


@pytest.mark.parametrize(("quantity", "more"), [(name, number) for number, name in enumerate(UNITS)])
def test_each_quantity_is_read_from_its_place(study, quantity, more):
    found = study_observations(study, quantity)
    assert found.value[0] == 16.0 + more
    assert found.unit == quantity.rpartition("_")[2]


def test_a_study_in_which_nothing_is_traced_is_a_sentence():
    with pytest.raises(AgreementError, match="no measurement"):
        study_observations(entry(TWO))


def test_the_tissue_that_takes_most_of_a_wound_is_its_category():
    first = {"granulation": {"percent": 60.0}, "slough": {"percent": 40.0}}
    second = {"granulation": {"percent": 49.0}, "slough": {"percent": 51.0}}
    study = entry(
        TWO,
        traced(1, document=document(9.0, first)),
        traced(2, document=document(9.0, second)),
        traced(1, "CD", document=document(9.0)),
    )
    found = study_categories(study)
    assert list(zip(found.subject, found.value, strict=True)) == [("photo 01", "granulation"), ("photo 02", "slough")]
    assert (found.missing, found.numeric) == (6, False)
