"""Raters as letters: each one's own, the same every time, and no list to read names from."""

from hypothesis import given, settings
from hypothesis import strategies as st
from judges import study, table

from measure.agreement.bias import rater_bias
from measure.agreement.letters import lettered, letters

INITIALS = st.lists(st.text("ABKLMNX", min_size=2, max_size=4), min_size=1, max_size=60, unique=True)


@settings(max_examples=50)
@given(INITIALS, st.randoms())
def test_everyone_has_a_letter_whatever_the_order(raters, random):
    found = letters(raters)
    assert len(set(found.values())) == len(raters)
    mixed = list(raters)
    random.shuffle(mixed)
    assert letters(mixed) == found


def test_the_letters_do_not_follow_the_names():
    """Of 26 names in order, few may keep their place: 1 of 26 expected by chance, 5 in less than 1 of 100 tables."""
    names = [f"K{letter}" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    found = letters(names)
    assert sum(found[name] == f"rater {name[1]}" for name in names) < 5


def test_raters_who_are_letters_already_keep_them():
    assert letters(["B", "A", "C"]) == {"A": "rater A", "B": "rater B", "C": "rater C"}
    assert letters(["rater D", "rater A"]) == {"rater A": "rater A", "rater D": "rater D"}
    assert set(letters(["B", "D"]).values()) == {"rater A", "rater B"}


def test_more_than_26_have_two_letters():
    found = letters([f"N{number}" for number in range(28)])
    assert {"rater Z", "rater AA", "rater AB"} <= set(found.values())


def test_a_table_keeps_its_values_with_their_raters():
    told = study()
    named = table(told.crossed(), raters=["KL", "MN", "AB"])
    names = letters(named.raters)
    before = {names[each.rater]: each.statistic.value for each in rater_bias(named)}
    after = rater_bias(lettered(named))
    assert {each.rater: each.statistic.value for each in after} == before
    assert [each.rater for each in after] == ["rater A", "rater B", "rater C"]
    assert not any(name in str(lettered(named).rater) for name in ("KL", "MN", "AB"))
