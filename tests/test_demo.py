"""The demo record: invented people whose visits hold what the trade would write down, whole and in order."""

import itertools
from datetime import date, timedelta

import numpy as np
import pytest
from conftest import DEMO_DAY
from shapely.geometry import Polygon

from measure.demo import DemoError, fill
from measure.demo.course import thinned
from measure.demo.filling import courses
from measure.demo.hand import drawn_by_hand
from measure.demo.photographing import scene_of
from measure.escalation.prompts import prompts
from measure.findings.findings import parse_findings
from measure.photo import read_photo
from measure.record.entries import Status
from measure.record.store import open_record

DAY = date(2026, 3, 20)


def _areas(course):
    """Return the true areas of the wounds that are measured, in mm2."""
    random = np.random.default_rng(1)  # the shape has a seed of its own
    return [seen.look.wound.polygon(random).area for seen in course.visits if seen.look and seen.look.measured]


def test_one_wound_heals_one_stands_still_one_grows():
    healing, stalled, worse = (_areas(course) for course in courses(DAY))
    assert healing == sorted(healing, reverse=True)
    assert healing[4] < 0.6 * healing[0]  # four weeks on it is on its way to heal: 40 % and more is gone
    assert max(stalled) / min(stalled) < 1.1
    assert worse == sorted(worse)
    assert worse[-1] > 5 * worse[0]


def test_visits_are_in_order_and_end_just_before_the_day():
    for course in courses(DAY):
        times = [seen.at for seen in course.visits]
        assert times == sorted(set(times))
        assert timedelta(0) < DAY - times[-1].date() <= timedelta(days=4)
        assert all(seen.at.utcoffset() is not None for seen in course.visits)


def test_a_story_with_fewer_photos_is_told_whole():
    for course in courses(DAY):
        told = thinned(course, 3)
        assert [seen.at for seen in told] == [seen.at for seen in course.visits]
        shown = [seen.at for seen in told if seen.look]
        every = [seen.at for seen in course.visits if seen.look]
        assert len(shown) == 3
        assert (shown[0], shown[-1]) == (every[0], every[-1])


def test_there_are_about_thirty_photos():
    assert sum(seen.look is not None for course in courses(DAY) for seen in course.visits) == 30


def test_the_same_day_shows_the_same_scenes_and_another_day_the_same_wounds():
    for course, again, later in zip(courses(DAY), courses(DAY), courses(DAY + timedelta(days=30)), strict=True):
        assert course == again
        seen, moved = course.visits[-1], later.visits[-1]
        assert moved.at.date() - seen.at.date() == timedelta(days=30)
        scene, other = (scene_of(each, last, last.look, 9, 1200) for each, last in ((course, seen), (later, moved)))
        assert scene_of(course, seen, seen.look, 9, 1200) == scene
        assert other.wound == scene.wound
        assert other.stickers[0].writing != scene.stickers[0].writing


def test_each_photo_is_taken_from_elsewhere():
    for course in courses(DAY):
        scenes = [scene_of(course, seen, seen.look, n, 1200) for n, seen in enumerate(course.visits) if seen.look]
        assert len({(scene.camera.tilt_deg, scene.light, scene.stickers[0].turn_deg) for scene in scenes}) == len(
            scenes
        )
        assert len({scene.stickers[0].layout for scene in scenes}) == len(course.layouts)


def test_staples_in_the_photo_are_those_that_were_counted():
    *_, abdomen = courses(DAY)
    counted = [(seen.findings.closures, seen.look.seam) for seen in abdomen.visits if seen.findings.closures]
    assert len(counted) == 8
    for closures, seam in counted:
        assert sum(seam.staples) == closures.remaining
    for (before, _), (after, _) in itertools.pairwise(counted):
        assert after.present == before.remaining


def test_output_of_the_drain_falls_and_comes_back():
    *_, abdomen = courses(DAY)
    drains = [drain for seen in abdomen.visits for drain in seen.findings.drains or ()]
    assert len(drains) == 21
    for before, after in itertools.pairwise(drains):
        assert after.since == before.emptied_at
    per_hour = [drain.output_ml / ((drain.emptied_at - drain.since).total_seconds() / 3600) for drain in drains[1:]]
    assert min(per_hour[7:12]) < 0.3 * per_hour[0]
    assert max(per_hour[12:]) > 3 * min(per_hour[7:12])


@pytest.mark.parametrize("seed", range(4))
def test_a_hand_draws_near_the_true_edge(seed):
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    edge = 300 + 100 * np.column_stack([np.cos(angle), 0.6 * np.sin(angle)])
    outline = Polygon(drawn_by_hand(edge, 0.1, np.random.default_rng(seed)).exterior)
    away = np.array([outline.exterior.distance(Polygon(edge).exterior.interpolate(s)) for s in range(0, 500, 5)])
    assert 0 < away.max() < 8  # px of 0.1 mm: four standard deviations of a hand
    assert outline.area == pytest.approx(Polygon(edge).area, rel=0.05)


def test_the_record_holds_three_people_one_of_them_healed(demo_record):
    assert demo_record.people() == ["P101", "P102", "P103"]
    statuses = [wound.status for wound in demo_record.wounds()]
    assert statuses == [Status.HEALED, Status.OPEN, Status.OPEN]
    assert demo_record.setting("units") == ["Foot clinic", "Leg clinic", "Ward 7"]


def test_each_visit_is_kept_with_its_findings(demo_record):
    for course, wound in zip(courses(DEMO_DAY), demo_record.wounds(), strict=True):
        visits = demo_record.visits(wound.id)
        assert [visit.at for visit in visits] == [seen.at for seen in course.visits]
        assert [parse_findings(visit.found) for visit in visits] == [seen.findings for seen in course.visits]


def test_photos_pass_their_checks_and_keep_the_proposal(demo_record):
    measured = 0
    for wound in demo_record.wounds():
        for visit in demo_record.visits(wound.id):
            if visit.measurement is None:
                continue
            measured += 1
            assert all(check["ok"] for check in visit.measurement.document["checks"])
            assert visit.measurement.outline.kind == "edited"
            assert {outline.kind for outline in visit.outlines} <= {"proposed", "edited"}
    assert measured == 7  # of nine photos two show closed skin: the healed leg, and the incision before it separated


def test_photos_carry_the_time_of_their_visit(demo_record):
    for wound in demo_record.wounds():
        for visit in demo_record.visits(wound.id):
            for entry in visit.photos:
                photo = read_photo(demo_record.photo_bytes(entry.sha256), "demo.jpg")
                assert photo.taken_at == visit.at


def test_numbers_are_near_the_truth(demo_record):
    for course, wound in zip(courses(DEMO_DAY), demo_record.wounds(), strict=True):
        for seen, visit in zip(course.visits, demo_record.visits(wound.id), strict=True):
            if visit.measurement:
                truth = seen.look.wound.polygon(np.random.default_rng(1)).area / 100
                area = visit.measurement.wound["area_cm2"]
                assert abs(area["value"] - truth) < 4 * area["standard_uncertainty"]


def test_prompts_of_the_incision_are_answered(demo_record):
    wound = demo_record.wound("P103/1")
    visits = demo_record.visits(wound.id)
    answered = [visit for visit in visits if visit.answers]
    told = [seen for seen in courses(DEMO_DAY)[2].visits if seen.told]
    assert [visit.at for visit in answered] == [seen.at for seen in told]
    for visit in answered:
        before = visits[: visits.index(visit) + 1]
        assert {answer.reason for answer in visit.answers} == {each.reason for each in prompts(wound, before)}


def test_a_record_that_holds_anyone_is_left_alone(demo_record):
    wound = demo_record.wounds()[0]
    before = len(demo_record.visits(wound.id))
    with pytest.raises(DemoError, match=r"holds 3 people already.*name a new folder") as refused:
        fill(demo_record, print, width_px=1200)
    assert refused.value.code == "record-not-empty"
    assert len(demo_record.visits(wound.id)) == before


class _BrokenOffError(Exception):
    pass


def test_what_is_broken_off_leaves_whole_visits(tmp_path):
    def stop(sentence):
        raise _BrokenOffError(sentence)

    with open_record(tmp_path) as record:
        with pytest.raises(_BrokenOffError, match="Photo 1 of 3: P101"):
            fill(record, stop, width_px=1200, today=DAY, photos=1)
        (visit,) = record.visits(record.wound("P101/1").id)
        assert visit.photos
        assert visit.measurement
        with pytest.raises(DemoError, match="holds 1 person already"):
            fill(record, stop, width_px=1200, today=DAY, photos=1)
