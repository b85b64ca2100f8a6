"""Whose turn is which photo: each once a trial, in an order of one's own that comes out the same after a pause."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from studied import drawn_photo, entry, plan

from measure.study.turns import next_turn, order_of


def study_of(photos, **changes):
    return entry(plan(tuple(drawn_photo(number) for number in range(1, photos + 1)), **changes))


@given(st.integers(1, 20), st.integers(1, 4), st.integers(0, 999))
def test_each_rater_meets_each_photo_once_a_trial(photos, trials, seed):
    study, met = study_of(photos, trials=trials, seed=seed), []
    while turn := next_turn(study, "AB"):
        met.append((turn.trial, turn.place, turn.photo.number))
        study = replace(study, done=study.done | {("AB", turn.trial, turn.photo.number)})
    assert [each[:2] for each in met] == [(t, p) for t in range(1, trials + 1) for p in range(1, photos + 1)]
    assert sorted((trial, number) for trial, _, number in met) == [
        (trial, number) for trial in range(1, trials + 1) for number in range(1, photos + 1)
    ]


@given(st.integers(2, 20), st.integers(0, 999))
def test_trial_2_has_another_order_and_does_not_begin_where_trial_1_ended(photos, seed):
    planned = study_of(photos, seed=seed).plan
    first, second = order_of(planned, "AB", 1), order_of(planned, "AB", 2)
    assert first != second
    assert photos == 2 or second[0] != first[-1]


def test_raters_and_seeds_have_orders_of_their_own():
    planned = study_of(12).plan
    orders = {tuple(order_of(planned, rater, 1)) for rater in ("AB", "CD", "EF")}
    orders.add(tuple(order_of(replace(planned, seed=8), "AB", 1)))
    assert len(orders) == 4


def test_what_others_trace_changes_nobodys_turn():
    study = study_of(12)
    others = replace(study, done=frozenset(("CD", trial, number) for trial in (1, 2) for number in range(1, 13)))
    assert next_turn(others, "AB").photo is next_turn(study, "AB").photo
    assert next_turn(others, "CD") is None


def test_an_order_stays_the_same_for_good():
    r"""A study that is paused over an update of anything goes on as it began: the order rests on SHA-256 alone.

    ``printf '7\037order\037AB\0371\0370\037%d' N | sha256sum`` for N from 1 to 6, sorted, gives it.
    """
    assert order_of(study_of(6, seed=7).plan, "AB", 1) == [1, 2, 5, 6, 3, 4]
