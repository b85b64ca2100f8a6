"""Escalation prompts: each has an entry that raises it and a near miss that doesn't, and none names a disease."""

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from found import FOUND
from hypothesis import given, settings
from hypothesis import strategies as st

from measure.days import moment_said, said
from measure.escalation.heard import STANDS
from measure.escalation.prompts import Prompt, prompts
from measure.escalation.sign_causes import ANSWERS
from measure.escalation.texts import CALLS, PROMPTS, Urgency
from measure.findings.findings import documents
from measure.findings.form import FindingError
from measure.record.entries import AnswerEntry, Event, FindingEntry, Kind, Side, Site, VisitEntry, What, WoundEntry
from measure.uncertainty import Quantity

NOON = datetime(2026, 3, 5, 12, tzinfo=UTC)
DAY = timedelta(days=1)


def wound(place="lower leg", kind=Kind.OTHER, *more):
    events = (Event(What.OPENED, NOON - 100 * DAY, "AB"), *more)
    return WoundEntry(1, "P014", 2, Site(Side.LEFT, place), kind, events)


SHIN, FOOT = wound(), wound("foot")


def visit(found, days=0.0, done=()):
    """Make a visit so many days before the newest one, at which something was done about some prompts."""
    at = NOON - days * DAY
    answers = tuple(AnswerEntry(reason, "told the provider on call", at + DAY / 24, "AB") for reason in done)
    entries = tuple(FindingEntry(name, value, at, "AB") for name, value in found.items())
    return VisitEntry(1, 1, at, "AB", "", at, findings=entries, answers=answers)


def told(*visits, of=SHIN, trend=None):
    return {prompt.reason: prompt for prompt in prompts(of, visits, trend)}


def signs(*yes, no=()):
    return {"signs": dict.fromkeys(yes, True) | dict.fromkeys(no, False)}


def closures(line):
    return {"closures": {"kind": "staples", "present": 6, "line": line}}


def foot(**more):
    return {"foot": more}


def drain(label="1", kind="bulb", **more):
    return {"drains": [{"label": label, "kind": kind} | more]}


def emptied(ml, days, hours, label="1"):
    """Return the reading of a drain, emptied so many days before the newest visit, over so many hours."""
    at = NOON - days * DAY
    times = {"since": (at - timedelta(hours=hours)).isoformat(), "emptied_at": at.isoformat()}
    return drain(label, output_ml=ml, **times)


@dataclass(frozen=True)
class Case:
    """Findings of visits a day apart, oldest first: those that raise a prompt, and those that nearly do."""

    reason: str
    raises: tuple[dict, ...]
    near: tuple[dict, ...]
    of: WoundEntry = SHIN


def daily(found):
    return [visit(each, days) for days, each in zip(range(len(found) - 1, -1, -1), found, strict=True)]


QUESTIONS = [Case(reason, (signs(sign),), (signs(no=[sign]),)) for reason, sign in ANSWERS.items()]
CASES = [
    *QUESTIONS,
    Case("redness-with-fever", (signs("spreading redness", "fever"),), (signs("fever") | {"skin": ["reddened"]},)),
    Case(
        "redness-with-fever",
        (signs("spreading redness"), signs("fever")),
        (signs("spreading redness"), signs("fever", no=["spreading redness"])),
    ),
    Case("cold-or-pale", (signs("cold or pale"),), (signs(no=["cold or pale"]),)),
    Case("cold-or-pale", (foot(temperature="alike"), foot(temperature="cold")), (foot(temperature="cold"),) * 2),
    Case("cold-or-pale", (foot(colour="usual"), foot(colour="pale")), (foot(colour="pale"), foot(colour="dusky"))),
    Case("cold-or-pale", (foot(colour="usual"), foot(colour="dusky")), (foot(colour="usual"), foot(colour="red"))),
    Case("pulses-lost", (foot(pulses="felt"), foot(pulses="not felt")), (foot(pulses="felt"), foot(pulses="heard"))),
    Case(
        "pulses-lost",
        (foot(pulses="heard"), foot(pulses="not checked"), foot(pulses="not felt")),
        (foot(pulses="not felt"), foot(pulses="not checked"), foot(pulses="not felt")),
    ),
    Case("no-pulses", (foot(pulses="not felt"),), (foot(pulses="not checked"),)),
    Case("no-pulses", (foot(pulses="not felt"), {}), (foot(pulses="not felt"), foot(pulses="felt"))),
    Case("line-separated", (closures("separated"),), (closures("gaping"),)),
    Case("line-separated", (closures("closed"), closures("separated")), (closures("separated"),) * 2),
    Case("pus", ({"exudate": {"amount": "small", "kind": "purulent"}},), ({"exudate": {"amount": "large"}},)),
    Case("pus", (signs("pus"),), ({"exudate": {"amount": "small", "kind": "seropurulent"}},)),
    Case("severe-pain", ({"pain": 7},), ({"pain": 6},)),
    Case("severe-pain", ({"pain": 3}, {"pain": 8}), ({"pain": 7}, {"pain": 8})),
    Case("foot-signs", (signs("warmth", "swelling"),), (signs("warmth", no=["swelling"]),), FOOT),
    Case("foot-signs", ({"skin": ["warm", "swollen"]},), ({"skin": ["swollen", "hard"]},), FOOT),
    Case("foot-signs", (foot(temperature="warmer") | signs("pus"),), (foot(temperature="warmer"),), FOOT),
    Case("several-signs", (signs("warmth", "swelling", "pus"),), (signs("warmth", "swelling"),)),
    Case("several-signs", ({"skin": ["warm", "hard", "reddened"]},), ({"skin": ["warm", "hard", "dry"]},)),
    Case(
        "drain-turned-bloody",
        (drain(appearance="serous"), drain(appearance="sanguineous")),
        (drain(appearance="serous"), drain(appearance="serosanguineous")),
    ),
    Case(
        "drain-turned-bloody",
        (drain(appearance="serous"), drain(), drain(appearance="sanguineous")),
        (drain(appearance="sanguineous"),) * 2,
    ),
    Case(
        "drain-turned-bloody",
        (drain(appearance="serous"), drain(appearance="sanguineous")),
        (drain("1", appearance="serous"), drain("2", appearance="sanguineous")),
    ),
    Case("drain-fluid", (drain(appearance="serous"), drain(appearance="bilious")), (drain(appearance="bilious"),) * 2),
    Case("drain-fluid", (drain(appearance="purulent"),), (drain(appearance="cloudy"),)),
    Case("drain-fluid", (drain(appearance="enteric"),), (drain(appearance="sanguineous"),)),
    Case("drain-suction", (drain(suction_restored=False),), (drain(),)),
    Case(
        "drain-suction",
        (drain(suction_restored=True), drain(suction_restored=False)),
        (drain(suction_restored=False), drain(suction_restored=True)),
    ),
    Case("drain-output-up", (emptied(50, 1, 24), emptied(100, 0, 24)), (emptied(50, 1, 24), emptied(99, 0, 24))),
    Case("drain-output-up", (emptied(25, 1, 12), emptied(60, 0.5, 12)), (emptied(2, 1, 24), emptied(6, 0, 24))),
    Case("drain-output-up", (emptied(50, 1, 24), emptied(50, 0, 8)), (emptied(50, 1, 24), emptied(20, 0, 8))),
    Case("drain-output-down", (emptied(100, 1, 24), emptied(25, 0, 24)), (emptied(100, 1, 24), emptied(26, 0, 24))),
    Case("drain-output-down", (emptied(100, 1, 24), emptied(0, 0, 24)), (emptied(9, 1, 24), emptied(0, 0, 24))),
    Case(
        "drain-output-down",
        (emptied(100, 1, 24), emptied(10, 0, 24)),
        (emptied(100, 1, 24), emptied(10, 0, 24, label="2")),
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.reason)
def test_a_prompt_is_raised_by_what_was_entered_and_not_by_nearly_that(case):
    assert case.reason in told(*daily(case.raises), of=case.of)
    assert case.reason not in told(*daily(case.near), of=case.of)


# The series


@dataclass(frozen=True)
class Changed:
    """How an area changed."""

    difference: float
    larger: bool | None
    source: str = "from the uncertainty of both measurements"


@dataclass(frozen=True)
class Measured:
    """A point of a series."""

    at: datetime
    area: Quantity


@dataclass(frozen=True)
class Step:
    """From one point to the next."""

    earlier: Measured
    later: Measured
    area: Changed


@dataclass(frozen=True)
class Reference:
    """A published figure."""

    source: str = "Sheehan, Diabetes Care 2003;26:1879-82"


@dataclass(frozen=True)
class Stalled:
    """Whether a wound is behind."""

    clearly: bool
    reason: str = "The area is 10 % smaller (± 5 points) in four weeks: less of a reduction than 53 %."
    reference: Reference | None = field(default_factory=Reference)

    def __bool__(self):
        return self.clearly


@dataclass(frozen=True)
class Trend:
    """As much of a trend as is needed here."""

    steps: tuple[Step, ...]
    stalled: Stalled = Stalled(clearly=False)


def step(before, after, *, larger):
    areas = [Quantity(value, "cm2", {}) for value in (before, after)]
    points = [Measured(at, area) for at, area in zip((NOON - 7 * DAY, NOON), areas, strict=True)]
    return Step(*points, Changed(after - before, larger))


def test_a_wound_that_grew_by_more_than_noise_is_told():
    grown = told(trend=Trend((step(4.5, 6.0, larger=True),)))["wound-growing"]
    assert f"the traced area is 6.00 cm², and was 4.50 cm² on {said(NOON - 7 * DAY)}" in grown.sentence
    assert grown.source == "smallest detectable change: from the uncertainty of both measurements"


@pytest.mark.parametrize(
    "trend",
    [
        Trend(()),
        Trend((step(4.5, 4.6, larger=False),)),
        Trend((step(4.5, 6.0, larger=None),)),
        Trend((step(6.0, 4.5, larger=True),)),
        Trend((step(4.5, 6.0, larger=True), step(6.0, 6.1, larger=False))),
    ],
)
def test_noise_and_a_smaller_wound_are_not_told(trend):
    assert told(trend=trend) == {}


def test_a_wound_behind_at_four_weeks_is_told_with_less_of_a_hurry():
    behind = told(trend=Trend((step(6.0, 5.9, larger=False),), Stalled(clearly=True)))["stalled"]
    assert behind.urgency is Urgency.SOON
    assert f"Measured on {moment_said(NOON)}: the area is 10 % smaller" in behind.sentence
    assert behind.source == "Sheehan, Diabetes Care 2003;26:1879-82"


def test_a_closed_wound_has_no_series_to_tell_of():
    healed = wound("lower leg", Kind.OTHER, Event(What.HEALED, NOON, "AB"))
    assert told(of=healed, trend=Trend((step(4.5, 6.0, larger=True),), Stalled(clearly=True))) == {}


def test_every_prompt_has_a_case():
    assert {case.reason for case in CASES} | {"wound-growing", "stalled"} == set(PROMPTS)


def test_times_are_said_as_people_do():
    local = NOON.astimezone()
    assert moment_said(NOON) == f"{local.day} March 2026 at {local.hour:02}:{local.minute:02}"


# What stands, and for how long


def test_nothing_entered_is_nothing_told():
    assert prompts(SHIN, ()) == ()
    assert prompts(SHIN, [visit({})]) == ()


def test_an_overdue_dressing_change_is_no_escalation():
    assert prompts(SHIN, [visit({"dressing": {"applied": "foam", "next_due": "2026-02-01"}})]) == ()


def test_an_answer_stands_for_a_week_unless_it_is_answered_anew():
    weeks = STANDS / DAY
    assert "fever" in told(visit(signs("fever"), weeks), visit({}))
    assert "fever" not in told(visit(signs("fever"), weeks + 0.1), visit({}))
    assert "fever" not in told(visit(signs("fever"), 2), visit(signs(no=["fever"])), visit({}, -1))


def test_what_was_done_about_it_at_an_earlier_visit_ends_a_prompt():
    fever = signs("fever")
    assert "fever" in told(visit(fever, 2), visit({}))
    assert "fever" not in told(visit(fever, 2, done=["fever"]), visit({}))
    assert "fever" in told(visit(fever, 2, done=["pus"]), visit({}))


def test_it_is_told_again_where_it_is_entered_again_or_at_the_visit_itself():
    fever = signs("fever")
    assert "fever" in told(visit(fever, 2, done=["fever"]), visit(fever))
    assert "fever" in told(visit(fever, done=["fever"]))


def test_what_was_done_about_two_together_ends_both():
    both = visit(signs("fever", "spreading redness"), 2, done=["redness-with-fever"])
    assert told(both, visit({})) == {}


def test_visits_may_come_in_any_order():
    visits = [visit(signs(no=["fever"])), visit(signs("fever"), 2)]
    assert prompts(SHIN, visits) == prompts(SHIN, visits[::-1]) == ()


def test_what_was_entered_and_when_is_said():
    fever = told(visit(signs("fever"), 2), visit({}))["fever"]
    assert fever.sentence == (
        f"Entered on {moment_said(NOON - 2 * DAY)}: the person has a fever or chills. "
        "Contact the provider today, per local policy."
    )
    assert fever.at == (NOON - 2 * DAY,)


def test_what_lasts_is_told_with_less_of_a_hurry_once_it_is_known():
    bone = signs("exposed bone")
    assert told(visit(bone))["exposed-bone"].urgency is Urgency.TODAY
    known = told(visit(bone, 20), visit(bone, 6), visit(bone))["exposed-bone"]
    assert known.urgency is Urgency.SOON
    assert f"(first on {said(NOON - 20 * DAY)})" in known.sentence
    again = told(visit(bone, 20), visit(signs(no=["exposed bone"]), 6), visit(bone))["exposed-bone"]
    assert again.urgency is Urgency.TODAY


def test_what_does_not_last_is_told_as_urgently_again():
    bleeding = told(visit(signs("bleeding"), 1), visit(signs("bleeding")))["bleeding"]
    assert bleeding.urgency is Urgency.NOW


def test_one_prompt_says_what_another_would_repeat():
    assert list(told(visit(signs("spreading redness", "fever")))) == ["redness-with-fever"]
    assert list(told(visit(signs("pus", "warmth", "new pain")), of=FOOT)) == ["foot-signs"]
    assert list(told(visit({"pain": 9} | signs("new pain")))) == ["severe-pain"]
    assert list(told(visit(foot(pulses="felt"), 1), visit(foot(pulses="not felt")))) == ["pulses-lost"]


def test_the_most_urgent_comes_first():
    trend = Trend((step(4.5, 6.0, larger=True),), Stalled(clearly=True))
    visits = [visit(signs("exposed bone"), 3), visit(signs("pus", "crepitus", "bleeding", "exposed bone"))]
    assert list(told(*visits, trend=trend)) == [
        "bleeding",
        "crackling",
        "pus",
        "wound-growing",
        "exposed-bone",
        "stalled",
    ]


def test_a_drain_is_compared_with_the_day_before_its_newest_reading():
    visits = [visit(emptied(400, 2, 24)), visit(emptied(50, 1, 24)), visit(emptied(100, 0, 24))]
    up = told(*visits)["drain-output-up"]
    assert "drain 1 gave 100 mL per 24 h, at least 2 times the 50 mL per 24 h of the day before." in up.sentence


def test_two_drains_make_one_prompt():
    both = [{"label": label, "kind": "bulb", "suction_restored": False} for label in ("1", "2")]
    (prompt,) = prompts(SHIN, [visit({"drains": both})])
    assert "suction of drain 1 was not" in prompt.sentence
    assert "suction of drain 2 was not" in prompt.sentence
    assert prompt.sentence.count("Contact the provider") == 1


def test_a_reading_of_an_unknown_start_is_compared_from_the_one_before():
    second = drain(output_ml=100, emptied_at=NOON.isoformat())
    assert "drain-output-up" in told(visit(emptied(50, 1, 24), 1), visit(second))
    assert "drain-output-up" not in told(visit(second))


def test_a_finding_in_another_form_is_a_sentence():
    with pytest.raises(FindingError, match="Pain is given as 'bad'"):
        prompts(SHIN, [visit({"pain": "bad"})])


# How they read

DISEASE = re.compile(
    r"infect|cellulit|osteomyel|sepsis|septic|isch[a]?em|gangren|necroti[sz]|dehisc|eviscer|abscess|h[a]?emorrh|"
    r"thrombo|fistul|compartment|biofilm|coloni[sz]|diagnos|critical",
    re.IGNORECASE,
)


@pytest.mark.parametrize("reason", PROMPTS)
def test_no_prompt_names_a_disease(reason):
    assert not DISEASE.search(PROMPTS[reason].sentence)


def test_the_pattern_of_diseases_finds_one():
    assert DISEASE.search("The wound is infected.")


def assert_reads_well(prompt: Prompt):
    assert prompt.sentence.endswith(CALLS[prompt.urgency])
    assert prompt.sentence.startswith(("Entered on ", "Measured on "))
    assert prompt.source
    assert not re.search(r"[{}]|None|nan|\bTrue\b|\.\.|  ", prompt.sentence)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.reason)
def test_each_says_what_was_entered_and_whom_to_tell(case):
    for prompt in told(*daily(case.raises), of=case.of).values():
        assert_reads_well(prompt)


@settings(deadline=None, max_examples=50)
@given(st.lists(FOUND, max_size=3), st.sampled_from([SHIN, FOOT]))
def test_whatever_was_found_is_told_in_whole_sentences_and_in_order(found, of):
    visits = [visit(documents(each), days) for days, each in enumerate(found)]
    shown = prompts(of, visits)
    for prompt in shown:
        assert_reads_well(prompt)
    places = [list(Urgency).index(prompt.urgency) for prompt in shown]
    assert places == sorted(places)
    assert len({prompt.reason for prompt in shown}) == len(shown)
