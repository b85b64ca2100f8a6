"""Documents of visits become points in the order of time; nothing that was not measured is a point."""

import math

import pytest
from weekly import on, sampled, visit, wound

from measure.record.entries import What
from measure.trend.series import series_of


def test_points_hold_what_the_documents_say():
    (point,) = series_of(wound(), [visit(0, 12.0, perimeter=13.2, tissue={"slough": 40.0}, depth=0.4)]).points
    assert (point.area.value, point.area.unit, point.area.components["outline placement"]) == (12.0, "cm2", 0.05)
    assert (point.perimeter.value, point.perimeter.unit) == (13.2, "cm")
    assert point.length_x_width.value == pytest.approx(point.length.value * point.width.value)
    assert point.tissue["slough"].standard_uncertainty == 3.0
    assert (point.depth_cm, point.by, point.at, point.convention) == (0.4, "AB", on(0), "longest-perpendicular")
    assert not point.healed


def test_the_numbers_of_a_real_document_are_taken_over():
    told, taken = sampled()["wounds"][0], visit(0, 1.0)
    taken.measurement.document["wounds"][0] = told
    (point,) = series_of(wound(), [taken]).points
    assert point.area.value == told["area_cm2"]["value"]
    assert point.area.standard_uncertainty == pytest.approx(told["area_cm2"]["standard_uncertainty"], rel=1e-5)
    assert point.tissue.keys() == told["tissue"].keys()


def test_points_come_in_the_order_of_time_and_unmeasured_visits_stay_visits():
    series = series_of(wound(), [visit(7, 10.0), visit(14), visit(0, 12.0)])
    assert [point.at for point in series.points] == [on(0), on(7)]
    assert [entry.at for entry in series.visits] == [on(0), on(7), on(14)]


def test_what_is_null_is_not_known():
    taken = visit(0, 12.0)
    taken.measurement.document["wounds"][0]["area_cm2"]["components"] = {"outline placement": None}
    (point,) = series_of(wound(), [taken]).points
    assert math.isnan(point.area.standard_uncertainty)
    taken.measurement.document["wounds"][0]["area_cm2"]["value"] = None
    assert not series_of(wound(), [taken]).points


def test_a_document_without_a_wound_is_no_point():
    taken = visit(0, 12.0)
    taken.measurement.document["wounds"].clear()
    assert not series_of(wound(), [taken]).points


def test_a_healed_wound_has_no_area_then_and_is_known_exactly():
    visits = [visit(0, 2.0), visit(21)]
    *_, last = series_of(wound(events=[(What.HEALED, 21)]), visits).points
    assert last.healed
    assert (last.area.value, last.area.standard_uncertainty, last.perimeter.value) == (0, 0, 0)
    assert last.visit is visits[1]
    *_, alone = series_of(wound(events=[(What.HEALED, 30)]), visits).points
    assert alone.visit is None


def test_a_wound_that_opened_again_begins_anew():
    again = wound(events=[(What.HEALED, 21), (What.REOPENED, 40)])
    series = series_of(again, [visit(0, 2.0), visit(21, 0.1), visit(39, 0.5), visit(47, 0.7)])
    assert [point.area.value for point in series.current] == [0.5, 0.7]
    assert series.baseline.area.value == 0.5
    assert series.latest.area.value == 0.7
    assert len(series.points) == 5


def test_nothing_is_compared_with_itself_or_with_nothing():
    assert series_of(wound(), []).baseline is None
    assert series_of(wound(), []).latest is None
    assert series_of(wound(), [visit(0, 2.0)]).latest is None
    healed = series_of(wound(events=[(What.HEALED, 21)]), [])
    assert (healed.baseline, healed.latest) == (None, None)
