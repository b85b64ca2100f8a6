"""The demo's studies: what the traced one finds is what its hands do, and the other one waits for a visitor."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from conftest import DEMO_DAY
from shapely.geometry import Polygon

from measure.agreement.bias import rater_ratio
from measure.agreement.components import components
from measure.agreement.measurement_error import Kind, relative_change, relative_sdc
from measure.agreement.observations import codes
from measure.demo import study as demo_study
from measure.demo.filling import courses
from measure.demo.hand import Hand, drawn_by_hand
from measure.demo.study import HANDS, TRACED, VISITOR, WAITING, Edge, add_studies
from measure.record.store import open_record
from measure.study.turns import next_turn, order_of
from measure.study.values import study_observations

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")

DRAWN = 40
"""Tracings of a photo by a hand, by which the spread of the hands is known to some percent."""


@pytest.fixture
def studies(demo_record):
    """Return the studies of the small demo by their names."""
    return {study.name: study for study in demo_record.studies.all()}


def _true_outlines(record):
    """Return the true wound, in mm, of each photo that was measured, by its hash."""
    found = {}
    for course, wound in zip(courses(DEMO_DAY), record.wounds(), strict=True):
        for seen, visit in zip(course.visits, record.visits(wound.id), strict=True):
            if visit.measurement:
                found[visit.photos[-1].sha256] = seen.look.wound.polygon(np.random.default_rng(1))
    return found


def _drawn_often(record, study):
    """Return ln area of many tracings of each photo of the study by each hand, shape (photos, raters, DRAWN)."""
    random, outlines = np.random.default_rng(5), _true_outlines(record)
    edges = [10 * np.array(outlines[photo.sha256].exterior.coords[:-1]) for photo in study.plan.photos]
    areas = [
        [Polygon(drawn_by_hand(edge, 0.1, random, hand).exterior).area for _ in range(DRAWN)]
        for edge in edges
        for hand in HANDS.values()
    ]
    return np.log(areas).reshape(len(edges), len(HANDS), DRAWN)


def _known(logs):
    """Return the smallest detectable change of the hands: by any two of them, and by one."""
    squares = [(logs[:, one] - logs[:, other, ::-1]) ** 2 / 2 for one, other in combinations(range(len(HANDS)), 2)]
    return {
        Kind.AGREEMENT: relative_sdc(np.sqrt(np.mean(squares))),
        Kind.SAME_RATER: relative_sdc(np.sqrt(logs.var(axis=2, ddof=1).mean())),
    }


def _studies_of(logged, logs, count=250):
    """Return the components that many such studies by the same hands would find."""
    random = np.random.default_rng(6)
    photo, hand = codes(logged.subject, logged.subjects), codes(logged.rater, logged.raters)
    drawn = (logs[photo, hand, random.integers(DRAWN, size=len(photo))] for _ in range(count))
    return [components(replace(logged, value=values)) for values in drawn]


def test_the_study_finds_what_its_hands_do(demo_record, studies):
    """Within its interval, and within the middle 99 % of what studies by the same hands find.

    Errors are so many mm, and as a part of the area larger in small wounds: no formula tells how they scatter then.
    """
    logged = study_observations(studies[TRACED]).logged()
    assert tuple(logged.raters) == tuple(HANDS)
    logs = _drawn_often(demo_record, studies[TRACED])
    others = _studies_of(logged, logs)
    for kind, known in _known(logs).items():
        found = relative_change(components(logged), kind)
        assert found.low < known < found.high
        low, high = np.quantile([relative_change(other, kind).value for other in others], [0.005, 0.995])
        assert low < found.value < high


def test_each_rater_leans_as_its_hand_does(studies):
    by_rater = {each.rater: each.statistic.value for each in rater_ratio(study_observations(studies[TRACED]))}
    leans = sorted(HANDS, key=lambda rater: HANDS[rater].lean_mm)
    assert sorted(by_rater, key=by_rater.get) == leans
    assert by_rater[leans[0]] < 1 < by_rater[leans[-1]]


def test_every_photo_that_can_be_drawn_is_traced_by_all_in_their_turn(studies):
    study = studies[TRACED]
    assert len(study.plan.photos) == 7
    assert len(study.tracings) == study.plan.tracings == 7 * 3 * 2
    assert not study.plan.proposal
    for rater in study.plan.raters:
        assert next_turn(study, rater) is None
        for trial in (1, 2):
            traced = [each.photo for each in study.tracings if (each.rater, each.trial) == (rater, trial)]
            assert traced == order_of(study.plan, rater, trial)
    for each in study.tracings:
        assert each.by == each.rater == each.document["editing"]["by"]
        assert each.document["editing"]["proposed"] == []
        assert all(check["ok"] for check in each.document["checks"])
        assert 5 < each.seconds < 150


def test_a_visitor_can_trace_at_once(demo_record, studies):
    waiting = studies[WAITING]
    assert not waiting.done
    assert not waiting.closed
    assert f"--by {VISITOR} --data demo" in README
    turn = next_turn(waiting, VISITOR)
    assert (turn.trial, turn.place) == (1, 1)
    assert demo_record.photo_bytes(turn.photo.sha256)


def test_the_same_record_gives_the_same_tracings(demo_record, monkeypatch):
    monkeypatch.setattr(demo_study, "_PHOTOS", 1)
    visits = [each for wound in demo_record.wounds() for each in demo_record.visits(wound.id) if each.measurement]
    edges = {each.photos[-1].sha256: Edge(each.measurement.outline.outline.exterior, each.id) for each in visits}
    for _ in range(2):
        add_studies(demo_record, edges, lambda _: None)
    *_, one, waiting, again, waiting_again = demo_record.studies.all()
    for first, second in ((one, again), (waiting, waiting_again)):
        assert [photo.sha256 for photo in first.plan.photos] == [photo.sha256 for photo in second.plan.photos]
    assert len(one.tracings) == 3 * 2
    assert [(each.document, each.seconds) for each in one.tracings] == [
        (each.document, each.seconds) for each in again.tracings
    ]


def test_without_photos_there_is_no_study(tmp_path):
    with open_record(tmp_path) as record:
        add_studies(record, {}, lambda _: None)
        assert record.studies.all() == []


@pytest.mark.parametrize("way", [1, -1])
def test_a_hand_that_leans_out_draws_larger_whichever_way_round_the_edge_goes(way):
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)[::way]
    edge = 300 + 100 * np.column_stack([np.cos(angle), np.sin(angle)])
    for lean_mm in (-0.5, 0.5):
        outline = drawn_by_hand(edge, 0.1, np.random.default_rng(3), Hand(off_mm=0.0, lean_mm=lean_mm))
        away = np.linalg.norm(outline.exterior - 300, axis=1) - 100
        assert away == pytest.approx(10 * lean_mm, abs=0.1)  # px, rounded to tenths
