"""How tissues are drawn: told apart by hatch, by colour, by any eyes, and on any ground."""

import re
from itertools import combinations

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from measure.hatching import HATCHES, LOOKS, RIM, RIM_WIDTH, raster, svg_link, svg_pattern, svg_tile

GROUNDS = {
    "beefy red": "#9e2b25",
    "slough yellow": "#d9c26a",
    "eschar black": "#1a1412",
    "epithelial pink": "#e8a9a4",
    "light skin": "#f1d3c0",
    "dark skin": "#4a2f24",
}
"""Colours of tissue and skin in photographs, from memory."""

EYES = {
    "usual": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
}
"""Of linear RGB, for severity 1: Machado, Oliveira and Fernandes, IEEE Trans. Vis. Comput. Graph. 15(6):1291-1298
(2009); the numbers from memory, each row adds up to 1 as white must stay white."""


def _rgb(colour):
    return np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255


def _linear(colour):
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def _encoded(colour):
    colour = np.clip(colour, 0, 1)
    return np.where(colour <= 0.0031308, 12.92 * colour, 1.055 * colour ** (1 / 2.4) - 0.055)


def _contrast(one, other):
    """WCAG 2.2, contrast ratio of relative luminances."""
    darker, lighter = sorted(_linear(_rgb(colour)) @ (0.2126, 0.7152, 0.0722) for colour in (one, other))
    return (lighter + 0.05) / (darker + 0.05)


def test_every_tissue_has_a_word_a_colour_and_a_hatch_of_its_own():
    assert list(LOOKS) == ["granulation", "slough", "necrotic", "epithelial", "unclear"]
    for parts in zip(*((look.word, look.colour, look.pattern) for look in LOOKS.values()), strict=True):
        assert len(set(parts)) == len(LOOKS)
    assert {look.pattern for look in LOOKS.values()} == set(HATCHES)


def test_the_simulated_eyes_keep_white():
    for matrix in EYES.values():
        assert np.asarray(matrix) @ (1, 1, 1) == pytest.approx((1, 1, 1), abs=2e-6)


@pytest.mark.parametrize("eyes", EYES)
def test_the_colours_are_told_apart_by_these_eyes(eyes):
    """At least 13 apart: about 1 is just seen side by side, and these lie apart, in thin lines."""
    seen = [_encoded(np.asarray(EYES[eyes]) @ _linear(_rgb(look.colour))) for look in LOOKS.values()]
    labs = [rgb2lab(colour[np.newaxis, np.newaxis])[0, 0] for colour in seen]
    assert min(deltaE_ciede2000(one, other) for one, other in combinations(labs, 2)) > 13


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("ground", GROUNDS)
def test_a_line_is_seen_on_any_ground(name, ground):
    """3 to 1 for what is drawn (WCAG 2.2, 1.4.11), of the line or its rim to the ground; 4.5 between the two."""
    look = LOOKS[name]
    assert max(_contrast(colour, GROUNDS[ground]) for colour in (look.colour, RIM)) >= 3
    assert _contrast(look.colour, RIM) >= 4.5


@pytest.mark.parametrize("name", LOOKS)
def test_no_colour_is_the_trade_s_red_yellow_or_black(name):
    hue, saturation, value = cv2.cvtColor(
        np.uint8(np.rint(255 * _rgb(LOOKS[name].colour)))[np.newaxis, np.newaxis], cv2.COLOR_RGB2HSV
    )[0, 0]
    red_or_yellow = (2 * int(hue) <= 75 or 2 * int(hue) >= 330) and saturation > 40
    assert not red_or_yellow
    assert value > 100


# As a mask of pixels


def test_hatches_differ_in_what_they_cover():
    masks = [raster(look, 120, 120, 1.0) for look in LOOKS.values()]
    for mask in masks:
        assert 0.05 < mask.mean() < 0.45  # the tissue shows between the lines
    for one, other in combinations(masks, 2):
        best = max((one & np.roll(other, step, (0, 1))).sum() for step in np.ndindex(18, 18))
        assert best / (one | other).sum() < 0.8  # however one is laid over the other


def test_lines_run_as_their_names_say():
    level = raster(LOOKS["epithelial"], 60, 60, 1.0)
    assert all(row.all() or not row.any() for row in level)
    slant = raster(LOOKS["slough"], 56, 56, 1.0)
    assert np.array_equal(slant[1:, :-1], slant[:-1, 1:])  # one down and one left is the same
    cross = raster(LOOKS["necrotic"], 66, 66, 1.0)
    assert np.array_equal(cross, cross[:, ::-1])


@pytest.mark.parametrize("name", LOOKS)
def test_a_hatch_repeats_and_scales(name):
    look = LOOKS[name]
    tile = int(HATCHES[look.pattern].tile)
    mask = raster(look, 3 * tile, 2 * tile, 1.0)
    assert np.array_equal(mask[:tile, :tile], mask[tile : 2 * tile, tile:])
    large, larger = (raster(look, tile * scale, 2 * tile * scale, scale) for scale in (6, 12))
    assert large.mean() == pytest.approx(larger.mean(), abs=0.02)
    assert larger.shape == (12 * tile, 24 * tile)


@pytest.mark.parametrize("name", LOOKS)
def test_a_rim_lies_round_every_line(name):
    line, rim = (raster(LOOKS[name], 200, 200, 2.0, grow=grow) for grow in (0.0, RIM_WIDTH))
    grown = cv2.dilate(line.astype(np.uint8), np.ones((3, 3), np.uint8))[5:-5, 5:-5] > 0
    assert rim[5:-5, 5:-5][grown].all()
    assert not rim.all()


# As a drawing


@pytest.mark.parametrize("name", LOOKS)
def test_the_drawing_has_the_colour_over_the_rim_and_the_pattern_s_name(name):
    look = LOOKS[name]
    pattern = svg_pattern(look)
    assert f'id="hatch-{look.pattern}"' in pattern
    assert re.findall(r"stroke:(#\w+)", pattern) == [RIM, look.colour]
    assert svg_tile(look).startswith("<svg")
    assert not set("\"'()<> ") & set(svg_link(look))
    assert pattern.split(">", 1)[1].split("</pattern>")[0] in svg_tile(look)
