"""Who is clearly behind the figure for the kind at four weeks, and who only may be."""

import pytest
from weekly import visit, wound

from measure.record.entries import Kind
from measure.trend.references import BY_WEEK_THREE, MIDPOINT, TAUGHT, references
from measure.trend.series import series_of
from measure.trend.stalled import stalled


def found(*areas, kind=Kind.DIABETIC_FOOT, days=(0, 14, 28, 42), share=0.05):
    visits = [visit(day, area, share=share) for day, area in zip(days, areas, strict=False)]
    return stalled(series_of(wound(kind), visits).points, kind)


def test_the_published_figures():
    """Sheehan 2003: 53 %; Phillips 2000: 40 % by week 3; the taught rule: 20 to 40 %."""
    assert references(Kind.DIABETIC_FOOT) == (MIDPOINT,)
    assert (MIDPOINT.weeks, MIDPOINT.figure) == (4, "53 % less by week 4")
    assert "58 %" in MIDPOINT.sentence
    assert " 9 %" in MIDPOINT.sentence
    assert references(Kind.VENOUS_LEG) == (BY_WEEK_THREE, TAUGHT)
    assert BY_WEEK_THREE.figure == "40 % less by week 3"
    assert TAUGHT.figure == "20 to 40 % less by week 4"
    assert not references(Kind.BURN)


def test_clearly_less_is_said_with_its_source():
    behind = found(10.0, 9.5, 9.0)
    assert behind
    assert behind.reduction.value == pytest.approx(10)
    assert behind.reason == (
        "In 4 weeks the area became 10 % smaller (± 13 points): less than the 53 % of "
        "Sheehan and others, Diabetes Care 2003;26:1879-82."
    )


def test_what_may_be_noise_calls_nobody():
    """At 50 % smaller, areas known to 5 % leave 7 points: 53 % is within."""
    near = found(10.0, 7.0, 5.0)
    assert not near
    assert "that may be less than the 53 %" in near.reason
    assert found(10.0, 7.0, 5.0, share=0.01)


def test_more_than_the_figure_is_not_behind():
    assert "not less than the 53 %" in found(10.0, 7.0, 3.0).reason


def test_who_caught_up_is_not_behind_any_more():
    later = found(10.0, 9.5, 9.0, 2.0)
    assert not later
    assert later.reason.endswith("By now it is 80 % smaller (± 3 points).")
    assert found(10.0, 9.5, 9.0, 8.0)


def test_a_wound_that_grew_is_behind():
    grown = found(10.0, 10.5, 12.0, kind=Kind.VENOUS_LEG)
    assert grown
    assert "20 % larger" in grown.reason


def test_nothing_is_said_before_four_weeks_or_without_a_measurement_then():
    assert "have not passed" in found(10.0, 9.5).reason
    assert "Nothing was measured" in found(10.0, 9.9, 9.8, days=(0, 7, 60)).reason
    assert "have not passed" in found().reason


def test_of_kinds_without_a_figure_nothing_is_said():
    assert "burn" in found(10.0, 9.5, 9.0, kind=Kind.BURN).reason


def test_without_its_uncertainty_nothing_is_compared():
    assert "without its uncertainty" in found(10.0, 9.5, 9.0, share=float("nan")).reason
