"""Tissue in the picture: hatches inside the outline alone, a legend that names them, and marks on skin and site."""

from dataclasses import replace
from types import MappingProxyType

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.appearance import Appearance
from measure.canvas import MAX_SIDE_PX, RIM, Canvas
from measure.culture import NoSite, SwabSite
from measure.hatching import LOOKS
from measure.outline import Outline, read_outlines
from measure.overlay import draw_measurement
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.proportions import Share
from measure.redness import NoRedness, Redness
from measure.tissue import NONE
from measure.tissue_colours import TISSUES
from measure.tissue_overlay import _tile, legend, with_legend

ALL = ("granulation", "slough", "necrotic", "epithelial", "unclear")


@pytest.fixture(scope="module")
def measured(first_sample):
    photo = read_photo(first_sample.photo)
    prepared = prepare(photo, propose=False)
    return complete(prepared, read_outlines(first_sample.outline, photo.width, photo.height), culture=True)


@pytest.fixture(scope="module")
def two(measured):
    """Return the same photo with the wound cut in two, and a gap between the halves."""
    whole = measured.wounds[0].outline.exterior
    middle = whole[:, 0].mean()
    sides = (whole[whole[:, 0] < middle - 40], whole[whole[:, 0] > middle + 40])
    return complete(measured.prepared, [Outline(side) for side in sides])


def seen(measurement, **changes):
    return replace(measurement, appearance=replace(measurement.appearance, **changes))


def painted(tissue, *names):
    """Return a tissue map with these tissues in stripes from left to right, of as many columns each."""
    inside = tissue.labels != NONE
    columns = np.nonzero(inside.any(axis=0))[0]
    stripe = np.clip((np.arange(inside.shape[1]) - columns[0]) * len(names) // np.ptp(columns), 0, len(names) - 1)
    numbers = np.where(inside, stripe + 1, 0).astype(np.int32)
    labels = np.array([NONE, *(TISSUES.index(name) for name in names)], np.uint8)[numbers]
    area = np.bincount(labels[inside], tissue.area_mm2[inside], len(TISSUES))
    shares = {
        name: Share(100 * float(part / area.sum()), {"class doubt": 1.5})
        for name, part in zip(TISSUES, area, strict=True)
    }
    return replace(tissue, labels=labels, numbers=numbers, shares=MappingProxyType(shares), said=())


def as_one(measured, name):
    return seen(measured, tissue=(painted(measured.tissue[0], name),), redness=(), swabs=())


def inner(measurement, canvas_width, away):
    """Return a mask of the picture: what lies more than some px of it inside the outline, or outside where negative."""
    photo, outline = measurement.prepared.photo, measurement.wounds[0].outline.exterior
    mask = np.zeros((photo.height, photo.width), np.uint8)
    cv2.fillPoly(mask, [np.rint(outline).astype(np.int32)], 1)
    size = (canvas_width, round(photo.height * canvas_width / photo.width))
    mask = cv2.resize(mask, size, interpolation=cv2.INTER_NEAREST)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * abs(away) + 1,) * 2)
    return cv2.erode(mask, disc) > 0 if away > 0 else cv2.dilate(mask, disc) == 0


def drawn(measurement):
    """Return the tissue picture without its legend, as signed numbers."""
    picture = draw_measurement(measurement, tissue=True)
    photo = measurement.prepared.photo
    return picture[: round(photo.height * picture.shape[1] / photo.width)].astype(int)


# In the wound


def test_every_tissue_is_drawn_in_a_way_of_its_own(measured):
    """In grey too, where colours are lost: at least a tenth of the wound's pixels differ between any two tissues."""
    pictures = [drawn(as_one(measured, name)) for name in ALL]
    mask = inner(measured, pictures[0].shape[1], 12)
    greys = [picture.mean(axis=2)[mask] for picture in pictures]
    for i, one in enumerate(greys):
        for other in greys[:i]:
            assert (np.abs(one - other) > 40).mean() > 0.1


@pytest.mark.parametrize("name", ALL)
def test_lines_of_its_colour_and_their_dark_rims_lie_over_a_tissue(measured, name):
    picture = drawn(as_one(measured, name))
    inside = picture[inner(measured, picture.shape[1], 12)]
    colour = tuple(bytes.fromhex(LOOKS[name].colour[1:]))
    assert (np.abs(inside - colour).max(axis=1) < 4).mean() > 0.03
    assert (np.abs(inside - RIM).max(axis=1) < 4).mean() > 0.02


def test_the_tissue_is_still_seen_between_the_lines():
    """At least a third of any hatch lets three quarters of the photo through."""
    for look in LOOKS.values():
        _, through = _tile(look, 2)
        assert (through > 0.75).mean() > 1 / 3


def test_outside_the_outline_nothing_is_washed(measured):
    """Words below and the outline's own line aside, the picture is the same whatever the tissue."""
    one, other = (drawn(as_one(measured, name)) for name in ("necrotic", "granulation"))
    outside = inner(measured, one.shape[1], -6)
    assert np.array_equal(one[outside], other[outside])


def test_outside_the_outline_the_photo_is_as_in_the_ordinary_picture(measured):
    ordinary = draw_measurement(seen(measured, tissue=(), redness=(), swabs=()))
    assert len(ordinary) < MAX_SIDE_PX - 200
    picture = drawn(as_one(measured, "slough"))
    mask = inner(measured, picture.shape[1], -60)
    differs = (np.abs(picture - ordinary).max(axis=2) > 0) & mask
    assert differs.mean() == 0


def test_a_healed_island_is_left_free(island_sample):
    photo = read_photo(island_sample.photo)
    island = read_outlines(island_sample.outline, photo.width, photo.height)
    measurement = complete(prepare(photo, propose=False), island)
    x, y = measurement.wounds[0].outline.holes[0].mean(axis=0)
    pictures = [drawn(as_one(measurement, name)) for name in ("necrotic", "slough")]
    scale = pictures[0].shape[1] / photo.width
    middle = np.s_[round(y * scale) - 6 : round(y * scale) + 7, round(x * scale) - 6 : round(x * scale) + 7]
    assert np.array_equal(pictures[0][middle], pictures[1][middle])


def test_a_region_is_drawn_where_it_lies(measured):
    """The left half is like a wound of slough, the right half like one of necrotic tissue."""
    both = drawn(seen(as_one(measured, "slough"), tissue=(painted(measured.tissue[0], "slough", "necrotic"),)))
    slough, necrotic = drawn(as_one(measured, "slough")), drawn(as_one(measured, "necrotic"))
    mask = inner(measured, both.shape[1], 12)
    columns = np.nonzero(mask.any(axis=0))[0]
    middle, near = (columns[0] + columns[-1]) // 2, 12
    left, right = mask.copy(), mask.copy()
    left[:, middle - near :] = False
    right[:, : middle + near] = False
    assert np.array_equal(both[left], slough[left])
    assert np.array_equal(both[right], necrotic[right])


def test_the_close_view_shows_the_same_larger(measured):
    close = draw_measurement(as_one(measured, "epithelial"), close=True, tissue=True).astype(int)
    whole = drawn(as_one(measured, "epithelial"))
    green = tuple(bytes.fromhex(LOOKS["epithelial"].colour[1:]))
    counts = [np.count_nonzero(np.abs(picture - green).max(axis=2) < 4) for picture in (close, whole)]
    assert counts[0] > 2 * counts[1]


def test_the_map_and_the_photo_are_left_alone(measured):
    pixels, labels = measured.prepared.photo.pixels.copy(), measured.tissue[0].labels.copy()
    draw_measurement(measured, tissue=True)
    assert np.array_equal(measured.prepared.photo.pixels, pixels)
    assert np.array_equal(measured.tissue[0].labels, labels)


def test_several_wounds_have_their_tissue_each(two):
    maps = [painted(tissue, name) for tissue, name in zip(two.tissue, ("slough", "necrotic"), strict=True)]
    picture = drawn(seen(two, tissue=tuple(maps), redness=()))
    teal = np.abs(picture - tuple(bytes.fromhex(LOOKS["necrotic"].colour[1:]))).max(axis=2) < 4
    scale = picture.shape[1] / two.prepared.photo.width
    left, right = (wound.outline.exterior * scale for wound in two.wounds)
    columns = np.nonzero(teal)[1]
    assert columns.size
    assert columns.min() > left[:, 0].max()
    assert columns.max() <= right[:, 0].max() + 6


# The legend


def words(entries):
    return [text for _, text in entries]


@pytest.mark.parametrize("names", [("granulation",), ("slough", "necrotic"), ALL])
def test_the_legend_names_each_tissue_that_is_there_and_no_other(measured, names):
    *entries, note = legend([painted(measured.tissue[0], *names)])
    assert [look.word for look, _ in entries] == [LOOKS[name].word for name in LOOKS if name in names]
    assert note[0] is None
    assert note[1].startswith("Percent of the wound's area, \u00b1 for k = 2.")


def test_percents_are_told_with_twice_their_standard_uncertainty(measured):
    assert words(legend([painted(measured.tissue[0], "slough")]))[0] == "Slough 100 \u00b1 3 %"


def test_a_region_of_less_than_half_a_percent_is_named_all_the_same(measured):
    tissue = painted(measured.tissue[0], "slough", "necrotic")
    small = replace(tissue, shares=MappingProxyType({**tissue.shares, "necrotic": Share(0.3, {"class doubt": 0.1})}))
    assert "Necrotic 0 \u00b1 0 %" in words(legend([small]))


def test_of_several_wounds_the_legend_tells_the_words_alone(two):
    maps = [painted(tissue, name) for tissue, name in zip(two.tissue, ("necrotic", "granulation"), strict=True)]
    *entries, note = words(legend(maps))
    assert entries == ["Granulation", "Necrotic"]
    assert "Percent" not in note


@pytest.mark.parametrize(("percent", "named"), [(0.4, False), (0.6, True)])
def test_tissue_without_a_region_is_told_of_one_wound_from_one_percent_on(measured, percent, named):
    tissue = painted(measured.tissue[0], "slough")
    doubtful = replace(tissue, shares=MappingProxyType({**tissue.shares, "unclear": Share(percent, {})}))
    assert ("Unclear 1 \u00b1 0 %" in words(legend([doubtful]))) == named
    assert words(legend([doubtful, doubtful]))[:-1] == ["Slough"]


def test_what_the_legend_shows_is_the_hatch_of_the_wound(measured):
    picture = draw_measurement(as_one(measured, "necrotic"), tissue=True)
    strip = picture[-150:].astype(int)
    teal = np.abs(strip - tuple(bytes.fromhex(LOOKS["necrotic"].colour[1:]))).max(axis=2) < 4
    assert teal[:, :200].any()
    assert not teal[:, 200:].any()


@given(st.integers(160, 2400), st.integers(160, 2400), st.integers(1, 5))
def test_a_legend_lies_below_the_picture_and_within_the_greatest_side(width, height, count):
    canvas = Canvas(np.full((height, width, 3), 90, np.uint8), (0, 0, width, height))
    looks = list(LOOKS.values())[:count]
    whole = with_legend(canvas, [*((look, look.word) for look in looks), (None, "A line that says more.")])
    assert max(whole.shape[:2]) <= MAX_SIDE_PX
    assert (whole[0] == 90).all()
    assert whole.shape[0] / whole.shape[1] > canvas.pixels.shape[0] / canvas.pixels.shape[1]


# Without tissue


def test_without_tissue_the_ordinary_picture_is_drawn_and_a_line_says_why(measured):
    nothing = replace(measured, appearance=Appearance())
    picture, ordinary = draw_measurement(nothing, tissue=True), draw_measurement(nothing)
    assert np.array_equal(picture[: len(ordinary)], ordinary)
    strip = picture[len(ordinary) :]
    assert 0 < len(strip) < 150
    assert (strip > 240).all(axis=2).mean() > 0.005


def test_without_wounds_nothing_is_said_of_tissue(measured):
    nothing = replace(measured, wounds=(), appearance=Appearance())
    assert np.array_equal(draw_measurement(nothing, tissue=True), draw_measurement(nothing))


# Skin and swab


def changed(measurement, tissue, **changes):
    """Return rows and columns, in px of the photo, that other marks change in the picture."""
    before, after = (draw_measurement(each, tissue=tissue) for each in (measurement, seen(measurement, **changes)))
    rows, columns = np.nonzero((before != after).any(axis=2))
    scale = before.shape[1] / measurement.prepared.photo.width
    return rows / scale, columns / scale


def test_the_control_patch_is_marked_in_the_tissue_view_alone(measured):
    bare, redness = seen(measured, redness=(), swabs=()), measured.redness[0]
    assert isinstance(redness, Redness)
    rows, columns = changed(bare, tissue=True, redness=(redness,))
    mm_per_px = measured.mm_per_px
    assert columns.mean() == pytest.approx(redness.control_px[0], abs=30)
    assert rows.min() == pytest.approx(redness.control_px[1] - redness.control_radius_mm / mm_per_px, abs=25)
    assert not changed(bare, tissue=False, redness=(redness,))[0].size


def test_a_control_patch_that_the_close_view_cuts_off_is_left_out(measured):
    bare = seen(measured, redness=(), swabs=())
    away = replace(measured.redness[0], control_px=(20.0, 20.0))
    pictures = [draw_measurement(each, close=True, tissue=True) for each in (bare, seen(bare, redness=(away,)))]
    assert np.array_equal(*pictures)


@pytest.mark.parametrize("tissue", [False, True])
def test_the_site_to_swab_is_marked_in_both_views(measured, tissue):
    site = measured.swabs[0]
    assert isinstance(site, SwabSite)
    rows, columns = changed(seen(measured, swabs=()), tissue=tissue, swabs=(site,))
    radius = site.diameter_mm / 2 / measured.mm_per_px
    x, y = site.place_px
    assert (rows.min(), rows.max()) == pytest.approx((y - radius, y + radius), abs=0.15 * radius)
    top = columns[rows < y - 0.9 * radius]
    assert top.mean() == pytest.approx(x, abs=0.15 * radius)


def test_the_word_stands_in_a_site_that_has_room_for_it(measured):
    site = replace(measured.swabs[0], diameter_mm=25.0)
    rows, columns = changed(seen(measured, swabs=()), tissue=True, swabs=(site,))
    radius = site.diameter_mm / 2 / measured.mm_per_px
    reach = np.hypot(rows - site.place_px[1], columns - site.place_px[0])
    assert reach.max() == pytest.approx(radius, rel=0.15)
    assert (reach < 0.7 * radius).any()


def test_the_word_of_a_small_site_stands_beside_the_wound_and_off_the_sticker(measured):
    exterior = measured.wounds[0].outline.exterior
    low, high = exterior[:, 0].min(), exterior[:, 0].max()
    y = float(exterior[:, 1].mean())
    for x in (low + 90, high - 90):  # beside the left one lies the sticker
        site = SwabSite((float(x), y), 4.0, roomy=False)
        rows, columns = changed(seen(measured, swabs=()), tissue=True, swabs=(site,))
        assert columns.max() > high + 100
        assert columns.min() > low
        assert np.abs(rows - y).max() < 100


def test_where_there_is_no_site_and_no_control_nothing_is_marked(measured):
    bare, none = seen(measured, redness=(), swabs=()), {"redness": (NoRedness("None."),), "swabs": (NoSite("None."),)}
    assert not changed(bare, tissue=True, **none)[0].size
