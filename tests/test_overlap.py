"""Scores of outlines against hand-computed cases and against general-purpose references."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import cdist
from skimage.draw import disk
from skimage.measure import label
from skimage.metrics import hausdorff_distance
from skimage.segmentation import find_boundaries

from measure import overlap
from measure.outline import Outline, dice, iou, polygon
from measure.overlap import area_bands, compare, edge_distances, mask_of, scores, share_bands


def painted(*boxes, shape=(60, 80)):
    """Mask of boxes (left, top, right, bottom), right and bottom excluded."""
    mask = np.zeros(shape, bool)
    for left, top, right, bottom in boxes:
        mask[top:bottom, left:right] = True
    return mask


def blob(seed, shape=(60, 80)):
    """Mask of a few random discs."""
    random = np.random.default_rng(seed)
    mask = np.zeros(shape, bool)
    for _ in range(3):
        mask[disk(random.uniform((10, 10), (50, 70)), random.uniform(4, 14), shape=shape)] = True
    return mask


def test_a_square_moved_sideways_by_hand():
    """10 x 10 px moved by 2: 80 px in common of 120; 16 of each 36 edge pixels fall on the other edge or stay near."""
    both = compare(painted((10, 10, 20, 20)), painted((12, 10, 22, 20)), mm_per_px=0.5)
    assert (both.found_px, both.true_px, both.common_px, both.frame_px) == (100, 100, 80, 4800)
    assert both.dice == pytest.approx(0.8)
    assert both.iou == pytest.approx(80 / 120)
    # of the left square: its left column lies 2 px off, bar the ends of top and bottom row (column 11: 1 px); of the
    # right column 8 px lie between the rows: 1 px off row 10 or 19, else 2 px off the right column of the other square
    left = [2] * 10 + [1] * 2  # x = 10, and x = 11 in rows 10 and 19
    right = [1] * 2 + [2] * 6  # x = 19, rows 11 and 18; rows 12 to 17
    assert both.distance_px == pytest.approx((sum(left) + sum(right)) / 36)
    assert both.hausdorff95_px == 2
    assert both.distance_mm == pytest.approx(both.distance_px / 2)
    assert both.hausdorff95_mm == 1
    assert both.area_error == 0
    assert both.true_mm2 == 25


@pytest.mark.parametrize("seed", range(6))
def test_distances_are_those_of_scikit_image_and_of_all_pairs(seed):
    one, other = blob(seed), blob(seed + 100)
    there, back = edge_distances(one, other)
    edges = [find_boundaries(np.pad(each, 1), connectivity=1, mode="inner")[1:-1, 1:-1] for each in (one, other)]
    assert max(there.max(), back.max()) == pytest.approx(hausdorff_distance(*edges))
    pairs = cdist(*(np.argwhere(edge) for edge in edges))
    np.testing.assert_allclose(there, pairs.min(axis=1))
    np.testing.assert_allclose(back, pairs.min(axis=0))
    both = compare(one, other)
    assert both.distance_px == pytest.approx(np.concatenate([pairs.min(axis=0), pairs.min(axis=1)]).mean())
    assert both.hausdorff95_px == pytest.approx(max(np.percentile(pairs.min(axis=axis), 95) for axis in (0, 1)))


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_the_comparison_is_symmetric_but_for_who_is_right(first, second):
    there, back = compare(blob(first), blob(second)), compare(blob(second), blob(first))
    assert there.dice == back.dice
    assert there.distance_px == pytest.approx(back.distance_px)
    assert there.hausdorff95_px == back.hausdorff95_px
    assert there.extra == back.missed


def test_masks_of_outlines_score_as_the_outlines_do():
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    one, other = Outline(150 + 100 * ring), Outline(160 + 90 * ring, (150 + 20 * ring,))
    both = compare(mask_of([one], 300, 300), mask_of([other], 300, 300))
    assert both.dice == pytest.approx(dice(polygon(one), polygon(other)), abs=1e-3)
    assert both.iou == pytest.approx(iou(polygon(one), polygon(other)), abs=1e-3)


def test_wounds_missed_and_found_besides_are_counted_without_specks():
    true = painted((5, 5, 15, 15), (30, 5, 40, 15), (60, 50, 63, 53))
    found = painted((6, 6, 15, 15), (50, 30, 60, 40), (2, 40, 5, 43))
    both = compare(found, true)
    assert label(true, connectivity=1).max() == 3
    assert (both.wounds, both.missed, both.extra) == (2, 1, 1)
    assert 9 < overlap.SPECK_PX <= 100  # 3 x 3 px is one, 10 x 10 px isn't


def test_no_wound_is_the_right_answer_where_there_is_none():
    nothing, something = painted(), painted((5, 5, 15, 15))
    assert (compare(nothing, nothing).dice, compare(nothing, nothing).iou) == (1, 1)
    assert (compare(nothing, something).dice, compare(something, nothing).iou) == (0, 0)
    assert np.isnan(compare(nothing, something).distance_px)
    assert np.isnan(compare(something, nothing).area_error)
    summary = scores([compare(nothing, nothing), compare(something, nothing), compare(something, something)])
    assert (summary.photos, summary.empty, summary.empty_answered) == (3, 2, 1)
    assert summary.mean_dice == pytest.approx(2 / 3)
    assert summary.median_dice == 1
    assert summary.distance_px == 0  # of the one photo where both are known
    assert np.isnan(summary.distance_mm)


def test_pooled_dice_weighs_pixels_and_the_mean_weighs_photos():
    large = compare(painted((0, 0, 40, 40)), painted((0, 0, 40, 40)))
    small = compare(painted((0, 0, 10, 10)), painted((20, 20, 30, 30)))
    summary = scores([large, small])
    assert summary.pooled_dice == pytest.approx(2 * 1600 / (3200 + 200))
    assert summary.mean_dice == 0.5
    assert summary.mean_iou == 0.5


def test_the_error_of_the_area_is_told_by_size():
    true = [painted((0, 0, 4, 5)), painted((0, 0, 40, 30)), painted((0, 0, 40, 30)), painted((0, 0, 80, 60)), painted()]
    found = [painted((0, 0, 4, 6)), painted((0, 0, 40, 27)), painted((0, 0, 40, 36)), *[painted((0, 0, 80, 60))] * 2]
    overlaps = [compare(*pair, mm_per_px=scale) for *pair, scale in zip(found, true, [1, 1, None, 1, 1], strict=True)]
    bands = share_bands(overlaps, (0.0, 0.01, 0.5, 1.0))
    assert [band.photos for band in bands] == [1, 2, 1]
    assert [band.error for band in bands] == pytest.approx([0.2, 0.15, 0.0])  # medians of 0.2; of 0.1 and 0.2; of 0
    assert [band.bias for band in bands] == pytest.approx([0.2, 0.05, 0.0])
    assert bands[1].worst_tenth == pytest.approx(0.19)  # 0.1 + 0.9 (0.2 - 0.1)
    in_mm2 = area_bands(overlaps)
    assert [band.photos for band in in_mm2] == [1, 0, 1, 1]  # 20, 1200 and 4800 mm2; one has no scale
    assert np.isnan(in_mm2[1].error)


def test_masks_of_different_photos_are_refused():
    with pytest.raises(ValueError, match="give those of one photo"):
        compare(painted(), painted(shape=(10, 10)))


def test_scores_of_nothing_are_refused():
    with pytest.raises(ValueError, match="at least one"):
        scores([])
