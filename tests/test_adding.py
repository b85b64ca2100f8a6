"""What is added to a past visit on the page History: findings, notes, and that a visit does not count."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from measure.record.entries import LEFT_OUT
from measure.trend.series import series_of

APP = Path(__file__).parent.parent / "app.py"
WOUND = "P103/1"


@pytest.fixture
def page(demo_record, monkeypatch):
    """Open the page History of a wound in a copy of the demo record, as somebody who said who she is."""
    monkeypatch.setenv("EBBLINE_DATA", str(demo_record.place.file.parent))
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.session_state["wound"], page.session_state["by"] = WOUND, "AB"
    return page.run().switch_page("measure/pages/history.py").run()


def _visits(record):
    return record.visits(record.wound(WOUND).id)


def _press(page, label):
    return next(button for button in page.button if button.label == label).click().run()


def test_a_finding_that_was_wrong_is_corrected_and_stays_below(page, demo_record):
    before = _visits(demo_record)[-1]
    page.toggle(key=f"visit-correct-{before.id}").set_value(True).run()
    page.session_state[f"finding-correct-{before.id}:pain-rating"] = 9  # as a tap on the number does
    _press(page, "Add to the visit")
    assert not page.exception
    after = _visits(demo_record)[-1]
    said = [finding for finding in after.findings if finding.name == "pain"]
    assert before.found["pain"] != after.found["pain"] == 9
    assert len(said) == len([finding for finding in before.findings if finding.name == "pain"]) + 1
    assert said[-1].by == "AB"


def test_a_note_is_added(page, demo_record):
    page.text_area[0].set_value("Seen with the wound team.")
    _press(page, "Add the note")
    assert not page.exception
    note = _visits(demo_record)[-1].notes[-1]
    assert (note.text, note.by) == ("Seen with the wound team.", "AB")


def test_nothing_said_is_told_in_a_sentence(page, demo_record):
    page.toggle(key=f"visit-correct-{_visits(demo_record)[-1].id}").set_value(True).run()
    _press(page, "Add to the visit")
    assert "Nothing was said yet" in page.error[0].value


def test_a_visit_to_the_wrong_wound_is_left_out_and_can_be_taken_in_again(page, demo_record):
    wound, before = demo_record.wound(WOUND), _visits(demo_record)
    points = len(series_of(wound, before).points)
    field = next(field for field in page.text_input if field.label.startswith("Why, in a few words"))
    field.set_value("Wrong wound.")
    _press(page, "Leave it out of the series")
    assert not page.exception
    assert any("Left out of the series:" in warning.value for warning in page.warning)
    after = _visits(demo_record)
    assert len(after) == len(before)  # nothing is deleted
    assert after[-1].left_out == "Wrong wound."
    assert len(series_of(wound, after).points) == points - 1
    _press(page, "Take this visit into the series again")
    assert len(series_of(wound, _visits(demo_record)).points) == points
    assert [finding.value for finding in _visits(demo_record)[-1].findings if finding.name == LEFT_OUT] == [
        "Wrong wound.",
        None,
    ]


def test_whatever_is_added_shows_in_the_stand(demo_record):
    wound, visit = demo_record.wound(WOUND), _visits(demo_record)[-1]
    stands = [demo_record.stand(wound.id)]
    for act in (
        lambda: demo_record.add_note(visit.id, "One.", "AB"),
        lambda: demo_record.add_findings(visit.id, {"pain": 2}, "AB"),
        lambda: demo_record.answer_prompt(visit.id, "pus", "Told.", "AB"),
    ):
        act()
        stands.append(demo_record.stand(wound.id))
    assert len(set(stands)) == len(stands)
    assert demo_record.stand(demo_record.wounds("P101")[0].id) != stands[-1]
