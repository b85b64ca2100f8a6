"""The questions of bedside findings opened by Streamlit's own tester: what is tapped is what is recorded."""

import json
from datetime import UTC, datetime, time
from pathlib import Path
from urllib.parse import unquote

import pytest
from bedside import AT, EARLIER, KEY, wound_at
from streamlit.testing.v1 import AppTest

from measure.findings.cautions import CAUTIONS
from measure.findings.drains import Drain
from measure.findings.findings import NAMES, Findings, parse_findings
from measure.findings.form import FindingError
from measure.findings.signs import SIGNS
from measure.findings.sizes import Tunnel, Undermining
from measure.pages.findings_cautions import BELONGING
from measure.pages.findings_dial import dial
from measure.pages.findings_drains import totals
from measure.pages.findings_groups import GROUPS
from measure.pages.findings_moment import time_of
from measure.pages.findings_signs import asked_of

PAGE = Path(__file__).parent / "bedside.py"


class Nurse:
    """A nurse at the page."""

    def __init__(self, **address):
        """Open the page; ``wound`` and ``first`` as in `bedside`."""
        self.page = AppTest.from_file(str(PAGE), default_timeout=60)
        for name, value in address.items():
            self.page.query_params[name] = value
        self.run()

    def run(self):
        """Draw the page."""
        self.page.run()
        assert not self.page.exception
        return self

    def answer(self, **answers):
        """Answer questions by name, ``__`` for a dash; those that others bring up are answered after these."""
        left = {name.replace("__", "-"): value for name, value in answers.items()}
        while left:
            asked = [name for name in left if self.control(name)]
            assert asked, f"nobody asks for {', '.join(left)}"
            for name in asked:
                self.control(name).set_value(left.pop(name))
            self.run()
        return self

    def control(self, name):
        """Find a control by the name of what it asks; None where it isn't asked."""
        key = f"finding-{KEY}:{name}"
        kinds = ("pills", "segmented_control", "number_input", "text_input", "checkbox", "date_input")
        found = [control for kind in kinds for control in getattr(self.page, kind) if control.key == key]
        return found[0] if found else None

    def press(self, label):
        """Press a button."""
        next(button for button in self.page.button if button.label.startswith(label)).click()
        return self.run()

    @property
    def said(self):
        """What would be recorded."""
        return json.loads(self.page.code[0].value)

    @property
    def troubles(self):
        """What can't be recorded."""
        return json.loads(self.page.code[1].value)

    @property
    def groups(self):
        """What the labels of groups say, by their titles."""
        labels = [group.label.replace("*", "").replace("\\", "") for group in self.page.expander]
        return dict(label.split(": ", 1) for label in labels)

    @property
    def told(self):
        """Whatever sentences stand on the page."""
        kinds = (self.page.error, self.page.warning, self.page.caption, self.page.info, self.page.markdown)
        return " ".join(element.value for kind in kinds for element in kind).replace("\\", "")


@pytest.fixture
def foot():
    return Nurse(wound="foot")


@pytest.fixture
def abdomen():
    return Nurse(wound="abdomen")


def test_nothing_is_answered_before_a_person_does(foot):
    assert foot.said == {}
    assert foot.troubles == []
    assert set(foot.groups.values()) == {"not said"}
    assert not foot.page.error
    assert not foot.page.warning


def test_each_name_of_a_finding_is_asked_once():
    assert sorted(name for group in GROUPS for name in group.said) == sorted(NAMES)


def test_a_tap_is_recorded_and_stands_on_the_label(foot):
    foot.answer(exudate__amount="moderate", exudate__kind="serous", odour="none", pain__rating=0)
    assert foot.said == {"exudate": {"amount": "moderate", "kind": "serous"}, "odour": "none", "pain": 0}
    assert foot.groups["Exudate"] == "moderate, serous"
    assert foot.groups["Pain"] == "0 of 10"
    assert "A quarter to three quarters of the dressing are wet." in foot.told


def test_a_kind_of_exudate_alone_is_not_kept_and_says_so(foot):
    foot.answer(exudate__kind="serous")
    assert foot.said == {}
    assert foot.troubles == ["The kind of exudate is not kept yet: still missing how much."]
    assert foot.groups["Exudate"] == "not complete"
    foot.answer(exudate__amount="none")
    assert foot.said == {"exudate": {"amount": "none", "kind": ""}}


def test_several_words_hold_of_the_edge_and_the_skin(foot):
    foot.answer(edges=["rolled", "attached"], skin=["healthy", "warm"])
    assert foot.said == {"edges": ["attached", "rolled"]}
    assert "said to be healthy and warm: take one of the two away" in foot.told


def test_undermining_wraps_past_twelve(foot):
    row = "undermining-0-"
    foot.answer(undermining=True)
    assert foot.groups["Below the surface"] == "not complete"
    foot.answer(**{f"{row}start-hour": 11, f"{row}end-hour": 2, f"{row}deepest": 1.5})
    assert foot.said["undermining"] == [{"start": 11, "end": 2, "depth_cm": 1.5, "all_round": False}]
    assert foot.groups["Below the surface"] == "undermining 11 to 2 o'clock, deepest 1.5 cm"
    assert "12 o'clock is towards the heel" in foot.told


def test_entries_are_added_and_removed(foot):
    foot.answer(undermining=False, tunnel=True, **{"tunnel-0-at-hour": 4, "tunnel-0-long": 2.0})
    foot.press("Add another tunnel").answer(**{"tunnel-1-at-hour": 8, "tunnel-1-long": 1.0})
    assert [tunnel["clock"] for tunnel in foot.said["tunnels"]] == [4, 8]
    assert foot.said["undermining"] == []
    foot.press("Remove tunnel 1")
    assert foot.said["tunnels"] == [{"clock": 8, "length_cm": 1.0}]


def test_all_round_needs_one_hour_alone(foot):
    row = "undermining-0-"
    foot.answer(undermining=True, **{f"{row}round": True, f"{row}start-hour": 3, f"{row}deepest": 0.5})
    assert foot.said["undermining"] == [{"start": 3, "end": 3, "depth_cm": 0.5, "all_round": True}]


def test_a_value_outside_its_limits_is_answered_with_a_sentence_and_not_kept(foot):
    foot.answer(depth=31.0)
    sentence = "The depth is given as 31.0; give a number from 0 to 30 cm."
    assert foot.page.error[0].value.replace("\\", "") == sentence
    assert foot.troubles == [sentence]
    assert foot.said == {}
    assert not foot.answer(depth=3.0).page.error


def test_who_took_a_ruler_can_say_so_and_nobody_else_is_asked(foot):
    assert "Size by ruler" not in foot.groups
    foot.press("Also record: size by ruler").answer(**{"ruler-length": 3.2})
    assert foot.groups["Size by ruler"] == "length 3.2 cm"
    foot.answer(**{"ruler-width": 0.0})
    assert foot.troubles == ["The width by ruler is given as 0.0; give more than 0 and at most 60 cm."]
    foot.answer(**{"ruler-width": 2.1})
    assert foot.said == {"ruler_length_cm": 3.2, "ruler_width_cm": 2.1}
    assert foot.groups["Size by ruler"] == "3.2 x 2.1 cm"


def test_signs_are_questions_and_only_answers_are_kept(foot):
    foot.answer(**{"sign-pus": True, "sign-fever": False})
    assert foot.said == {"signs": {"pus": True, "fever": False}}
    assert foot.groups["Signs to act on"] == "yes: pus; no: 1"


def test_signs_of_limbs_are_asked_of_limbs_alone():
    limb = {name for name, sign in SIGNS.items() if sign.of_limb}
    assert limb
    assert set(asked_of(wound_at("foot"))) == set(SIGNS)
    assert set(asked_of(wound_at("back"))) == set(SIGNS) - limb


@pytest.mark.parametrize(
    ("place", "shown"), [("foot", {"Foot and teaching"}), ("abdomen", {"Closures"}), ("back", set())]
)
def test_closures_and_the_foot_are_asked_where_they_belong(place, shown):
    nurse = Nurse(wound=place)
    assert set(nurse.groups) & {"Foot and teaching", "Closures"} == shown


def test_closures_can_be_opened_for_any_wound(foot):
    foot.press("Also record: closures")
    assert foot.groups["Closures"] == "not said"


def test_closures_are_counted_and_cautions_stand_below(abdomen):
    abdomen.answer(**{"closures-kind": "staples", "closures-present": 12, "closures-removed": 6})
    assert abdomen.groups["Closures"] == "6 of 12 staples removed"
    assert "Stop and call the provider if the line separates." in abdomen.told
    assert "Follow your facility's policy" in abdomen.told
    abdomen.answer(**{"closures-removed": 13})
    assert "13 staples were removed, and 12 were there before: count again." in abdomen.told
    assert "closures" not in abdomen.said


def test_every_caution_has_its_place():
    assert {BELONGING.get(reason.partition("-")[0]) for reason in CAUTIONS if reason != "policy"} <= set(NAMES)


def test_a_drain_of_last_time_is_offered_with_its_name_and_tells_a_day(abdomen):
    """60 mL in the 12 h before 02:30, then 30 mL in 12 h: 90 mL in the last 24."""
    abdomen.answer(drains=True)
    assert abdomen.control("drains-0-label").value == "1"
    assert abdomen.control("drains-0-kind").value == "bulb"
    abdomen.answer(**{"drains-0-output": 30.0})
    assert "What it gave is not kept yet: still missing when it was emptied." in abdomen.told
    abdomen.press("Emptied just now").press("As recorded:")
    drain = parse_findings(abdomen.said).drains[0]
    assert drain == Drain("1", "bulb", 30.0, EARLIER.drains[0].emptied_at, AT)
    assert "90 mL per 24 h, from 24.0 of the last 24 h" in abdomen.told
    assert CAUTIONS["drain-suction"].sentence.format(label="1", kind="bulb") in abdomen.told


def test_a_drain_read_for_the_first_time_tells_no_day():
    drain = Drain("2", "bulb", 30.0, None, AT)
    assert totals(drain, (EARLIER,)) == ()


def test_drains_are_added_with_names_of_their_own_and_removed(abdomen):
    abdomen.answer(drains=True).press("Add another drain").answer(**{"drains-1-kind": "gravity"})
    assert [drain["label"] for drain in abdomen.said["drains"]] == ["1", "2"]
    abdomen.answer(**{"drains-1-label": "1"})
    assert abdomen.troubles == ["Two drains are labelled 1: give each a label of its own."]
    assert abdomen.troubles[0] in abdomen.told
    abdomen.press("Remove this drain").press("Remove this drain")
    assert abdomen.groups["Drains"] == "not said"
    assert abdomen.troubles == []


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("6:30", time(6, 30)),
        ("1830", time(18, 30)),
        ("18.05", time(18, 5)),
        ("6 pm", time(18)),
        ("12 am", time(0)),
        ("12:15 pm", time(12, 15)),
        ("7", time(7)),
    ],
)
def test_a_time_is_read_as_people_write_it(written, meant):
    assert time_of(written) == meant


@pytest.mark.parametrize("written", ["24:00", "6:75", "13 pm", "0 am", "noon", "-1", "18:300"])
def test_what_is_no_time_is_refused_in_a_sentence(written):
    with pytest.raises(FindingError, match=r"can't be read: write it as 6:30 or 18:30"):
        time_of(written)


def test_irrigation_culture_and_foot(foot):
    foot.answer(**{"irrigation-volume": 250.0})
    assert foot.troubles == ["The irrigation is not kept yet: still missing with what."]
    foot.answer(**{"irrigation-solution": "saline", "irrigation-device": "syringe 19 gauge"})
    assert "That gives about 8 psi." in foot.told
    assert "protect your eyes and face" in foot.told
    foot.answer(**{"culture-ordered": True, "foot-pulses": "felt", "foot-teaching": ["offloading"]})
    assert foot.said["culture"]["ordered"] is True
    assert foot.said["foot"]["teaching"] == ["offloading"]
    assert foot.groups["Culture"] == "ordered"
    assert foot.groups["Irrigation"] == "250 mL saline, 35 mL syringe, 19 gauge"


def test_a_dressing_has_layers_words_of_ones_own_and_a_day(foot):
    foot.answer(**{"dressing-applied": ["foam", "silver"], "dressing-applied-other": "my *own* pad"})
    foot.answer(**{"dressing-technique": "clean", "dressing-due": datetime(2026, 3, 7, tzinfo=UTC).date()})
    dressing = foot.said["dressing"]
    assert dressing["applied"] == "foam + silver dressing + my *own* pad"
    assert dressing["next_due"] == "2026-03-07"
    foot.answer(**{"dressing-due-other": True, "dressing-due-other-day": datetime(2026, 4, 1, tzinfo=UTC).date()})
    assert foot.said["dressing"]["next_due"] == "2026-04-01"


# Last time


def test_last_time_is_taken_over_by_a_tap_alone_and_marked(foot):
    assert foot.said == {}
    foot.press("Same as last time")
    assert set(foot.said) == {"exudate", "edges", "skin", "dressing"}
    assert foot.groups["Exudate"] == "moderate, serous (as last time)"
    assert "Taken over from last time: exudate, edges, surrounding skin, dressing. Check each." in foot.told
    assert foot.said["dressing"] == {
        "removed": "alginate + my own pad",
        "applied": "alginate + my own pad",
        "technique": "clean",
        "next_due": None,
    }


def test_what_is_changed_is_marked_no_longer_and_what_was_said_before_stays(foot):
    foot.answer(exudate__amount="large").press("Same as last time")
    assert foot.said["exudate"]["amount"] == "large"
    foot.answer(edges=["rolled"])
    assert foot.groups["Edges"] == "rolled (epibole)"
    assert "surrounding skin, dressing. Check each." in foot.told
    foot.press("Take that back")
    assert set(foot.said) == {"exudate", "edges"}


def test_at_a_first_visit_there_is_nothing_to_take_over():
    nurse = Nurse(wound="foot", first="1")
    assert not [button for button in nurse.page.button if button.label.startswith("Same")]


# Keeping, forgetting, showing


def test_answers_outlive_their_controls_and_are_forgotten_when_told(foot):
    foot.answer(exudate__amount="small", tunnel=True, **{"tunnel-0-at-hour": 4, "tunnel-0-long": 2.0})
    before = foot.said
    assert foot.answer(tunnel=False).said["tunnels"] == []
    assert foot.answer(tunnel=True).said == before
    foot.press("Forget")
    assert foot.said == {}
    assert set(foot.groups.values()) == {"not said"}


def _shown(findings, place):
    def script(findings, wound):
        from measure.pages.findings_shown import show_findings

        show_findings(findings, wound)

    page = AppTest.from_function(script, default_timeout=60, args=(findings, wound_at(place))).run()
    assert not page.exception
    return page.markdown[0].value if page.markdown else "", [caption.value for caption in page.caption]


def test_a_past_visit_shows_what_was_said_and_quietly_what_was_not():
    said, quiet = _shown(EARLIER, "foot")
    assert "**Exudate:** moderate, serous" in said
    assert "**Pain:** 4 of 10" in said
    assert quiet == ["Not said: signs to act on, culture, irrigation, foot and teaching."]


def test_a_past_visit_without_findings_shows_but_one_line():
    said, quiet = _shown(Findings(), "back")
    assert said == ""
    assert len(quiet) == 1


def test_a_past_visit_names_signs_that_nobody_answered():
    _, quiet = _shown(Findings(signs=dict.fromkeys(SIGNS, False) | {"pus": True}), "foot")
    assert not [line for line in quiet if line.startswith("Signs not answered")]
    _, quiet = _shown(Findings(signs={"pus": True}), "foot")
    assert "fever" in quiet[-1]
    assert "pus" not in quiet[-1]


def test_the_clock_is_said_as_well_as_drawn():
    drawn = dial((Undermining(11, 2, 1.5),), (Tunnel(4, 2.0),), wound_at("foot").site)
    assert "undermining 11 to 2 o'clock, deepest 1.5 cm; tunnel at 4 o'clock, 2 cm" in drawn.replace("&#x27;", "'")
    picture = unquote(drawn)
    assert ">heel</text>" in picture
    assert "{" not in picture
    assert picture.count('class="undermining"') == picture.count('class="tunnel"') == 1
