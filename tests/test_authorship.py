"""Who drew an outline: by what stands as proposed, and by who says that it is right."""

import math

import numpy as np
import pytest

from measure.authorship import Author, authors
from measure.editing import Editing
from measure.outline import Outline
from measure.proposal import Proposal
from measure.wound import GIVEN

SIDE = 400.0
SQUARE = Outline(np.array([(100, 100), (500, 100), (500, 500), (100, 500)], float))
FAR = Outline(np.array([(800, 100), (900, 100), (900, 200), (800, 200)], float))
PROPOSAL = Proposal((SQUARE, FAR), "trial 1", (6.0, 3.0))
OWN = Author(GIVEN, 0.0, math.nan)


def edited(*, checked=False):
    return Editing("AB", 1, PROPOSAL.outlines, PROPOSAL.method, checked, PROPOSAL.edge_sigma_px)


def test_a_proposal_that_nobody_had_is_the_methods():
    assert authors(None, PROPOSAL, None) == (Author("trial 1", 1.0, 6.0), Author("trial 1", 1.0, 3.0))


def test_outlines_without_a_proposal_are_the_persons():
    assert authors([SQUARE], Proposal((), "none"), None) == (OWN,)


def test_a_wound_that_was_left_alone_stays_the_methods_whatever_happened_to_another():
    moved = Outline(FAR.exterior + 300)
    assert authors([SQUARE, moved], PROPOSAL, edited()) == (Author("trial 1", 1.0, 6.0), OWN)


def test_of_a_corrected_wound_the_share_that_stands_is_the_methods():
    """One corner is pulled out by 100 along a side: of four sides three stand, the pulled one now being longer."""
    pulled = Outline(np.array([(100, 100), (500, 100), (600, 500), (100, 500)], float))
    (author,) = authors([pulled], PROPOSAL, edited())
    whole = 400 + math.hypot(100, 400) + 500 + 400
    assert author.method == GIVEN
    assert author.as_proposed == pytest.approx((400 + 400 + 400) / whole, abs=0.01)
    assert author.edge_sigma_px == 6.0


def test_a_point_that_was_dragged_and_put_back_changes_nothing():
    back = Outline(SQUARE.exterior + np.array([(0.01, 0), (0, 0), (0, -0.01), (0, 0)]))
    assert authors([back], PROPOSAL, edited()) == (Author("trial 1", 1.0, 6.0),)


def test_an_island_cut_into_a_proposal_makes_it_partly_the_persons():
    island = Outline(SQUARE.exterior, (np.array([(200, 200), (300, 200), (300, 300), (200, 300)], float),))
    (author,) = authors([island], PROPOSAL, edited())
    assert author.method == GIVEN
    assert author.as_proposed == pytest.approx(1600 / 2000)


def test_what_a_person_says_is_right_is_theirs():
    assert authors([SQUARE, FAR], PROPOSAL, edited(checked=True)) == (OWN, OWN)


def test_a_method_that_cant_say_stays_unknown():
    editing = Editing("AB", 1, (SQUARE,), "colour 1")
    (author,) = authors([SQUARE], Proposal((SQUARE,), "colour 1"), editing)
    assert math.isnan(author.edge_sigma_px)
    assert author.as_proposed == 1.0
