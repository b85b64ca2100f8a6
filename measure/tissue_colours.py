"""What colour each tissue has: how probable a corrected colour is for granulation, slough, necrosis, new skin, or none.

A colour is told by its lightness L* and by a* and b* as they would be at L* = 50, that is times 66 / (L* + 16).
Shading, and a light stronger than thought, scale all linear light alike; in CIE L*a*b* that scales L* + 16, a* and b*
alike (but for the nearly black), so the last two stay as they are, and only lightness depends on how the bed is lit.

What this rests on: no photographs are freely licensed whose tissue is labelled pixel by pixel. The colours below are
those that the trade's words name (common practice: beefy to pale red, yellow to tan to grey, black to brown, pink), put
into numbers by hand, with reasons in physics beside them, and adjusted until they told the tissues of a dozen rendered
wounds apart. So rendered photographs tell how well lamp and camera are taken out of the answer, not how often a real
bed is named rightly: that is for the person who looks at the wound.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from calibration.colour import lab

TISSUES = ("granulation", "slough", "necrotic", "epithelial", "unclear")
"""Tissue classes, in the order of all arrays; the last is what can't be told or fits none of the others."""

Map = NDArray[np.float32]


class Shade(NamedTuple):
    """A colour that a tissue has: its middle and its standard deviations, in L* and in a* and b* at L* = 50."""

    middle: tuple[float, float, float]
    spread: tuple[float, float, float]
    weight: float


SHADES: Mapping[str, tuple[Shade, ...]] = MappingProxyType(
    {
        "granulation": (  # blood near the surface absorbs green and blue, and red comes back
            Shade((32.0, 52.0, 31.0), (11.0, 8.0, 5.0), 0.5),  # beefy red
            Shade((46.0, 36.0, 26.0), (11.0, 8.0, 5.0), 0.4),  # paler, more fibrous
            Shade((60.0, 24.0, 18.0), (9.0, 6.0, 4.0), 0.25),  # pale, or under a film of fluid that mirrors some light
        ),
        "slough": (  # fibrin and dead cells: no blood, much scattering, and blue absorbed
            Shade((69.0, 2.0, 22.0), (10.0, 3.5, 4.5), 0.55),  # yellow
            Shade((55.0, 5.0, 23.0), (8.0, 4.0, 4.0), 0.25),  # tan
            Shade((76.0, 1.0, 12.0), (8.0, 3.0, 4.0), 0.15),  # cream to grey
        ),
        "necrotic": (  # dried, and its blood turned brown: all light is absorbed, red a little less
            Shade((13.0, 5.0, 7.0), (5.0, 6.0, 8.0), 0.35),  # black: of so little light, noise makes any hue
            Shade((22.0, 8.0, 12.0), (6.0, 5.0, 6.0), 0.25),  # dark brown
            Shade((38.0, 14.0, 18.0), (9.0, 6.0, 5.0), 0.2),  # brown and leathery, or with a shine on it
            Shade((20.0, 28.0, 18.0), (7.0, 9.0, 6.0), 0.2),  # dark with red shining through or beside it
        ),
        "epithelial": (  # thin new skin over blood: pink
            Shade((64.0, 17.0, 11.5), (9.0, 4.0, 2.5), 1.0),
        ),
        "unclear": (
            Shade((93.0, 1.0, 4.0), (5.0, 5.0, 6.0), 0.5),  # glare mirrors the lamp
            Shade((13.0, 70.0, 42.0), (7.0, 4.0, 4.0), 0.2),  # a pool of fresh blood: hardly any green or blue returns
        ),
    }
)
"""The colours of each tissue; weights are relative within one tissue."""

_ELSEWHERE = np.float32(0.02 / (100 * 120 * 120))
"""Density of 'unclear' at any colour, for it may have every one: what is more than some three standard deviations from
each shade of each tissue is none of them."""

_LEAST = np.float32(1e-30)  # density that stands for none

_HEALING = ((0.5, 0.25), (0.85, 0.15))
"""New skin takes on the tone of the old one as it thickens: how far the way from pink to the person's own skin, and the
weight of such colours beside the pink of the table."""


def colour_of_tissue(linear: Map) -> Map:
    """Return lightness and the two chroma numbers, shape (..., 3), of linear reflectance, shape (..., 3)."""
    seen = lab(linear)
    seen[..., 1:] *= (66 / (np.maximum(seen[..., :1], 0) + 16)).astype(np.float32)
    return seen


def log_densities(seen: Map, skin: Map | None) -> Map:
    """Return the logarithm of each tissue's density at colours.

    Parameters
    ----------
    seen : ndarray of shape (N, 3)
        As `colour_of_tissue` gives them.
    skin : ndarray of shape (3,) or None
        Colour of the person's own skin near the wound, where it could be seen.

    Returns
    -------
    ndarray of shape (N, 5)
        In the order of `TISSUES`.
    """
    shades = [(number, shade) for number, name in enumerate(TISSUES) for shade in _shades(name, skin)]
    weights, offsets = _exponents([shade for _, shade in shades])
    normal = np.exp(np.hstack([np.square(seen), seen]) @ weights + offsets)
    of_tissue = np.zeros((len(shades), len(TISSUES)), np.float32)
    of_tissue[range(len(shades)), [number for number, _ in shades]] = 1
    densities = normal @ of_tissue
    densities[:, -1] += _ELSEWHERE
    return np.asarray(np.log(densities + _LEAST), np.float32)


def _shades(name: str, skin: Map | None) -> list[Shade]:
    """Return the colours of a tissue, its weights summing to 1."""
    shades = [*SHADES[name], *(_healing(skin) if name == "epithelial" and skin is not None else ())]
    total = sum(shade.weight for shade in shades)
    return [shade._replace(weight=shade.weight / total) for shade in shades]


def _exponents(shades: list[Shade]) -> tuple[Map, Map]:
    """Return K weighted normal densities as exponents: weights of squares and colours (6, K), and offsets (K,)."""
    middles, spreads = (np.array(values) for values in zip(*((s.middle, s.spread) for s in shades), strict=True))
    precise = 1 / np.square(spreads)
    scale = np.log([shade.weight for shade in shades]) - 1.5 * np.log(2 * np.pi) - np.log(spreads).sum(axis=1)
    offsets = scale - 0.5 * (np.square(middles) * precise).sum(axis=1)
    weights = np.vstack([-0.5 * precise.T, (middles * precise).T])
    return weights.astype(np.float32), offsets.astype(np.float32)


def _healing(skin: Map) -> list[Shade]:
    """Return the colours between pink and a person's own skin."""
    (pink,) = SHADES["epithelial"]
    middles = [np.asarray(pink.middle) * (1 - way) + way * skin for way, _ in _HEALING]
    return [
        Shade((float(m[0]), float(m[1]), float(m[2])), pink.spread, weight)
        for m, (_, weight) in zip(middles, _HEALING, strict=True)
    ]
