"""What a series says as a whole: the sentence, the document, the text."""

import json
import math

import pytest
from weekly import on, visit, wound

from measure.record.entries import Kind, What
from measure.trend.change import SiteChangeError
from measure.trend.estimate import Estimate
from measure.trend.series import series_of
from measure.trend.trend import trend, trend_document, trend_summary
from measure.trend.words import edge_words

WEEKLY = ((0, 12.0), (7, 11.0), (14, 9.4), (21, 8.6), (28, 7.5))


def found(visits, *, sdc=None, kind=Kind.VENOUS_LEG, events=()):
    return trend(series_of(wound(kind, events), visits), sdc=sdc)


def weekly(**numbers):
    return [visit(day, area, **numbers) for day, area in WEEKLY]


def test_the_sentence_says_what_the_area_did():
    assert found(weekly()).sentence == (
        "Since 3 August the traced area went from 12.0 to 7.5 cm²: 38 % less, ± 9 points; "
        "larger than the measurement noise."
    )
    grown = found([visit(0, 0.52), visit(200, 0.55)]).sentence
    assert "Since 3 August 2026 " in grown
    assert "from 0.52 to 0.55 cm²: 6 % more, ± 15 points; within the measurement noise." in grown


def test_much_growth_is_said_in_areas():
    """Percent of a small first area say little: 0.61 to 6.98 cm² would be 1044 % more."""
    grown = found([visit(0, 0.61), visit(14, 6.98)])
    assert "from 0.61 to 6.98 cm²: the increase is larger than the measurement noise." in grown.sentence


@pytest.mark.parametrize(
    ("cm", "spread", "words"),
    [
        (0.2, 0.05, "The edge moved inward by 2.0 ± 1.0 mm a week on average."),
        (-0.45, 0.015, "The edge moved outward by 4.5 ± 0.3 mm a week on average."),
        (
            0.01,
            0.05,
            "On average the edge did not move by more than its uncertainty: +0.1 ± 1.0 mm a week, + is inward.",
        ),
        (math.nan, math.nan, ""),
    ],
)
def test_an_edge_moves_inward_or_outward(cm, spread, words):
    assert edge_words(Estimate(cm, "cm/wk", spread)) == words


def test_the_sentence_without_two_areas():
    assert found([visit(0)]).sentence == "No area is measured yet; a trend needs two measurements."
    assert found([visit(0, 12.0)]).sentence.startswith("Measured once, on 3 August 2026: 12.0 ± 1.2 cm² (k = 2).")
    healed = [(What.HEALED, 35)]
    assert found(weekly(), events=healed).sentence.endswith(
        "to nothing: the wound is recorded as healed on 7 September 2026."
    )
    assert "no area was measured before" in found([visit(0)], events=healed).sentence


def test_numbers_compare_the_first_with_the_newest_point():
    told = found(weekly())
    assert told.percentage_area_reduction.value == pytest.approx(37.5)
    assert told.linear_advance.weeks == pytest.approx(4)
    assert told.exponential.points == 5
    assert [step.area.larger for step in told.steps] == [False, True, False, False]
    assert not told.stalled


def test_lengths_are_not_compared_across_a_change_of_convention():
    told = found([visit(0, 12.0), visit(7, 8.0, convention="head-to-toe"), visit(14, 6.0, convention="head-to-toe")])
    assert [step.length_x_width is None for step in told.steps] == [True, False]
    assert told.percentage_area_reduction.value == pytest.approx(50)


def test_tissue_is_compared_where_both_tell_of_it():
    told = found([visit(0, 12.0, tissue={"slough": 40.0}), visit(7, 11.0, tissue={"slough": 20.0}), visit(14, 10.0)])
    assert told.steps[0].tissue["slough"].larger
    assert told.steps[0].tissue["slough"].difference == -20
    assert not told.steps[1].tissue


def test_no_step_leads_from_healed_to_opened_again():
    events = [(What.HEALED, 10), (What.REOPENED, 20)]
    told = found([visit(0, 2.0), visit(21, 1.0)], events=events)
    assert [step.later.at for step in told.steps] == [on(10)]
    assert told.percentage_area_reduction is None


def test_a_setting_of_the_site_is_used_or_refused():
    told = found(weekly(), sdc={"area_relative": 0.9, "source": "our ward"})
    assert told.change.words == "within the measurement noise"
    assert told.change.source == "our ward"
    with pytest.raises(SiteChangeError):
        found(weekly(), sdc={"area_relative": 0.9})


CASES = {
    "weekly": ([visit(day, area, tissue={"slough": 40.0}, depth=0.3) for day, area in WEEKLY], ()),
    "once": ([visit(0, 12.0)], ()),
    "never": ([visit(0)], ()),
    "healed": ([visit(0, 12.0), visit(60)], [(What.HEALED, 60)]),
    "broken": ([visit(0, 12.0), visit(28, 11.5, convention="head-to-toe")], ()),
    "unknown": ([visit(0, 12.0), visit(28, 11.5, share=float("nan"))], ()),
}


@pytest.mark.parametrize("case", CASES)
def test_the_document_always_has_the_same_keys_and_is_json(case):
    visits, events = CASES[case]
    told = trend_document(found(visits, events=events))
    assert told.keys() == trend_document(found(weekly())).keys()
    json.dumps(told, allow_nan=False)
    assert (told["exponential"] is None) == bool(told["no_exponential"])


def test_the_document_holds_what_was_found():
    told = trend_document(found(weekly()))
    assert told["wound"] == "P014/2"
    assert told["percentage_area_reduction"]["value"] == pytest.approx(37.5)
    assert told["points"][0]["area_cm2"]["components"] == {"outline placement": 0.05}
    assert told["exponential"]["prediction"]["at"] == on(42).isoformat()
    assert [each["percent"] for each in told["references"]] == [[40.0, 40.0], [20.0, 40.0]]
    assert told["stalled"]["clearly"] is False


def test_the_summary_can_be_read_in_any_terminal():
    visits, _ = CASES["broken"]
    told = trend_summary(found(visits))
    assert told.isascii()
    assert "P014/2  wound 2, left lower leg, medial, venous leg ulcer" in told
    assert "12.00 +- 1.20 cm2 (k = 2)" in told
    assert "! From 31 August 2026 on, length and width are taken head-to-toe" in told
    assert "! No visit for 28 days" in told
    assert "the area halves in 5.8 weeks" in trend_summary(found(weekly()))
