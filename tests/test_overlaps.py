"""Outlines in millimetres against closed forms and against masks of the same outlines."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from shapely.affinity import rotate, scale, translate
from shapely.geometry import MultiPolygon, Polygon, box

from measure import overlap as masks
from measure.agreement.bootstrap import DRAWS
from measure.agreement.errors import AgreementError
from measure.agreement.overlaps import (
    SEED,
    STEP_MM,
    TOLERANCE_MM,
    Overlap,
    Traced,
    consensus,
    edge_distances,
    overlap,
    overlaps,
    summary,
)
from measure.outline import from_polygon

SQUARE = box(0, 0, 10, 10)


def circle(radius, x=0.0, y=0.0, points=720, holes=()):
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return Polygon(np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)]), holes)


def blob(seed, points=60):
    """Return an uneven outline about 30 mm across."""
    random = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    waves = sum(random.normal(0, 1) / k * np.cos(k * angle + random.uniform(0, 6)) for k in range(1, 6))
    radius = 15 * np.exp(0.15 * waves)
    return Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))


def traced(outline, rater="A", photo="photo 01", trial="1"):
    return Traced(photo, rater, trial, outline)


def compared(one, other):
    return overlap(traced(one), traced(other, "B"))


def test_circles_round_the_same_centre():
    """Radii r and R: Dice 2 r2 / (r2 + R2), IoU r2 / R2, and R - r everywhere."""
    both = compared(circle(10), circle(13))
    assert both.dice == pytest.approx(2 * 100 / 269)
    assert both.iou == pytest.approx(100 / 169)
    assert both.distance_mm == pytest.approx(3, abs=TOLERANCE_MM)
    assert both.hausdorff95_mm == pytest.approx(3, abs=TOLERANCE_MM)


def test_a_square_moved_sideways():
    """Side a, moved by d < a / 2: Dice 1 - d / a, IoU (a - d) / (a + d).

    The near and the far side lie d from the other edge, bar what lies nearer to top or bottom, and so do d of top and
    bottom each: half of d on average. The far side's middle lies d from the other square's far side.
    """
    both = compared(SQUARE, translate(SQUARE, 2))
    assert both.dice == pytest.approx(0.8)
    assert both.iou == pytest.approx(8 / 12)
    outer = 10 * 2  # x = 0: the other square's near side is 2 mm away everywhere
    inner = 2 * (2 * 2 / 2) + (10 - 2 * 2) * 2  # x = 10: from 0 at the corners to 2, within 2 mm of them, then 2
    ends = 2 * (2 * 2 / 2)  # of top and bottom: 2 mm that lie outside the other square
    assert both.distance_mm == pytest.approx((outer + inner + ends) / 40, abs=1e-3)
    assert both.hausdorff95_mm == pytest.approx(2)


def test_hausdorff_of_95_of_100_leaves_a_spike_out():
    """A spike on a side that is less than 5 % of the edge."""
    spiked = Polygon([(0, 0), (100, 0), (100, 49.9), (103, 50), (100, 50.1), (100, 100), (0, 100)])
    both = compared(box(0, 0, 100, 100), spiked)
    assert both.hausdorff95_mm < 0.1
    assert edge_distances(traced(spiked), traced(box(0, 0, 100, 100), "B")).max() == pytest.approx(3, abs=STEP_MM)


def test_islands_have_edges_too():
    plain, island = circle(20), circle(20, holes=[circle(5).exterior.coords])
    both = compared(plain, island)
    assert both.iou == pytest.approx(375 / 400)
    assert both.distance_mm == pytest.approx(15 * 5 / 45, abs=0.02)  # 5 of 20 + 20 + 5 parts of the edges lie 15 mm off


@pytest.mark.parametrize("seed", range(4))
def test_masks_of_the_same_outlines_agree_to_a_pixel(seed):
    """As `measure.overlap` counts them, 20 pixels a mm."""
    per_mm = 20
    one, other = blob(seed), translate(blob(seed + 50), 1.5, -1)
    drawn = [from_polygon(scale(translate(each, 30, 30), per_mm, per_mm, origin=(0, 0))) for each in (one, other)]
    counted = masks.compare(*(masks.mask_of([each], 60 * per_mm, 60 * per_mm) for each in drawn), mm_per_px=1 / per_mm)
    both = compared(one, other)
    assert both.dice == pytest.approx(counted.dice, abs=2e-3)
    assert both.iou == pytest.approx(counted.iou, abs=2e-3)
    assert both.distance_mm == pytest.approx(counted.distance_mm, abs=1 / per_mm)
    assert both.hausdorff95_mm == pytest.approx(counted.hausdorff95_mm, abs=2 / per_mm)


@settings(max_examples=20)
@given(st.integers(0, 10**6), st.integers(0, 10**6), st.floats(0, 360), st.floats(-50, 50))
def test_the_comparison_is_symmetric_and_stays_when_both_are_moved(first, second, angle, along):
    one, other = blob(first), blob(second)
    there, back = compared(one, other), compared(other, one)
    moved = compared(*(translate(rotate(each, angle, origin=(0, 0)), along) for each in (one, other)))
    for same in (back, moved):
        assert same.dice == pytest.approx(there.dice)
        assert same.distance_mm == pytest.approx(there.distance_mm, abs=2e-3)
        assert same.hausdorff95_mm == pytest.approx(there.hausdorff95_mm, abs=0.02)
    assert 0 < there.iou <= there.dice <= 1


def test_pairs_are_those_of_a_photo_and_of_the_same_rater_or_not():
    tracings = [traced(SQUARE, rater, photo, trial) for photo in "pq" for rater in "AB" for trial in "12"]
    assert len(overlaps(tracings)) == 2 * 6
    same, different = (overlaps(tracings, same_rater=kept) for kept in (True, False))
    assert [(pair.photo, pair.one, pair.other) for pair in same[:2]] == [
        ("p", ("A", "1"), ("A", "2")),
        ("p", ("B", "1"), ("B", "2")),
    ]
    assert len(same) == 4
    assert len(different) == 8
    assert all(pair.same_rater for pair in same)


def test_a_photo_counts_once_however_often_it_was_traced():
    often = [traced(box(0, 0, 10, 10 + number), rater) for number, rater in enumerate("ABCDE")]
    once = [[traced(SQUARE, rater, photo) for rater in "AB"] for photo in ("photo 02", "photo 03")]
    found = summary(overlaps([*often, *once[0], *once[1]]))
    assert (found.photos, found.pairs) == (3, 12)
    assert found.dice.value == 1
    assert not found.dice.has_interval
    assert "needs 6 photos" in found.dice.method


def test_the_interval_holds_the_median_of_all_wounds():
    """Of a Dice spread evenly over 0.6 to 1 the median is 0.8."""
    random = np.random.default_rng(8)
    inside = []
    for _ in range(80):
        values = random.uniform(0.6, 1, 15)
        pairs = [Overlap(f"photo {n}", ("A", "1"), ("B", "1"), value, 0.5, 1, 2) for n, value in enumerate(values)]
        found = summary(pairs)
        assert found.dice.value == pytest.approx(np.median(values))
        inside.append(found.dice.low <= 0.8 <= found.dice.high)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.073)  # three standard deviations of 80 studies
    assert (found.dice.unit, found.distance.unit, found.hausdorff95.unit) == ("", "mm", "mm")
    assert (found.distance.value, found.hausdorff95.value) == (1, 2)
    assert summary(pairs) == found


@pytest.mark.parametrize("photos", [7, 8])
def test_the_interval_is_that_of_scipy_for_the_same_resamples(photos):
    values = np.sort(np.random.default_rng(photos).uniform(0.6, 1, photos))
    pairs = [Overlap(f"photo {n}", ("A", "1"), ("B", "1"), value, 0.5, 1, 2) for n, value in enumerate(values[::-1])]
    known = stats.bootstrap(
        (values,), np.median, n_resamples=DRAWS, method="percentile", random_state=np.random.default_rng(SEED)
    ).confidence_interval
    found = summary(pairs).dice
    assert (found.low, found.high) == pytest.approx(tuple(known), rel=1e-12)


def test_the_common_outline_is_what_more_than_half_enclose():
    three = [box(0, 0, 10, 10), box(1, 0, 11, 10), box(2, 0, 12, 10)]
    assert consensus(three).equals(box(1, 0, 11, 10))
    assert consensus(three[:2]).equals(box(1, 0, 10, 10))
    assert consensus(three[:1]).equals(three[0])


def test_the_common_outline_keeps_islands_and_parts():
    island = box(0, 0, 10, 10).difference(box(4, 4, 6, 6))
    assert consensus([island, island, box(0, 0, 10, 10)]).equals(island)
    parts = MultiPolygon([box(0, 0, 2, 2), box(8, 8, 10, 10)])
    assert consensus([parts, parts, box(0, 0, 10, 10)]).equals(parts)


@settings(max_examples=20)
@given(st.lists(st.integers(0, 10**6), min_size=3, max_size=6))
def test_the_common_outline_is_the_majority_at_every_place(seeds):
    outlines = [blob(seed) for seed in seeds]
    common = consensus(outlines)
    votes = np.sum([masks.mask_of([from_polygon(translate(each, 40, 40))], 80, 80) for each in outlines], axis=0)
    drawn = masks.mask_of([from_polygon(part) for part in parts_of(translate(common, 40, 40))], 80, 80)
    assert np.mean(drawn != (2 * votes > len(outlines))) < 0.002  # bar pixels that an edge runs through


def parts_of(area):
    return [Polygon(part.exterior) for part in getattr(area, "geoms", [area])]


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (lambda: traced(Polygon()), "no sound area; trace it again"),
        (lambda: traced(Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])), "no sound area"),
        (lambda: overlap(traced(SQUARE), traced(SQUARE, photo="photo 02")), "photo 01 and of photo 02"),
        (lambda: overlaps([traced(SQUARE), traced(SQUARE, photo="photo 02")]), "No photo was traced twice, so"),
        (lambda: overlaps([traced(SQUARE), traced(SQUARE, "B")], same_rater=True), "twice by the same rater"),
        (lambda: overlaps([traced(SQUARE), traced(SQUARE, trial="2")], same_rater=False), "by two raters"),
        (lambda: summary([]), "nothing to sum up"),
        (lambda: consensus([]), "no outline"),
        (lambda: consensus([box(0, 0, 1, 1), box(5, 5, 6, 6)]), "more than half"),
        (lambda: consensus([box(0, 0, 1, 1), box(1, 0, 2, 1)]), "more than half"),
    ],
)
def test_what_can_not_be_compared_is_a_sentence(asked, says):
    with pytest.raises(AgreementError, match=says):
        asked()
