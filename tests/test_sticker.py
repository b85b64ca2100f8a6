"""The layouts: what lies where, and that nothing lies on anything else."""

from itertools import combinations

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon, box

from calibration.sticker import DICTIONARY, LAYOUTS, Layout, Rect

ALL = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)


def _box(place: Rect) -> Polygon:
    return box(place.x, place.y, place.x + place.width, place.y + place.height)


def _parts(layout: Layout) -> dict[str, Polygon]:
    """Everything that needs its own place on the paper."""
    parts = {f"marker {marker.number}": _box(marker.place) for marker in layout.markers}
    parts |= {f"patch {i} {patch.name}": _box(patch.place) for i, patch in enumerate(layout.patches)}
    parts |= {f"field {field.caption}": _box(field.place) for field in layout.fields}
    step = layout.hem.pitch
    parts |= {
        f"cell {c} {r}": _box(Rect(layout.hem.x + c * step, layout.hem.y + r * step, step, step))
        for c, r in layout.hem.cells
    }
    return parts


@ALL
def test_sizes_are_those_promised(layout):
    sizes = {"corner": (80, 60), "strip": (100, 20), "tile": (26, 26)}
    assert layout.size_mm == sizes[layout.name]


@ALL
def test_nothing_overlaps_and_nothing_leaves_the_paper(layout):
    parts, paper = _parts(layout), Polygon(layout.outline)
    outside = [name for name, part in parts.items() if not paper.covers(part)]
    assert not outside
    clashes = [(one, other) for (one, a), (other, b) in combinations(parts.items(), 2) if a.intersection(b).area > 1e-9]
    assert not clashes


@ALL
def test_markers_have_a_white_margin_of_a_cell(layout):
    """A marker is only read with white round it (OpenCV's own requirement)."""
    parts = _parts(layout)
    for marker in layout.markers:
        margin = _box(marker.place).buffer(0.9 * marker.place.width / 6, join_style="mitre")
        near = [name for name, part in parts.items() if part.intersects(margin) and name != f"marker {marker.number}"]
        assert not near


@ALL
def test_saddle_points_are_where_four_cells_meet(layout):
    hem, black = layout.hem, [_box(cell) for cell in layout.hem.black()]
    for (x, y), sign in zip(layout.saddles, layout.saddle_signs, strict=True):
        quadrants = [box(x, y, x + 1, y + 1), box(x - 1, y - 1, x, y), box(x - 1, y, x, y + 1), box(x, y - 1, x + 1, y)]
        covered = [sum(q.intersection(cell).area for cell in black) for q in quadrants]
        assert covered == pytest.approx([1, 1, 0, 0] if sign > 0 else [0, 0, 1, 1])
    assert hem.pitch >= 2.0


@ALL
def test_saddle_points_span_the_sticker_both_ways(layout):
    width, height = np.ptp(layout.saddles, axis=0) / layout.size_mm
    assert width > 0.7
    assert height > (0.3 if layout.name == "strip" else 0.5)


def test_marker_numbers_are_used_once():
    numbers = [marker.number for layout in LAYOUTS.values() for marker in layout.markers]
    assert len(set(numbers)) == len(numbers)


def test_markers_differ_in_five_bits_and_mirrored_in_three():
    """Hamming distances of the codes as OpenCV draws them, over all rotations."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    numbers = [marker.number for layout in LAYOUTS.values() for marker in layout.markers]
    codes = {n: cv2.aruco.generateImageMarker(dictionary, n, 6) > 0 for n in numbers}
    for one, other in combinations(numbers, 2):
        assert min((codes[one] != np.rot90(codes[other], k)).sum() for k in range(4)) >= 5
    for one in numbers:
        for other in numbers:
            assert min((codes[one] != np.rot90(codes[other][:, ::-1], k)).sum() for k in range(4)) >= 3


@ALL
def test_patches_carry_greys_and_colours(layout):
    names = [patch.name for patch in layout.patches]
    greys = {name for name in names if name.startswith(("neutral", "black"))}
    assert len(greys) >= 4
    assert len(set(names) - greys) >= 4


# colour-science 0.4.6, CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]: CIE L*a*b* D50 and 8-bit sRGB.
CHART = {
    "dark skin": ((37.54, 14.37, 14.92), (116, 79, 65)),
    "moderate red": ((50.57, 48.64, 16.67), (197, 80, 95)),
    "neutral 5": ((50.76, -0.13, 0.14), (121, 121, 121)),
}


@pytest.mark.parametrize("name", CHART)
def test_patch_values_are_the_published_ones(name):
    patch = next(patch for patch in LAYOUTS["corner"].patches if patch.name == name)
    assert (patch.lab_d50, patch.srgb) == CHART[name]


def test_greys_darken_in_equal_steps_of_lightness():
    """Each step is visibly darker (at least 14 L*)."""
    lightness = [patch.lab_d50[0] for patch in LAYOUTS["corner"].patches[:5]]
    assert (np.diff(lightness) < -14).all()
