"""Where a series is interrupted: no visit for long, or lengths taken in another way."""

from weekly import LONGEST, on, visit, wound

from measure.record.entries import What
from measure.trend.gaps import breaks, gaps, stretches
from measure.trend.series import series_of

HEAD = "head-to-toe"


def found(visits, events=()):
    return gaps(series_of(wound(events=events), visits))


def test_more_than_two_weeks_without_a_visit_is_a_gap():
    (gap,) = found([visit(0, 12.0), visit(14, 11.0), visit(28.5, 10.0)])
    assert (gap.start, gap.end, gap.days) == (on(14), on(28.5), 14)
    assert "between 17 August and 31 August 2026" in gap.sentence


def test_a_visit_without_a_measurement_is_a_visit():
    assert not found([visit(0, 12.0), visit(10), visit(20, 10.0)])


def test_a_healed_wound_needs_no_visit_and_to_be_healed_is_to_be_seen():
    events = [(What.HEALED, 24), (What.REOPENED, 60)]
    assert not found([visit(0, 2.0), visit(12, 1.0), visit(60, 1.0)], events)
    (gap,) = found([visit(0, 2.0), visit(60, 1.0)], events)
    assert (gap.start, gap.end) == (on(0), on(24))


def test_a_change_of_convention_splits_the_lengths():
    visits = [visit(0, 12.0), visit(7, 11.0), visit(14, 10.0, convention=HEAD), visit(21, 9.0, convention=HEAD)]
    points = series_of(wound(), visits).points
    (found_break,) = breaks(points)
    assert (found_break.at, found_break.before, found_break.after) == (on(14), LONGEST, HEAD)
    assert "The traced area can." in found_break.sentence
    assert [[point.at for point in run] for run in stretches(points)] == [[on(0), on(7)], [on(14), on(21)]]


def test_what_is_healed_ends_the_line_of_its_lengths():
    events = [(What.HEALED, 14), (What.REOPENED, 20)]
    points = series_of(wound(events=events), [visit(0, 2.0), visit(21, 1.0)]).points
    assert [len(run) for run in stretches(points)] == [2, 1]
    assert not breaks(points)
    assert not list(stretches(()))
