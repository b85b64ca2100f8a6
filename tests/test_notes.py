"""What a person said of colours: in a file and back, and refused in a sentence where it can't be what was said."""

import json

import pytest

from measure.by_eye import ByEye, by_eye_document
from measure.notes import ChosenSkin, Notes, control_document, parse_notes, said_document
from measure.tissue import Said, TissueError

SAID = (Said((10.5, 20.25), "slough", "AB"), Said((30.0, 40.0), "unclear"))


def test_written_and_read_they_are_the_same():
    notes = Notes(SAID, ChosenSkin((1.5, 2.5), "CD"), (None, ByEye("AB", {"slough": 100})))
    wounds = [{"tissue_by_eye": by_eye_document(each)} for each in notes.by_eye]
    written = {"tissue_said": said_document(notes.said), "control": control_document(notes.control), "wounds": wounds}
    assert parse_notes(json.loads(json.dumps(written))) == notes


@pytest.mark.parametrize("loaded", [[], {}, {"wounds": 3}, {"tissue_said": None, "control": None}])
def test_a_file_that_says_nothing_of_them_is_read_as_nothing(loaded):
    assert parse_notes(loaded) == Notes()


@pytest.mark.parametrize("place", ["[1e300, 5]", "[5, -1e7]", "[1" + 400 * "0" + ", 5]", "[NaN, 5]", "[5, Infinity]"])
def test_a_place_that_no_photo_has_is_refused(place):
    with pytest.raises(TissueError, match="under 'tissue_said' is not in the form"):
        parse_notes(json.loads(f'{{"tissue_said": [{{"at": {place}, "tissue": "slough"}}]}}'))
    with pytest.raises(TissueError, match="under 'control' is not in the form"):
        parse_notes(json.loads(f'{{"control": {{"at": {place}}}}}'))
