"""Two people at one wound at the same moment: nothing is lost, and the later one is told."""

import pytest
from at_once import at_once, marks, opens_wounds, saves

from measure.record.entries import Kind, Side, Site


@pytest.fixture
def wound(record):
    return record.open_wound("P014", Site(Side.LEFT, "heel"), Kind.PRESSURE, "AB")


def test_both_visits_are_kept_and_each_is_told_of_those_saved_before(record_url, record, wound):
    """As the page saw no visit, the others of each are all that were saved before it."""
    told = at_once(saves, (record_url, "AB"), (record_url, "CD"))
    saved = sorted(pair for one in told for pair in one)
    numbers = [number for number, _ in saved]
    assert len(set(numbers)) == 10
    assert [others for _, others in saved] == [numbers[:before] for before in range(10)]
    visits = record.visits(wound.id)
    assert sorted(visit.id for visit in visits) == numbers
    assert sorted(visit.by for visit in visits) == ["AB"] * 5 + ["CD"] * 5
    assert all(visit.measurement and len(visit.outlines) == 2 and len(visit.photos) == 1 for visit in visits)


def test_wounds_of_a_new_person_get_numbers_of_their_own(record_url, record):
    told = at_once(opens_wounds, (record_url, "AB"), (record_url, "CD"))
    assert sorted(number for one in told for number in one) == list(range(1, 11))
    assert record.people() == ["P1"]
    assert [wound.number for wound in record.wounds("P1")] == list(range(1, 11))


def test_of_two_marks_at_once_one_is_told(record_url, record, wound):
    told = at_once(marks, (record_url, "AB", "healed", 1), (record_url, "CD", "merged", 1))
    events = record.wound(wound.key).events
    assert len(events) == 2
    first = "AB" if events[1].by == "AB" else "CD"
    won, lost = told if first == "AB" else reversed(told)
    assert won == events[1].what
    assert lost[0] == "ChangedError"
    assert lost[1].startswith(f"In the meantime {first} has marked P014/1 as {won} (")
