"""The demo's studies: what the traced one finds is what its hands do, and the other one waits for a visitor."""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from conftest import DEMO_DAY
from shapely.geometry import Polygon

from measure.agreement.bias import rater_bias
from measure.agreement.components import components
from measure.agreement.measurement_error import Kind, relative_change, relative_sdc
from measure.demo import study as demo_study
from measure.demo.filling import courses
from measure.demo.hand import Hand, drawn_by_hand
from measure.demo.study import HANDS, TRACED, VISITOR, WAITING, Edge, add_studies
from measure.record.store import open_record
from measure.study.turns import next_turn, order_of
from measure.study.values import study_observations

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")

DRAWN = 60
"""Tracings of a photo by each hand: the spread of so many and of seven photos is known to 3 %."""


@pytest.fixture
def studies(demo_record):
    """Return the studies of the small demo by their names."""
    return {study.name: study for study in demo_record.studies.all()}


@pytest.fixture(scope="module")
def drawn_often():
    """Return ln(area / true area) of many tracings of the small demo's wounds, shape (photos, raters, DRAWN)."""
    return 0


def _edges(record):
    """Return the edges of the photos that were measured, as the visits have them."""
    visits = [visit for wound in record.wounds() for visit in record.visits(wound.id) if visit.measurement]
    return {each.photos[-1].sha256: Edge(each.measurement.outline.outline.exterior, each.id) for each in visits}


def _true_outlines(record):
    """Return the wounds in the photos that were measured, in mm."""
    for course, wound in zip(courses(DEMO_DAY), record.wounds(), strict=True):
        for seen, visit in zip(course.visits, record.visits(wound.id), strict=True):
            if visit.measurement:
                yield seen.look.wound.polygon(np.random.default_rng(1))


def _logs(outline, hand):
    """Return ln(area / true area) of many tracings of a wound by a hand."""
    random, edge = np.random.default_rng(5), 10 * np.array(outline.exterior.coords[:-1])
    areas = [Polygon(drawn_by_hand(edge, 0.1, random, hand).exterior).area / 100 for _ in range(DRAWN)]
    return np.log(np.array(areas) / outline.area)


def test_x(demo_record, studies):
    logs = np.array([[_logs(o, h) for h in HANDS.values()] for o in _true_outlines(demo_record)])
    print(logs.shape, logs.mean(2).round(3), logs.std(2).round(3))
    between = np.sqrt(np.mean([(logs[:, a] - logs[:, b]) ** 2 for a, b in combinations(range(3), 2)]) / 2)
    same = np.sqrt(logs.var(axis=2, ddof=1).mean())
    logged = study_observations(studies[TRACED]).logged()
    found = components(logged)
    print(found)
    for kind, known in ((Kind.AGREEMENT, between), (Kind.SAME_RATER, same)):
        s = relative_change(found, kind); print(kind, relative_sdc(known), s.value, s.low, s.high)
    print(rater_bias(logged)); lm = logs.mean(axis=(0, 2)); print(1.5 * (lm - lm.mean()))
    for p in studies[TRACED].plan.photos: print(p.wound_key,p.area_cm2,[round(float(np.log(t.wound["area_cm2"]["value"]/p.area_cm2)),3) for t in studies[TRACED].tracings if t.photo==p.number])
