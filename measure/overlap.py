"""How well the outlines found in photos agree with reference ones: overlap, distance between the edges, area, misses.

Everything is counted in pixels of masks, so that outlines and drawn masks are compared alike. `compare` looks at one
photo; `scores`, `share_bands` and `area_bands` sum up many.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from measure.outline import Outline, mask

Mask = NDArray[np.bool_]

SPECK_PX = 20
"""Connected areas of fewer pixels are slips of a drawn mask: they count as area, but not as wounds of their own."""

SHARE_EDGES = (0.0, 0.003, 0.01, 0.03, 0.10, 1.0)
"""Of the bands by share of the frame: each about three times the one before; wounds at the bedside fill over 3 %."""

AREA_EDGES_MM2 = (0.0, 100.0, 400.0, 1600.0, float("inf"))
"""Of the bands by area: 11, 23 and 45 mm in diameter."""


@dataclass(frozen=True)
class Overlap:
    """How the areas found in one photo agree with the reference.

    Attributes
    ----------
    found_px, true_px, common_px, frame_px : int
        Pixels found, of the reference, in both, and of the photo.
    wounds, missed : int
        Wounds of the reference, and those of which no pixel was found.
    extra : int
        Found areas that touch no pixel of the reference.
    distance_px : float
        Mean symmetric distance between the edges (see `edge_distances`); NaN where one of them is empty.
    hausdorff95_px : float
        95 % Hausdorff distance: the greater of the two distances within which 95 % of one edge lie from the other;
        NaN likewise.
    mm_per_px : float
        Scale; NaN where it isn't known.
    """

    found_px: int
    true_px: int
    common_px: int
    frame_px: int
    wounds: int
    missed: int
    extra: int
    distance_px: float
    hausdorff95_px: float
    mm_per_px: float = float("nan")

    @property
    def dice(self) -> float:
        """2 |A and B| / (|A| + |B|); 1 where both are empty, for then the answer is right."""
        total = self.found_px + self.true_px
        return 2 * self.common_px / total if total else 1.0

    @property
    def iou(self) -> float:
        """|A and B| / |A or B|; 1 where both are empty."""
        either = self.found_px + self.true_px - self.common_px
        return self.common_px / either if either else 1.0

    @property
    def area_error(self) -> float:
        """Area found relative to the reference, less 1; NaN without a reference."""
        return self.found_px / self.true_px - 1 if self.true_px else float("nan")

    @property
    def true_share(self) -> float:
        """Share of the frame that the reference fills."""
        return self.true_px / self.frame_px

    @property
    def true_mm2(self) -> float:
        """Area of the reference; NaN without a scale."""
        return self.true_px * self.mm_per_px**2

    @property
    def distance_mm(self) -> float:
        """Mean symmetric distance between the edges; NaN without a scale."""
        return self.distance_px * self.mm_per_px

    @property
    def hausdorff95_mm(self) -> float:
        """95 % Hausdorff distance; NaN without a scale."""
        return self.hausdorff95_px * self.mm_per_px


@dataclass(frozen=True)
class Scores:
    """What many photos say together.

    Attributes
    ----------
    photos : int
        How many.
    pooled_dice : float
        Dice of all pixels of all photos, as if they were one: large wounds weigh most.
    mean_dice, median_dice, mean_iou, median_iou : float
        Over photos; one without wound of which the answer was no wound counts 1.
    distance_px, hausdorff95_px, distance_mm, hausdorff95_mm : float
        Medians over the photos where both edges, and for mm the scale, are known; NaN where there is none.
    wounds, missed, extra : int
        Sums over photos.
    empty, empty_answered : int
        Photos without wound, and those of them in which none was found.
    """

    photos: int
    pooled_dice: float
    mean_dice: float
    median_dice: float
    mean_iou: float
    median_iou: float
    distance_px: float
    hausdorff95_px: float
    distance_mm: float
    hausdorff95_mm: float
    wounds: int
    missed: int
    extra: int
    empty: int
    empty_answered: int


@dataclass(frozen=True)
class SizeBand:
    """The error of the area over photos whose wounds are about as large.

    Attributes
    ----------
    low, high : float
        The band, low included: share of the frame or mm2.
    photos : int
        How many are in it.
    bias, error, worst_tenth : float
        Median of the relative error, median of its absolute value, and what a tenth of the absolute values exceed;
        NaN without photos.
    """

    low: float
    high: float
    photos: int
    bias: float
    error: float
    worst_tenth: float


def mask_of(outlines: Sequence[Outline], width: int, height: int) -> Mask:
    """Return the pixels that lie in any of the outlines, shape (height, width)."""
    inside = np.zeros((height, width), dtype=np.bool_)
    for outline in outlines:
        inside |= mask(outline, width, height)
    return inside


def compare(found: Mask, true: Mask, mm_per_px: float | None = None) -> Overlap:
    """Compare what was found in one photo with the reference.

    Parameters
    ----------
    found, true : ndarray of bool, shape (H, W)
        From `mask_of`, or as drawn.
    mm_per_px : float, optional
        Scale at the wound.

    Raises
    ------
    ValueError
        If the masks have different shapes.
    """
    if found.shape != true.shape:
        raise ValueError(f"Masks of {found.shape} and {true.shape} pixels can't be compared; give those of one photo.")
    there, back = edge_distances(found, true)
    both = np.concatenate([there, back])
    wounds, missed = _untouched(true, found)
    return Overlap(
        found_px=int(found.sum()),
        true_px=int(true.sum()),
        common_px=int((found & true).sum()),
        frame_px=found.size,
        wounds=wounds,
        missed=missed,
        extra=_untouched(found, true)[1],
        distance_px=float(both.mean()) if both.size else float("nan"),
        hausdorff95_px=max(float(np.percentile(each, 95)) for each in (there, back)) if both.size else float("nan"),
        mm_per_px=float("nan") if mm_per_px is None else mm_per_px,
    )


def edge_distances(one: Mask, other: Mask) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far each edge pixel of one mask lies from the nearest of the other, and the reverse, in px.

    Edge pixels are those of a mask that have a side in common with a pixel outside it or with the photo's border. The
    mean of both together is the average symmetric surface distance of Heimann et al. (IEEE Trans Med Imaging 2009,
    28:1251); the greatest is the Hausdorff distance. Where a mask is empty there are none, shape (0,).
    """
    if not one.any() or not other.any():
        return np.empty(0), np.empty(0)
    rows, columns = (np.flatnonzero((one | other).any(axis=axis)) for axis in (1, 0))
    window = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    edges = [_edge(each[window]) for each in (one, other)]
    there, back = (
        ndimage.distance_transform_edt(~far)[near] for near, far in ((edges[0], edges[1]), (edges[1], edges[0]))
    )
    return np.asarray(there, dtype=np.float64), np.asarray(back, dtype=np.float64)


def _edge(area: Mask) -> Mask:
    """Return the pixels of an area that have a side in common with what is not in it."""
    return np.asarray(area & ~ndimage.binary_erosion(area), dtype=np.bool_)


def _untouched(areas: Mask, other: Mask) -> tuple[int, int]:
    """Count the connected areas that are no specks, and those of them that the other mask does not touch."""
    labels, count = ndimage.label(areas)
    numbers = np.arange(1, count + 1)
    sizes, touched = (ndimage.sum_labels(values, labels, numbers) for values in (areas, other))
    large = np.asarray(sizes) >= SPECK_PX
    return int(large.sum()), int((large & (np.asarray(touched) == 0)).sum())


def scores(overlaps: Sequence[Overlap]) -> Scores:
    """Sum up photos.

    Raises
    ------
    ValueError
        If there are none.
    """
    if not overlaps:
        raise ValueError("There is no photo to score; give at least one.")
    empty = [each for each in overlaps if each.true_px == 0]
    total = sum(each.found_px + each.true_px for each in overlaps)
    dices, ious = [each.dice for each in overlaps], [each.iou for each in overlaps]
    return Scores(
        photos=len(overlaps),
        pooled_dice=2 * sum(each.common_px for each in overlaps) / total if total else 1.0,
        mean_dice=float(np.mean(dices)),
        median_dice=float(np.median(dices)),
        mean_iou=float(np.mean(ious)),
        median_iou=float(np.median(ious)),
        distance_px=_known_median([each.distance_px for each in overlaps]),
        hausdorff95_px=_known_median([each.hausdorff95_px for each in overlaps]),
        distance_mm=_known_median([each.distance_mm for each in overlaps]),
        hausdorff95_mm=_known_median([each.hausdorff95_mm for each in overlaps]),
        wounds=sum(each.wounds for each in overlaps),
        missed=sum(each.missed for each in overlaps),
        extra=sum(each.extra for each in overlaps),
        empty=len(empty),
        empty_answered=sum(each.found_px == 0 for each in empty),
    )


def _known_median(values: Sequence[float]) -> float:
    known = [value for value in values if np.isfinite(value)]
    return float(np.median(known)) if known else float("nan")


def share_bands(overlaps: Sequence[Overlap], edges: Sequence[float] = SHARE_EDGES) -> tuple[SizeBand, ...]:
    """Return the error of the area by the share of the frame that the reference fills, where there is one."""
    return _bands([(each.true_share, each.area_error) for each in overlaps if each.true_px], edges)


def area_bands(overlaps: Sequence[Overlap], edges_mm2: Sequence[float] = AREA_EDGES_MM2) -> tuple[SizeBand, ...]:
    """Return the error of the area by the reference's area in mm2, over the photos whose scale is known."""
    known = [each for each in overlaps if each.true_px and np.isfinite(each.true_mm2)]
    return _bands([(each.true_mm2, each.area_error) for each in known], edges_mm2)


def _bands(sized: Sequence[tuple[float, float]], edges: Sequence[float]) -> tuple[SizeBand, ...]:
    """Sort pairs of size and error into bands; the last band includes its upper edge."""
    return tuple(
        _band(low, high, [error for size, error in sized if low <= size < high or size == high == edges[-1]])
        for low, high in pairwise(edges)
    )


def _band(low: float, high: float, errors: Sequence[float]) -> SizeBand:
    if not errors:
        return SizeBand(low, high, 0, *[float("nan")] * 3)
    off = np.abs(errors)
    return SizeBand(
        low, high, len(errors), float(np.median(errors)), float(np.median(off)), float(np.percentile(off, 90))
    )
