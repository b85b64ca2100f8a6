"""Which photos a study can draw from, and how it draws them: evenly, and the same again with the same seed."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from studied import photos as two_photos

from measure.record.entries import LEFT_OUT
from measure.record.photo_facts import PhotoFacts
from measure.record.study_entries import DrawnBy
from measure.study.candidates import NO_TONE, THIRDS, Candidate, candidates, thirds
from measure.study.drawing import draw, strata, with_proposals


def facts(visit, **changes):
    """Return what is known of a visit whose photo can be drawn."""
    given = {
        "visit": visit,
        "wound_key": f"P{visit}/1",
        "place": "heel",
        "left_out": False,
        "sha256": f"{visit:064x}",
        "source_sha256": f"{visit + 1000:064x}",
        "proposed": 1,
        "area_cm2": 4.0 + visit,
        "scale": "sticker",
        "ita_deg": 45.0,
    }
    return PhotoFacts(**(given | changes))


def candidate(number, wound=None, area_cm2=None, site="heel", tone="light"):
    return Candidate(number, f"{number:064x}", f"P{wound or number}/1", area_cm2 or float(number + 1), site, tone)


# ---------------------------------------------------------------- which can be drawn


def test_a_photo_of_one_measured_wound_beside_a_scale_can_be_drawn():
    found = candidates([facts(1), facts(2, scale="ruler", proposed=0, ita_deg=None)])
    assert found.left_out == {}
    assert [(each.visit, each.wound_key, each.area_cm2, each.site, each.tone) for each in found.photos] == [
        (1, "P1/1", 5.0, "heel", "light"),
        (2, "P2/1", 6.0, "heel", NO_TONE),
    ]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"left_out": True}, "left out of their series"),
        ({"sha256": "", "source_sha256": "", "area_cm2": None, "scale": ""}, "without a photo"),
        ({"area_cm2": None, "scale": ""}, "photo not measured"),
        ({"scale": "two points"}, "scale not from a sticker or ruler"),
        ({"proposed": 2}, "more than one wound in the photo, or proposed in it"),
    ],
)
def test_what_can_not_be_drawn_is_counted_under_its_reason(changes, reason):
    found = candidates([facts(1), facts(2, **changes)])
    assert ([each.visit for each in found.photos], found.left_out) == ([1], {reason: 1})


def test_a_photo_of_two_wounds_is_left_out_for_both():
    shared = facts(1).source_sha256
    found = candidates([facts(1), facts(2, source_sha256=shared), facts(3)])
    assert [each.visit for each in found.photos] == [3]
    assert found.left_out == {"more than one wound in the photo, or proposed in it": 2}


def test_of_two_visits_with_one_photo_of_a_wound_the_first_is_drawn():
    same = {"wound_key": "P1/1", "sha256": facts(1).sha256, "source_sha256": facts(1).source_sha256}
    found = candidates([facts(1), facts(2, **same)])
    assert ([each.visit for each in found.photos], sum(found.left_out.values())) == ([1], 1)


def test_the_record_tells_what_a_draw_has_to_know(record):
    two_photos(record)
    wound = record.wound("P1/1")
    visit = record.visits(wound.id)[0]
    before = record.studies.facts_stand()
    assert [(each.wound_key, each.place, each.area_cm2, each.proposed, each.left_out) for each in facts_of(record)] == [
        ("P1/1", "heel", 16.0, 1, False),
        ("P2/1", "heel", 16.0, 1, False),
    ]
    assert {each.sha256 for each in facts_of(record)} == {
        photo.sha256 for key in ("P1/1", "P2/1") for photo in record.visits(record.wound(key).id)[0].photos
    }
    document = {
        "calibration": {"source": "sticker"},
        "wounds": [{"area_cm2": {"value": 9.5}, "redness": {"control": {"ita_deg": 33.5}}}],
    }
    record.add_measurement(visit.id, visit.outlines[1].outline, document, "CD", convention="longest-perpendicular")
    measured = record.studies.facts_stand()
    (newest, _) = facts_of(record)
    assert (newest.area_cm2, newest.scale, newest.ita_deg) == (9.5, "sticker", 33.5)
    record.add_findings(visit.id, {LEFT_OUT: "wrong wound"}, "AB")
    assert [each.left_out for each in facts_of(record)] == [True, False]
    assert len({before, measured, record.studies.facts_stand()}) == 3


def facts_of(record):
    return record.studies.photo_facts()


# ---------------------------------------------------------------- drawing

POOLS = st.lists(
    st.tuples(st.integers(1, 8), st.floats(0.5, 80), st.sampled_from(["heel", "shin", "toe"]), st.sampled_from("ab")),
    min_size=1,
    max_size=25,
).map(lambda rows: [candidate(number, *row) for number, row in enumerate(rows)])


@given(POOLS, st.integers(1, 30), st.sampled_from(DrawnBy), st.integers(0, 999))
def test_a_draw_holds_each_photo_once_whatever_order_they_stand_in(pool, count, drawn_by, seed):
    drawn = draw(pool, count, drawn_by, seed)
    assert [photo.number for photo in drawn] == list(range(1, min(count, len(pool)) + 1))
    assert len({photo.sha256 for photo in drawn}) == len(drawn)
    again = draw(pool[::-1], count, drawn_by, seed)
    assert [photo.sha256 for photo in again] == [photo.sha256 for photo in drawn]
    assert {photo.stratum for photo in drawn} <= set(strata(pool, drawn_by).values())


@given(POOLS, st.integers(1, 30), st.sampled_from([DrawnBy.SIZE, DrawnBy.SITE, DrawnBy.TONE]), st.integers(0, 999))
def test_groups_give_as_many_as_each_other_as_far_as_they_go(pool, count, drawn_by, seed):
    have = Counter(strata(pool, drawn_by).values())
    drawn = Counter(photo.stratum for photo in draw(pool, count, drawn_by, seed))
    most = max(drawn.values())
    assert all(drawn[group] >= min(have[group], most - 1) for group in have)


@given(POOLS, st.integers(0, 999))
def test_no_wound_is_drawn_twice_while_another_is_left(pool, seed):
    wounds = {photo.wound_key for photo in pool}
    drawn = draw(pool, len(wounds), DrawnBy.RANDOM, seed)
    assert {photo.wound_key for photo in drawn} == wounds


def test_every_photo_has_the_same_chance():
    """Of 4 in 12 photos each is drawn in a third of 600 draws: within 4 standard deviations of a binomial, 46."""
    pool = [candidate(number) for number in range(12)]
    times = Counter(photo.sha256 for seed in range(600) for photo in draw(pool, 4, DrawnBy.RANDOM, seed))
    assert len(times) == 12
    assert all(abs(count - 200) < 46 for count in times.values())


def test_a_rare_tone_is_drawn_as_often_as_a_frequent_one():
    pool = [candidate(number, tone="light") for number in range(20)] + [candidate(30, tone="dark")]
    pool += [candidate(31, tone=NO_TONE), candidate(32, tone=NO_TONE)]
    drawn = Counter(photo.stratum for photo in draw(pool, 6, DrawnBy.TONE, 3))
    assert drawn == {"light": 3, "dark": 1, NO_TONE: 2}


def test_thirds_are_by_rank():
    pool = [candidate(number, area_cm2=area) for number, area in enumerate((9.0, 1.0, 2.0, 8.0, 3.0, 100.0))]
    of = thirds(pool)
    assert [of[photo.sha256] for photo in pool] == [THIRDS[each] for each in (2, 0, 0, 1, 1, 2)]


def test_what_was_proposed_at_the_visit_goes_with_the_photo(record):
    two_photos(record)
    visit = record.visits(record.wound("P1/1").id)[0]
    pool = [Candidate(visit.id, visit.photos[0].sha256, "P1/1", 16.0, "heel", "light")]
    (photo,) = with_proposals(draw(pool, 1, DrawnBy.RANDOM, 1), pool, record.visit)
    assert photo.proposal.exterior.tolist() == visit.outlines[0].outline.exterior.tolist()
    assert photo.method == "by-colour 1"
