"""Output of drains by day: shares add up to what was emptied, and no day claims hours that no reading covers."""

import math
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from measure.findings.drain_totals import Reading, daily_totals, rate, readings_of
from measure.findings.drains import Drain
from measure.findings.findings import Findings
from measure.findings.form import FindingError

BERLIN = ZoneInfo("Europe/Berlin")
ZONES = [UTC, BERLIN, ZoneInfo("America/New_York"), ZoneInfo("America/Sao_Paulo"), ZoneInfo("Australia/Lord_Howe")]


def at(day, hour, minute=0, month=3, zone=BERLIN):
    return datetime(2026, month, day, hour, minute, tzinfo=zone)


def test_a_reading_over_midnight_is_shared_out_by_time():
    first, second = daily_totals([(at(6, 6), at(5, 18), 60.0)], BERLIN)
    assert (first.day, first.ml, first.hours_covered) == (date(2026, 3, 5), pytest.approx(30), pytest.approx(6))
    assert (second.day, second.ml, second.hours_covered) == (date(2026, 3, 6), pytest.approx(30), pytest.approx(6))
    assert not first.complete


def test_a_covered_day_is_complete_and_says_its_hours():
    readings = [
        (at(5, 0), at(4, 22), 10.0),
        (at(5, 7), None, 20.0),
        (at(5, 15, 30), None, 25.0),
        (at(6, 0), None, 40.0),
    ]
    total = daily_totals(readings, BERLIN)[1]
    assert total.complete
    assert total.ml == pytest.approx(85)
    assert str(total) == "2026-03-05: 85 mL in 24 h"


def test_a_day_that_is_not_covered_is_said_to_be_so_and_not_scaled_up():
    total = daily_totals([(at(5, 18), at(5, 6), 60.0)], BERLIN)[0]
    assert total.ml == pytest.approx(60)
    assert str(total) == "2026-03-05: 60 mL in 12.0 of 24 h, not the whole day"


def test_a_day_between_that_nothing_covers_is_unknown_not_dry():
    totals = daily_totals([(at(5, 12), at(5, 6), 30.0), (at(7, 12), at(7, 6), 30.0)], BERLIN)
    assert [total.day.day for total in totals] == [5, 6, 7]
    assert math.isnan(totals[1].ml)
    assert str(totals[1]) == "2026-03-06: not known"


def test_a_dry_day_is_known():
    (total,) = daily_totals([(at(6, 0), at(5, 0), 0.0)], BERLIN)
    assert str(total) == "2026-03-05: 0 mL in 24 h"


@pytest.mark.parametrize(("day", "month", "hours"), [(29, 3, 23), (25, 10, 25), (5, 3, 24)])
def test_days_of_a_clock_change_have_their_own_length(day, month, hours):
    """Summer time in the European Union: last Sunday of March to last Sunday of October (directive 2000/84/EC)."""
    midnight = at(day, 0, month=month)
    (total,) = daily_totals([(midnight + timedelta(days=1), midnight, 50.0)], BERLIN)
    assert total.hours == hours
    assert total.complete
    assert total.ml == pytest.approx(50)


def test_the_repeated_hour_counts_twice():
    first, second = (datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN, fold=fold) for fold in (0, 1))
    (total,) = daily_totals([(second, first, 12.0)], BERLIN)
    assert total.hours_covered == pytest.approx(1)
    assert total.ml == pytest.approx(12)


def test_a_site_may_begin_its_day_in_the_morning():
    (total,) = daily_totals([(at(6, 7), at(5, 7), 70.0)], BERLIN, time(7))
    assert (total.day, total.complete) == (date(2026, 3, 5), True)
    assert len(daily_totals([(at(6, 7), at(5, 7), 70.0)], BERLIN)) == 2


def test_output_of_an_unknown_start_is_told_and_not_shared_out():
    first, *_ = daily_totals([(at(5, 8), None, 45.0), (at(5, 16), None, 20.0)], BERLIN)
    assert (first.ml, first.unplaced_ml) == (pytest.approx(20), 45.0)
    assert str(first).endswith("20 mL in 8.0 of 24 h, not the whole day; 45 mL more, gathered since an unknown time")


def test_what_is_emptied_at_midnight_belongs_to_the_day_before():
    (total,) = daily_totals([(at(6, 0), None, 45.0)], BERLIN)
    assert (total.day, total.unplaced_ml) == (date(2026, 3, 5), 45.0)


def test_nothing_gathers_before_the_drain_was_emptied_last():
    (total,) = daily_totals([(at(5, 8), at(5, 4), 10.0), (at(5, 12), at(5, 6), 40.0)], BERLIN)
    assert total.hours_covered == pytest.approx(8)
    assert total.ml == pytest.approx(50)


def test_no_readings_have_no_days():
    assert daily_totals([], BERLIN) == ()


@pytest.mark.parametrize(
    ("readings", "sentence"),
    [
        ([(at(5, 8), at(5, 4), 10.0), (at(5, 8), None, 12.0)], "Two readings of one drain are of 2026-03-05T08:00"),
        ([(at(5, 8), at(5, 9), 10.0)], "give a start before the end"),
        ([(at(5, 8), at(5, 8), 10.0)], "give a start before the end"),
        ([(at(5, 8), at(5, 4), -1.0)], "The output of a drain is given as -1.0; give a number from 0 to 5000 mL."),
        ([(at(5, 8), at(5, 4), math.nan)], "is given as nan"),
        ([(datetime(2026, 3, 5, 8), at(5, 4), 1.0)], "give date and time with the offset from UTC"),  # noqa: DTZ001
    ],
)
def test_impossible_readings_are_refused(readings, sentence):
    with pytest.raises(FindingError, match=sentence):
        daily_totals(readings, BERLIN)


CLOCK_CHANGES = [datetime(2026, month, day, tzinfo=UTC) for month, day in ((3, 8), (3, 29), (4, 5), (10, 25))]
MOMENTS = st.integers(0, 20 * 24 * 60).map(lambda minute: timedelta(minutes=minute) - timedelta(days=10))


@st.composite
def chains(draw):
    """Draw readings that may overlap, leave gaps, and begin with one of unknown start."""
    middle = draw(st.sampled_from(CLOCK_CHANGES))
    ends = sorted(middle + away for away in draw(st.lists(MOMENTS, min_size=1, max_size=8, unique=True)))
    readings = []
    for end in ends:
        reach = draw(st.none() | st.integers(1, 72 * 60))
        since = None if reach is None else end - timedelta(minutes=reach)
        readings.append((end, since, draw(st.floats(0, 900))))
    return draw(st.permutations(readings))


@settings(deadline=None)
@given(chains(), st.sampled_from(ZONES), st.sampled_from([time(0), time(7), time(2, 30)]))
def test_shares_add_up_to_what_was_emptied(readings, zone, begins):
    totals = daily_totals(readings, zone, begins)
    placed = math.fsum(total.ml for total in totals if total.hours_covered)
    unplaced = math.fsum(total.unplaced_ml for total in totals)
    assert placed + unplaced == pytest.approx(math.fsum(ml for _, _, ml in readings), abs=1e-6)


@settings(deadline=None)
@given(chains(), st.sampled_from(ZONES), st.sampled_from([time(0), time(7), time(2, 30)]))
def test_days_follow_each_other_and_are_never_covered_beyond_their_length(readings, zone, begins):
    totals = daily_totals(readings, zone, begins)
    for total in totals:
        assert 23 <= total.hours <= 25
        assert total.hours_covered <= total.hours + 1e-6
        assert math.isnan(total.ml) == (total.hours_covered == 0)
    assert all(one.ends == other.begins for one, other in pairwise(totals))


@settings(deadline=None)
@given(chains(), st.sampled_from(ZONES))
def test_the_zone_in_which_times_are_given_changes_nothing(readings, zone):
    elsewhere = [(end.astimezone(zone), since and since.astimezone(zone), ml) for end, since, ml in readings]
    assert daily_totals(elsewhere, BERLIN) == daily_totals(readings, BERLIN)


def test_the_rate_rests_on_the_last_hours_alone():
    readings = [(at(5, 8), at(4, 20), 600.0), (at(6, 8), at(5, 20), 30.0)]
    found = rate(readings, at(6, 8))
    assert found.hours_covered == pytest.approx(12)
    assert found.ml_per_24h == pytest.approx(60)
    assert str(found) == "60 mL per 24 h, from 12.0 of the last 24 h"


def test_without_a_reading_there_is_no_rate():
    found = rate([(at(5, 8), at(4, 20), 600.0)], at(9, 8))
    assert math.isnan(found.ml_per_24h)
    assert str(found) == "no reading in the last 24 h"


@settings(deadline=None)
@given(st.floats(1, 900), st.integers(1, 24 * 60))
def test_a_steady_drain_has_its_rate_in_any_window(ml, minutes):
    assume(ml * 24 * 60 / minutes < 5000)
    steps = [at(5, 0) + timedelta(minutes=minutes * step) for step in range(4)]
    readings = [(end, since, ml) for since, end in pairwise(steps)]
    assert rate(readings, steps[-1]).ml_per_24h == pytest.approx(ml * 24 * 60 / minutes)


def test_readings_of_visits_are_those_of_one_drain_and_the_later_entry_counts():
    def visit(label, hour, ml):
        return Findings(drains=(Drain(label, "bulb", ml, emptied_at=at(5, hour)),))

    found = [visit("1", 8, 20.0), visit("2", 8, 99.0), visit("1", 16, 30.0), visit("1", 8, 25.0), Findings()]
    assert readings_of(found, "1") == (Reading(at(5, 8), None, 25.0), Reading(at(5, 16), None, 30.0))
