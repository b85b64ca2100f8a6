"""Tissue of odd wounds: tiny ones, one that fills the photo, colours that fit worse whichever way they are off."""

import numpy as np
import pytest
import shapely
from painted import SIZE, Daylight, disc, outline_of, painted, straight

from measure.outline import Outline
from measure.tissue import map_tissue

RED, YELLOW, PINK = (38, 40, 24), (72, 3, 28), (66, 22, 14)
"""Lab of granulation, slough and new skin."""


def mapped(polygon_mm, *shapes, colour=None, **more):
    scale = straight()
    return map_tissue(painted(scale, *shapes), colour or Daylight(), scale, outline_of(polygon_mm, scale), **more)


@pytest.mark.parametrize("edge_mm", [0.9, 1.5, 3.0])
def test_an_edge_less_sure_than_the_wound_is_deep_leaves_its_tissue_unsure(edge_mm):
    small = disc(1.2)
    shares = mapped(small, (small, YELLOW), (disc(0.6), RED), edge_mm=edge_mm).shares
    assert shares["slough"].percent > 60
    assert shares["slough"].components["outline placement"] > 20  # red alone is left where the rim is taken away


def test_colours_that_fit_worse_whichever_way_they_are_off_are_not_sure():
    """Less red, pink is slough, and more red it is granulation: both make less of it, and must not cancel."""
    shares = mapped(disc(12), (disc(12), PINK), colour=Daylight(lab_sigma=(1.0, 25.0, 2.0))).shares
    assert shares["epithelial"].percent > 98
    assert shares["epithelial"].components["colour"] > 50


def test_a_wound_that_fills_the_photo_is_mapped_without_a_warning():
    scale, (width, height) = straight(1.5), SIZE
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)]) - 0.5
    pixels = painted(scale, (shapely.box(-300, -300, 300, 300), RED))
    tissue = map_tissue(pixels, Daylight(), scale, Outline(corners))
    assert tissue.shares["granulation"].percent > 98
    assert np.isfinite(tissue.probability).all()
