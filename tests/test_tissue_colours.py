"""The colours of tissues: as the trade's words have them, whatever the shading, and nothing named that fits none."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.colour import lab, linear_light
from measure.rendering.skin import tone
from measure.tissue_colours import SHADES, TISSUES, colour_of_tissue, log_densities

GRANULATION, SLOUGH, NECROTIC, EPITHELIAL, UNCLEAR = range(5)


def light(*rgb):
    return linear_light()[np.array([rgb], np.uint8)]


def named(linear):
    return TISSUES[int(log_densities(colour_of_tissue(linear), None)[0].argmax())]


@pytest.mark.parametrize(
    ("rgb", "tissue"),
    [
        ((150, 35, 35), "granulation"),  # beefy red
        ((190, 95, 85), "granulation"),  # pale red
        ((210, 185, 125), "slough"),  # yellow
        ((175, 145, 95), "slough"),  # tan
        ((195, 185, 160), "slough"),  # greyish
        ((28, 25, 24), "necrotic"),  # black
        ((75, 52, 38), "necrotic"),  # brown
        ((220, 150, 140), "epithelial"),  # pink
        ((255, 255, 255), "unclear"),  # glare
        ((150, 190, 220), "unclear"),  # a gel
        ((80, 160, 80), "unclear"),  # a dye, a glove
        ((90, 40, 140), "unclear"),  # a marking pen
    ],
)
def test_colours_are_what_the_trade_calls_them(rgb, tissue):
    """The words are common practice; the sRGB beside them was chosen by eye for this test."""
    assert named(light(*rgb)) == tissue


@pytest.mark.parametrize(("tissue", "shade"), [(name, shade) for name in TISSUES for shade in SHADES[name]])
def test_the_middle_of_each_shade_is_its_tissue(tissue, shade):
    found = log_densities(np.array([shade.middle], np.float32), None)[0]
    assert TISSUES[int(found.argmax())] == tissue


def test_densities_are_densities():
    """Each integrates to 1; 'unclear' to 1.02, for 0.02 of it lies evenly over every colour of a box."""
    step = 2.5
    axes = [np.arange(-20, 135, step)] + [np.arange(-60, 115, step)] * 2
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3).astype(np.float32)
    box = len(axes[0]) * len(axes[1]) ** 2 * step**3 / (100 * 120 * 120)
    integrals = np.exp(log_densities(grid, None)).astype(np.float64).sum(axis=0) * step**3
    assert integrals[:-1] == pytest.approx(np.ones(4), abs=0.005)
    assert integrals[-1] == pytest.approx(1 + 0.02 * box, abs=0.01)


colours = st.tuples(*[st.integers(0, 255)] * 3)


@given(st.tuples(*[st.integers(60, 255)] * 3), st.floats(0.5, 2.0))
def test_shading_changes_lightness_alone(rgb, factor):
    """L* + 16, a* and b* all go with the cube root of light, but for the nearly black."""
    seen, shaded = colour_of_tissue(light(*rgb)), colour_of_tissue(np.float32(factor) * light(*rgb))
    assert shaded[0, 1:] == pytest.approx(seen[0, 1:], abs=0.02)
    assert shaded[0, 0] + 16 == pytest.approx((seen[0, 0] + 16) * np.cbrt(factor), rel=1e-4)


@given(colours)
def test_lightness_is_that_of_lab(rgb):
    assert colour_of_tissue(light(*rgb))[0, 0] == lab(light(*rgb))[0, 0]


@given(st.tuples(*[st.floats(-0.2, 3.0)] * 3))
def test_every_colour_has_densities(linear):
    """A correction may leave light below 0 and above 1."""
    seen = colour_of_tissue(np.array([linear], np.float32))
    assert np.isfinite(seen).all()
    assert np.isfinite(log_densities(seen, None)).all()


@pytest.mark.parametrize("ita_deg", [55, 30, 0, -40])
def test_new_skin_may_have_the_tone_of_the_old(ita_deg):
    skin = colour_of_tissue(tone(ita_deg)[np.newaxis])[0]
    pink = np.array(SHADES["epithelial"][0].middle, np.float32)
    healed = (0.15 * pink + 0.85 * skin)[np.newaxis].astype(np.float32)
    alone, beside = log_densities(healed, None)[0], log_densities(healed, skin)[0]
    assert beside[EPITHELIAL] > alone[EPITHELIAL]
    np.testing.assert_array_equal(np.delete(beside, EPITHELIAL), np.delete(alone, EPITHELIAL))


def test_pink_stays_new_skin_on_dark_skin():
    skin = colour_of_tissue(tone(-45)[np.newaxis])[0]
    found = log_densities(colour_of_tissue(light(220, 150, 140)), skin)[0]
    assert found.argmax() == EPITHELIAL
