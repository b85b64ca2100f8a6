"""Cautions: each stands where it matters, not where nearly the same was entered, and says where it comes from."""

from datetime import UTC, datetime

import pytest

from measure.findings.cautions import CAUTIONS, cautions
from measure.findings.findings import Findings, parse_findings
from measure.record.entries import Event, Kind, Side, Site, What, WoundEntry

NOON = datetime(2026, 3, 5, 12, tzinfo=UTC)


def wound(kind=Kind.OTHER, place="lower leg"):
    return WoundEntry(1, "P014", 2, Site(Side.LEFT, place), kind, (Event(What.OPENED, NOON, "AB"),))


def reasons(found, of=None, earlier=None):
    told = cautions(parse_findings(found), of or wound(), earlier and parse_findings(earlier))
    return [caution.reason for caution in told]


def irrigation(device="", **more):
    return {"irrigation": {"solution": "saline", "device": device}, **more}


def closures(**more):
    return {"closures": {"kind": "staples", "present": 6, "order_recorded": True, "alternate": True} | more}


def culture(**more):
    good = dict.fromkeys(("ordered", "after_cleansing", "viable_tissue", "before_antibiotics"), True)
    return {"culture": good | more}


def drain(**more):
    return {
        "drains": [
            {"label": "1", "kind": "bulb", "output_ml": 20, "suction_restored": True}
            | {"since": "2026-03-05T06:00:00+00:00", "emptied_at": "2026-03-05T12:00:00+00:00"}
            | more
        ]
    }


def foot(**more):
    return {"foot": {"pulses": "felt", "sensation": "full", "teaching": ["offloading"]} | more}


TUNNEL = {"tunnels": [{"clock": 4, "length_cm": 2}]}
HOLLOW = {"undermining": [{"start": 4, "end": 5, "depth_cm": 2}]}
COMPRESSED = {"dressing": {"applied": "Compression bandage"}}

CASES = [
    ("irrigation-splash", irrigation(), None, {}, None),
    ("irrigation-pressure", irrigation("pouring"), None, irrigation("syringe 19 gauge"), None),
    ("irrigation-pressure", irrigation(""), None, irrigation("squeeze bottle"), None),
    ("irrigation-pressure-low", irrigation("bulb syringe"), None, irrigation("syringe 60 mL"), None),
    ("irrigation-tunnel", irrigation(**TUNNEL), None, irrigation(tunnels=[]), None),
    ("irrigation-tunnel", irrigation(**HOLLOW), None, HOLLOW, None),
    ("closures-order", closures(order_recorded=None), None, closures(), None),
    ("closures-order", closures(order_recorded=False), None, closures(kind="strips", order_recorded=False), None),
    ("closures-alternate", closures(alternate=None), None, closures(), None),
    ("closures-alternate", closures(alternate=False), None, closures(alternate=False, present=1), None),
    ("closures-alternate", closures(alternate=False), None, closures(alternate=False), closures(present=12, removed=6)),
    ("closures-stop", closures(), None, closures(present=0), None),
    ("closures-stop", closures(line="gaping"), None, closures(line="separated"), None),
    ("line-separated", closures(line="separated"), None, closures(line="gaping"), None),
    ("closures-count", closures(), closures(present=12, removed=5), closures(), closures(present=12, removed=6)),
    ("closures-count", closures(), closures(present=12), closures(), closures(kind="sutures", present=12)),
    ("culture-order", culture(ordered=None), None, culture(), None),
    ("culture-order", culture(ordered=False, taken=True), None, culture(taken=True), None),
    ("culture-antibiotics", culture(before_antibiotics=False), None, culture(), None),
    ("culture-cleansing", culture(after_cleansing=None), None, culture(ordered=False, after_cleansing=None), None),
    ("culture-tissue", culture(viable_tissue=False), None, culture(), None),
    ("foot-pulses", foot(pulses="not checked"), None, foot(), None),
    ("foot-pulses", foot(pulses=""), None, {}, None),
    ("foot-sensation", foot(sensation="reduced"), None, foot(sensation="not checked"), None),
    ("compression", COMPRESSED | foot(pulses="not felt"), None, COMPRESSED | foot(pulses="heard"), None),
    ("compression", COMPRESSED | foot(pulses="not felt"), None, foot(pulses="not felt"), None),
    ("packing", {"dressing": {"applied": "packing strip"}}, None, {"dressing": {"applied": "foam"}}, None),
    ("packing", TUNNEL | {"dressing": {"applied": "gauze"}}, None, TUNNEL, None),
    ("drain-suction", drain(suction_restored=None), None, drain(), None),
    ("drain-suction", drain(suction_restored=False), None, drain(kind="gravity", suction_restored=None), None),
    ("drain-since", drain(since=None), None, drain(), None),
    ("drain-since", drain(since=None), drain(label="2"), drain(since=None), drain()),
]


@pytest.mark.parametrize(("reason", "found", "earlier", "near", "near_earlier"), CASES)
def test_a_caution_stands_where_it_matters_and_not_nearly_there(reason, found, earlier, near, near_earlier):
    assert reason in reasons(found, earlier=earlier)
    assert reason not in reasons(near, earlier=near_earlier)


def test_offloading_is_for_diabetic_feet():
    of = wound(Kind.DIABETIC_FOOT, "foot")
    assert "foot-offloading" in reasons(foot(teaching=["shoes"]), of)
    assert "foot-offloading" not in reasons(foot(), of)
    assert "foot-offloading" not in reasons(foot(teaching=["shoes"]), wound(Kind.TRAUMATIC, "foot"))


def test_compression_on_an_arterial_ulcer_is_questioned_without_a_look_at_the_foot():
    assert "compression" in reasons(COMPRESSED, wound(Kind.ARTERIAL))
    assert "compression" not in reasons(COMPRESSED, wound(Kind.VENOUS_LEG))


def test_every_caution_has_a_case():
    assert {case[0] for case in CASES} | {"foot-offloading", "policy"} == set(CAUTIONS)


def test_where_nothing_matters_nothing_is_said():
    assert cautions(Findings(), wound()) == ()
    assert cautions(parse_findings(culture() | foot() | drain() | {"pain": 3}), wound()) == ()


def test_policy_comes_last_wherever_something_is_said():
    assert reasons(irrigation("syringe 19 gauge")) == ["irrigation-splash", "policy"]


def test_each_has_its_source_and_reads_to_its_end():
    found = irrigation("bulb syringe") | closures(alternate=None, order_recorded=None) | drain(since=None)
    for caution in cautions(parse_findings(found), wound(), parse_findings(closures(present=9))):
        assert caution.source
        assert caution.sentence.endswith(".")
        assert "{" not in caution.sentence


def test_the_pressure_and_where_it_comes_from():
    """AHCPR guideline 15 (1994): 4 to 15 psi; a 35 mL syringe with 19 gauge gives 8 psi; from memory."""
    _, pressure, _ = cautions(parse_findings(irrigation()), wound())
    assert "4 to 15 psi" in pressure.sentence
    assert "35 mL syringe with a 19-gauge catheter gives about 8 psi" in pressure.sentence
    assert "1994" in pressure.source
    assert "from memory" in pressure.source
