"""Bedside findings: what is kept comes back the same, and what can't be true is refused in a sentence."""

import json
import math
from dataclasses import FrozenInstanceError, fields
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from found import FOUND, HOURS, TEXT
from hypothesis import given, settings
from hypothesis import strategies as st

from measure.findings import closures, drains, dressing, exudate, foot, irrigation, signs
from measure.findings.closures import Closures
from measure.findings.culture import Culture
from measure.findings.drains import Drain
from measure.findings.dressing import Dressing
from measure.findings.edges import EDGES
from measure.findings.exudate import Exudate
from measure.findings.findings import NAMES, Findings, anything_said, documents, parse_findings
from measure.findings.foot import Foot
from measure.findings.form import FindingError
from measure.findings.irrigation import Irrigation
from measure.findings.sizes import Tunnel, Undermining, on_the_clock, twelve
from measure.findings.skin import SKIN
from measure.record.entries import Side, Site

VOCABULARIES = {
    "amounts": exudate.AMOUNTS,
    "kinds": exudate.KINDS,
    "odours": exudate.ODOURS,
    "edges": EDGES,
    "skin": SKIN,
    "closures": closures.KINDS,
    "lines": closures.LINES,
    "drains": drains.KINDS,
    "appearances": drains.APPEARANCES,
    "drain sites": drains.SITES,
    "techniques": dressing.TECHNIQUES,
    "materials": dressing.MATERIALS,
    "solutions": irrigation.SOLUTIONS,
    "devices": irrigation.DEVICES,
    "pulses": foot.PULSES,
    "sensation": foot.SENSATION,
    "temperatures": foot.TEMPERATURES,
    "colours": foot.COLOURS,
    "teaching": foot.TEACHING,
}


@settings(deadline=None)
@given(FOUND)
def test_what_is_kept_comes_back_the_same(found):
    kept = json.loads(json.dumps(documents(found), allow_nan=False))
    assert parse_findings(kept) == found
    assert documents(parse_findings(kept)) == kept


@settings(deadline=None)
@given(FOUND)
def test_every_value_can_be_said(found):
    for value in (found.exudate, found.closures, found.culture, found.irrigation, found.dressing, found.foot):
        assert value is None or "None" not in str(value)
    for each in (*(found.undermining or ()), *(found.tunnels or ()), *(found.drains or ())):
        assert str(each)
        assert "None" not in str(each)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXT,
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(TEXT, inner, max_size=2),
    max_leaves=6,
)
KEPT = (Undermining, Tunnel, Exudate, Closures, Drain, Culture, Irrigation, Dressing, Foot)
FIELDS = st.sampled_from(sorted({field.name for kept in KEPT for field in fields(kept)} | set(signs.SIGNS)))
NEARLY = st.dictionaries(FIELDS, JSON, max_size=4)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(NAMES), JSON | NEARLY | st.lists(NEARLY, max_size=2), max_size=3))
def test_anything_else_in_a_record_is_read_or_refused_in_a_sentence(loaded):
    try:
        found = parse_findings(loaded)
    except FindingError as refused:
        sentence = str(refused)
    else:
        sentence = "."
        assert parse_findings(documents(found)) == found
    assert sentence.endswith(".")
    assert len(sentence) < 700


def test_they_are_frozen():
    found = Findings(signs={"fever": True})
    with pytest.raises(FrozenInstanceError):
        found.pain = 3
    with pytest.raises(TypeError):
        found.signs["fever"] = False


def test_nothing_said_is_kept_as_nothing_and_none_found_is_kept():
    assert documents(Findings()) == {}
    assert not anything_said(Findings())
    assert documents(Findings(tunnels=())) == {"tunnels": []}
    assert anything_said(Findings(tunnels=()))


def test_null_takes_back_what_was_said():
    assert parse_findings({"pain": None, "exudate": None}) == Findings()


def test_names_that_are_not_known_here_are_kept_without_loss():
    kept = {"pain": 3, "from_a_later_version": {"a": [1, None]}}
    assert documents(parse_findings(kept)) == kept


def test_an_open_answer_is_not_kept():
    assert documents(parse_findings({"signs": {"fever": None, "pus": False}})) == {"signs": {"pus": False}}


@pytest.mark.parametrize("names", VOCABULARIES.values(), ids=VOCABULARIES)
def test_each_word_has_a_meaning_in_one_line(names):
    for word, meaning in names.values():
        assert word
        assert word == word.strip()
        assert meaning.endswith(".")
        assert len(meaning) <= 100
        assert "\n" not in meaning
    assert len({word for word, _ in names.values()}) == len(names)


def test_each_sign_is_a_question():
    for sign in signs.SIGNS.values():
        assert sign.question.endswith("?")
        assert len(sign.question) <= 100


@pytest.mark.parametrize(
    ("loaded", "sentence"),
    [
        ({"depth_cm": 31}, "The depth is given as 31; give a number from 0 to 30 cm."),
        ({"depth_cm": -0.1}, "The depth is given as -0.1; give a number from 0 to 30 cm."),
        ({"depth_cm": math.nan}, "The depth is given as nan; give a number from 0 to 30 cm."),
        ({"depth_cm": True}, "The depth is given as True; give a number from 0 to 30 cm."),
        ({"depth_cm": "1"}, "The depth is given as '1'; give a number from 0 to 30 cm."),
        ({"depth_cm": 10**400}, "The depth is given as 1000000000000000000000000000000000000000; give a number from 0"),
        ({"ruler_length_cm": 61}, "The length by ruler is given as 61; give more than 0 and at most 60 cm."),
        ({"ruler_width_cm": 0}, "The width by ruler is given as 0; give more than 0 and at most 60 cm."),
        ({"pain": 11}, "Pain is given as 11; give a whole number from 0 to 10."),
        ({"pain": 3.5}, "Pain is given as 3.5; give a whole number from 0 to 10."),
        (
            {"undermining": [{"start": 0, "end": 2, "depth_cm": 1}]},
            "undermining starts is given as 0; give a whole number",
        ),
        ({"undermining": [{"start": 11, "end": 13, "depth_cm": 1}]}, "undermining ends is given as 13; give a whole"),
        (
            {"undermining": [{"start": 11, "end": 2, "depth_cm": 0}]},
            "is given as 0; give more than 0 and at most 30 cm.",
        ),
        (
            {"undermining": [{"start": 11, "end": 2, "depth_cm": 1, "all_round": True}]},
            "Undermining goes all round, and from 11 to 2 o'clock: give one hour",
        ),
        (
            {"undermining": [{"start": 11, "end": 2}]},
            "Undermining lacks a field; it has start, end, depth_cm, all_round.",
        ),
        (
            {"undermining": {"start": 11}},
            "Undermining is given as a dict; a list is expected, empty where there is none.",
        ),
        ({"tunnels": [{"clock": 4, "length_cm": 300}]}, "The length of a tunnel is given as 300; give more than 0"),
        ({"exudate": {"amount": "lots"}}, "is given as 'lots'; choose none, scant, small, moderate or large."),
        (
            {"exudate": {"amount": "none", "kind": "serous"}},
            "There is no exudate, and it is serous: take one of the two",
        ),
        (
            {"exudate": {"amount": "small", "colour": 1}},
            "Exudate has a field 'colour' that is not known here; known are",
        ),
        ({"odour": ""}, "The odour is given as nothing; choose none, slight, moderate or strong."),
        ({"edges": "rolled"}, "The edge is given as 'rolled'; a list is expected"),
        ({"edges": ["curly"]}, "The edge is given as 'curly'; choose distinct,"),
        ({"skin": ["healthy", "macerated"]}, "said to be healthy and macerated: take one of the two away."),
        ({"signs": {"fewer": True}}, "There is no sign named 'fewer'; the names are spreading redness,"),
        ({"signs": {"fever": "yes"}}, "'Fever' is answered with 'yes'; answer yes or no, or leave it open."),
        ({"signs": ["fever"]}, "The signs are given in another form"),
        (
            {"closures": {"kind": "staples", "present": 6, "removed": 7}},
            "7 staples were removed, and 6 were there before: count again.",
        ),
        (
            {"closures": {"kind": "sutures", "present": 9, "removed": 6, "alternate": True}},
            "6 of 9 sutures were removed; every other one is at most 5: count again",
        ),
        (
            {"closures": {"kind": "sutures", "present": -1}},
            "The number of sutures present is given as -1; give a whole",
        ),
        ({"closures": {"kind": "glue", "present": 1}}, "is given as 'glue'; choose sutures, staples or strips."),
        ({"drains": [{"label": " ", "kind": "bulb"}]}, "A drain has no label: give it a number or a place"),
        ({"drains": [{"label": "1", "kind": "bulb"}] * 2}, "Two drains are labelled 1: give each a label of its own."),
        (
            {"drains": [{"label": "1", "kind": "bulb", "output_ml": 5}]},
            "Drain 1 needs both, how much was emptied and when",
        ),
        (
            {"drains": [{"label": "1", "kind": "gravity", "suction_restored": True}]},
            "Drain 1 has no suction to restore",
        ),
        (
            {
                "drains": [
                    {
                        "label": "1",
                        "kind": "bulb",
                        "output_ml": 5,
                        "since": "2026-03-05T08:00:00+01:00",
                        "emptied_at": "2026-03-05T08:00:00+02:00",
                    }
                ]
            },
            "The output of drain 1 gathered before it was emptied: give a start before that time.",
        ),
        (
            {"drains": [{"label": "1", "kind": "bulb", "output_ml": 5, "emptied_at": "2026-03-05T08:00:00"}]},
            "is given as a datetime; give date and time with the offset from UTC.",
        ),
        (
            {"drains": [{"label": "1", "kind": "bulb", "output_ml": 5, "emptied_at": "at eight"}]},
            "is given as 'at eight'; it is written like 2026-03-05T14:30:00+01:00.",
        ),
        ({"culture": {"ordered": 1}}, "'Has a provider ordered a culture?' is answered with 1; answer yes or no"),
        ({"irrigation": {"solution": "saline", "volume_ml": 0}}, "irrigation volume is given as 0; give more than 0"),
        ({"irrigation": {"solution": "vinegar"}}, "is given as 'vinegar'; choose saline,"),
        ({"dressing": {"technique": "quick"}}, "The technique is given as 'quick'; choose clean or sterile."),
        ({"dressing": {"applied": "a\nb"}}, "The dressing that went on holds a line break"),
        ({"dressing": {"applied": "a" * 201}}, "The dressing that went on has 201 characters, at most 200 are kept"),
        ({"dressing": {"next_due": "soon"}}, "is given as 'soon'; it is written like 2026-03-05."),
        ({"dressing": {"next_due": "0206-03-05"}}, "is in the year 206: give the year as it is in full, like 2026."),
        ({"foot": {"pulses": "weak"}}, "Pulses of the foot is given as 'weak'; choose felt,"),
        ({"foot": {"teaching": ["run"]}}, "Teaching is given as 'run'; choose look daily,"),
        ({"foot": []}, "The foot is given as a list; the record keeps it as named fields."),
    ],
)
def test_impossible_values_are_refused_in_a_sentence(loaded, sentence):
    with pytest.raises(FindingError) as refused:
        parse_findings(loaded)
    assert sentence in str(refused.value)
    assert refused.value.code == "unusable-finding"


EIGHT = datetime(2026, 3, 5, 8, tzinfo=UTC)
HEEL = Site(Side.LEFT, "heel")
SHIN = Site(Side.LEFT, "lower leg")


def test_undermining_runs_over_twelve():
    assert Undermining(11, 2, 1.5).hours == (11, 12, 1, 2)
    assert Undermining(11, 2, 1.5).arc_deg == 90
    assert str(Undermining(11, 2, 1.5)) == "11 to 2 o'clock, deepest 1.5 cm"


def test_undermining_at_one_hour_has_no_arc_and_all_round_has_all():
    assert (Undermining(3, 3, 1.0).hours, Undermining(3, 3, 1.0).arc_deg) == ((3,), 0)
    assert str(Undermining(3, 3, 1.0)) == "at 3 o'clock, 1 cm"
    everywhere = Undermining(3, 3, 1.0, all_round=True)
    assert (len(everywhere.hours), everywhere.arc_deg) == (12, 360)
    assert str(everywhere) == "all round, deepest 1 cm at 3 o'clock"


@settings(deadline=None)
@given(HOURS, HOURS)
def test_the_way_there_and_the_way_back_make_a_clock(start, end):
    there, back = Undermining(start, end, 1.0), Undermining(end, start, 1.0)
    assert there.hours[0] == start
    assert there.hours[-1] == end
    assert set(there.hours) | set(back.hours) == (set(range(1, 13)) if start != end else {start})
    assert there.arc_deg + back.arc_deg == (360 if start != end else 0)


def test_on_the_foot_the_clock_is_said_to_begin_at_the_heel():
    found = (Undermining(11, 2, 1.5), Undermining(5, 5, 0.5))
    told = "11 to 2 o'clock, deepest 1.5 cm; at 5 o'clock, 0.5 cm"
    assert on_the_clock(found, SHIN) == told
    assert on_the_clock(found, HEEL) == f"{told} (12 o'clock is towards the heel)"
    assert on_the_clock((Tunnel(4, 2.0),), SHIN) == "at 4 o'clock, 2 cm"
    assert on_the_clock((), HEEL) == "none"
    assert twelve(SHIN) == "12 o'clock is towards the head"


@settings(deadline=None)
@given(st.integers(0, 40), st.integers(0, 40))
def test_closures_add_up(present, removed):
    if removed > present:
        with pytest.raises(FindingError):
            Closures("staples", present, removed)
        return
    assert Closures("staples", present, removed).remaining + removed == present
    assert Closures("staples", present, (present + 1) // 2, alternate=True).most_alternate == len(range(present)[::2])


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (Exudate("moderate", "serous"), "moderate serous"),
        (Exudate("none"), "none"),
        (
            Closures("staples", 12, 6, alternate=True, line="closed"),
            "6 of 12 staples removed, every other one, line closed",
        ),
        (Closures("sutures", 8), "8 sutures present"),
        (Culture(ordered=True, taken=True, after_cleansing=True), "culture taken as ordered, after cleansing"),
        (Culture(ordered=True), "culture ordered"),
        (Irrigation("saline", 250, "syringe 19 gauge"), "irrigated with 250 mL saline, 35 mL syringe, 19 gauge"),
        (
            Dressing("foam", "alginate", "clean", date(2026, 3, 8)),
            "foam removed, alginate applied, clean technique, next change 8 March 2026",
        ),
        (Foot("felt", "reduced", teaching=("shoes",)), "pulses felt, sensation reduced, taught: shoes"),
        (
            Drain("1", "bulb", 45, None, EIGHT, suction_restored=True),
            "drain 1 (bulb) 45 mL, suction restored",
        ),
    ],
)
def test_they_are_said_as_charts_do(value, said):
    assert str(value) == said


def test_a_time_of_the_repeated_hour_stays_the_one_that_was_meant():
    berlin = ZoneInfo("Europe/Berlin")
    once, again = (datetime(2026, 10, 25, 2, 30, tzinfo=berlin, fold=fold) for fold in (0, 1))
    kept = documents(Findings(drains=(Drain("1", "bulb", 5, once, again),)))
    (drain,) = parse_findings(kept).drains
    assert drain.emptied_at - drain.since == timedelta(hours=1)
