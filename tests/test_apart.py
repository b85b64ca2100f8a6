"""Words of a chart do not touch, whatever is wanted, and dates stand apart from a day to two years."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.trend.apart import flowing, in_rows, upward, wide
from measure.trend.ticks import ticks

START = datetime(2026, 8, 3, 9, 30, tzinfo=UTC)
HEIGHTS = st.lists(st.floats(0, 280), max_size=6).map(sorted)


@given(HEIGHTS, st.floats(100, 280))
def test_words_keep_a_line_apart_below_the_top(wanted, high):
    tall = [15.0] * len(wanted)
    placed = upward(wanted, tall, high)
    assert all(later - earlier >= 15 - 1e-9 for earlier, later in pairwise(placed))
    assert all(middle + 7.5 <= high + 1e-9 for middle in placed)


def test_words_that_do_not_touch_stay():
    assert upward([10, 40], [15, 15], 100) == [10, 40]
    assert upward([10, 12, 99], [15, 15, 15], 100) == [10, 25, 92.5]


@given(st.lists(st.tuples(st.floats(0, 700), st.floats(1, 200)), max_size=8).map(sorted))
def test_words_of_one_row_do_not_touch(words):
    rows = in_rows([middle for middle, _ in words], [width for _, width in words], 14.0)
    for row in set(rows):
        ends = [
            (middle - width / 2, middle + width / 2)
            for (middle, width), at in zip(words, rows, strict=True)
            if at == row
        ]
        assert all(later[0] - earlier[1] >= 14 - 1e-9 for earlier, later in pairwise(ends))


def test_what_does_not_fit_begins_a_new_row():
    assert flowing([100, 100, 300], 250, 20) == [(0, 0), (120, 0), (0, 1)]


@pytest.mark.parametrize(
    ("span", "room", "count"),
    [(1, 228, 2), (7, 540, 8), (28, 228, 5), (35, 228, 3), (70, 228, 3), (70, 540, 6), (365, 228, 4), (730, 540, 12)],
)
def test_dates_are_few_enough_to_stand_apart(span, room, count):
    end = START + timedelta(days=span)
    found = ticks(START, end, room, 12)
    assert len(found) == count
    assert found[0].words.endswith("\n2026")
    places = [(tick.at - START) / (end - START) * room for tick in found]
    assert 0 <= places[0] < places[-1] <= room
    halves = [wide(tick.words, 12) / 2 for tick in found]
    gaps = [later - earlier for earlier, later in pairwise(places)]
    assert all(gap >= sum(pair) + 11 for gap, pair in zip(gaps, pairwise(halves), strict=True))


def test_weeks_are_counted_from_the_first_visit():
    assert [tick.words for tick in ticks(START, START + timedelta(days=29), 540, 12)] == [
        "3 Aug\n2026", "10 Aug", "17 Aug", "24 Aug", "31 Aug",
    ]  # fmt: skip


def test_a_new_year_is_told():
    said = [tick.words for tick in ticks(START + timedelta(days=126), START + timedelta(days=182), 540, 12)]
    assert [words.split("\n")[1] for words in said if "\n" in words] == ["2026", "2027"]
