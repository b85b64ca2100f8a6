"""Where to swab: the middle of the largest clear piece of granulation, away from everything else, or a sentence."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.culture import LEAST_RADIUS_MM, REMINDERS, NoSite, SwabSite, swab_document, swab_site
from measure.view import View

TISSUES = ("granulation", "slough", "necrotic", "epithelial", "unclear")
RED, WHITE, DARK = (150, 50, 45), (250, 245, 240), (60, 18, 16)
MM = 0.25  # a pixel


@dataclass(frozen=True)
class Painted:
    """A tissue map painted by hand, 50 x 40 mm."""

    view: View
    area_mm2: np.ndarray
    probability: np.ndarray
    labels: np.ndarray


def disc(x, y, radius_mm):
    rows, columns = np.indices((160, 200))
    return np.hypot(columns * MM - x, rows * MM - y) <= radius_mm


def painted(*spots, sure=0.9, colours=()):
    """Paint discs (x, y, radius in mm, tissue) one over another on nothing, then colours (x, y, radius, RGB)."""
    labels = np.full((160, 200), 255, np.uint8)
    for x, y, radius, tissue in spots:
        labels[disc(x, y, radius)] = TISSUES.index(tissue)
    picture = np.full((160, 200, 3), RED, np.uint8)
    for x, y, radius, colour in colours:
        picture[disc(x, y, radius)] = colour
    share = np.full(5, (1 - sure) / 4, np.float32)
    probability = np.where(np.arange(5) == labels[..., np.newaxis], np.float32(sure), share).astype(np.float32)
    area = np.where(labels == 255, 0, MM**2).astype(np.float32)
    view = View(picture, np.array([100.0, 40.0]), np.array([3.0, 3.0]))
    return Painted(view, area, probability, labels)


def place_mm(tissue, site):
    return tissue.view.from_photo(np.array([site.place_px]))[0] * MM


def test_the_middle_of_a_disc_of_granulation():
    tissue = painted((25, 20, 10, "granulation"))
    site = swab_site(tissue)
    assert place_mm(tissue, site) == pytest.approx((25, 20), abs=0.5)
    assert site.diameter_mm == pytest.approx(20, abs=0.5)
    assert site.roomy


def test_the_place_is_one_of_the_photo():
    tissue = painted((25, 20, 10, "granulation"))
    x, y = swab_site(tissue).place_px
    assert (x, y) == pytest.approx((100 + 3 * 25 / MM, 40 + 3 * 20 / MM), abs=7)


def test_a_ring_of_slough_is_kept_away_from():
    tissue = painted((25, 20, 14, "slough"), (25, 20, 6, "granulation"))
    site = swab_site(tissue)
    assert site.diameter_mm == pytest.approx(12, abs=0.5)
    assert place_mm(tissue, site) == pytest.approx((25, 20), abs=0.5)


def test_granulation_round_slough_has_its_site_beside_the_slough():
    tissue = painted((25, 20, 15, "granulation"), (25, 20, 6, "slough"))
    site = swab_site(tissue)
    assert np.hypot(*(place_mm(tissue, site) - (25, 20))) == pytest.approx(10.5, abs=0.6)
    assert site.diameter_mm == pytest.approx(9, abs=0.6)


@pytest.mark.parametrize("tissue", ["slough", "necrotic", "epithelial", "unclear"])
def test_without_granulation_there_is_no_site(tissue):
    site = swab_site(painted((25, 20, 12, tissue)))
    assert isinstance(site, NoSite)
    assert "No place to swab" in site.sentence


def test_of_two_islands_the_larger_wins():
    tissue = painted((12, 20, 6, "granulation"), (36, 20, 8, "granulation"))
    assert place_mm(tissue, swab_site(tissue)) == pytest.approx((36, 20), abs=0.5)


@pytest.mark.parametrize("colour", [WHITE, DARK], ids=["glare", "shadow"])
def test_the_smaller_island_wins_where_the_larger_is_hardly_seen(colour):
    tissue = painted((12, 20, 6, "granulation"), (36, 20, 6.5, "granulation"), colours=[(36, 20, 4, colour)])
    assert place_mm(tissue, swab_site(tissue)) == pytest.approx((12, 20), abs=0.5)


@pytest.mark.parametrize("colour", [WHITE, DARK], ids=["glint", "gap"])
def test_what_lies_between_wet_granules_does_not_matter(colour):
    tissue = painted((25, 20, 8, "granulation"), colours=[(26, 20, 0.4, colour)])
    assert swab_site(tissue) == swab_site(painted((25, 20, 8, "granulation")))


def test_granulation_that_is_not_sure_is_none():
    assert isinstance(swab_site(painted((25, 20, 12, "granulation"), sure=0.6)), NoSite)


@pytest.mark.parametrize(("radius", "roomy"), [(5.3, False), (6.1, True)])
def test_a_site_is_roomy_from_one_square_centimetre_on(radius, roomy):
    """A circle of 1 cm2 has a radius of 5.64 mm."""
    site = swab_site(painted((25, 20, radius, "granulation")))
    assert site.roomy == roomy
    assert ("smaller than the 1 cm2" in site.sentence) != roomy


@pytest.mark.parametrize(("radius", "found"), [(1.5, False), (2.6, True)])
def test_a_site_has_room_for_the_tip_of_a_swab(radius, found):
    assert isinstance(swab_site(painted((25, 20, radius, "granulation"))), SwabSite) == found


def test_what_the_picture_cuts_off_is_not_taken_for_tissue():
    tissue = painted((0, 20, 10, "granulation"))
    assert place_mm(tissue, swab_site(tissue))[0] > 3


spots = st.tuples(
    st.floats(5, 45), st.floats(5, 35), st.floats(1, 9), st.sampled_from([*TISSUES, "granulation", "granulation"])
)


@given(st.lists(spots, min_size=1, max_size=6))
def test_a_site_lies_in_granulation_alone(discs):
    tissue = painted(*discs)
    site = swab_site(tissue)
    if isinstance(site, SwabSite):
        x, y = place_mm(tissue, site)
        assert site.diameter_mm >= 2 * LEAST_RADIUS_MM
        assert (tissue.labels[disc(x, y, site.diameter_mm / 2 - MM)] == 0).all()


@given(st.lists(spots, min_size=1, max_size=6))
def test_more_slough_never_makes_room(discs):
    before, after = swab_site(painted(*discs)), swab_site(painted(*discs, (20, 15, 5, "slough")))
    if isinstance(after, SwabSite):
        assert isinstance(before, SwabSite)
        assert after.diameter_mm <= before.diameter_mm


# What is said


def test_the_document_holds_site_and_reminders():
    document = swab_document(SwabSite((120.5, 80.25), 9.0, roomy=False))
    assert document["place_px"] == [120.5, 80.25]
    assert document["diameter_mm"] == 9.0
    assert document["roomy"] is False
    assert document["reminders"] == list(REMINDERS)


def test_without_a_site_the_document_says_why():
    document = swab_document(swab_site(painted((25, 20, 12, "slough"))))
    assert document["place_px"] is document["diameter_mm"] is document["roomy"] is None
    assert document["sentence"].startswith("No place to swab")


@pytest.mark.parametrize("word", ["provider", "antibiotics", "saline", "eyes", "slough", "time", "policy"])
def test_the_reminders_name(word):
    assert any(word in reminder for reminder in REMINDERS)
