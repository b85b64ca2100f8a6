"""What a printed patch reflects: the drawn colour is a wish, to which paper and printer add their own.

An office print is relative to its paper, and its black is not black: with the ink floor f a patch drawn with linear
light n reflects f + (1 - f) n of what the paper reflects.
"""

import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from calibration.sticker import LAYOUTS

Values = NDArray[np.float64]

PAPER_REFLECTANCE = 0.86
"""Of plain office paper in all channels: L* 94 (common practice; makers state 92 to 96)."""

PAPER_SIGMA_LAB = np.array((1.0, 0.7, 2.0))
"""Standard deviation of office paper in L*, a*, b*: brightened paper is bluish, recycled paper yellowish (common
practice). No patch shows it, since all stand on the same paper."""

INK_FLOOR = 0.035
"""What printed black reflects of the paper's light: a density of 1.46, usual for toner (common practice)."""

INK_FLOOR_SIGMA = 0.02
"""Its standard deviation: from fresh toner, 0.02, to ink that plain paper soaks up, 0.08 (common practice)."""

GREY_SIGMA = 0.06
"""Relative standard deviation of a printed grey in each channel: 2 L* and a tint of 2 units in the middle greys, as a
well-kept office printer has (common practice)."""

COLOUR_SIGMA = 0.10
"""The same of a printed colour, relative to its mean channel: about 5 CIEDE2000."""

HEM_SIGMA = 0.03
"""The same of the hem's white cells: colour that JPEG carries over from the black ones, 0.02 to 0.04 at 0.2 mm a px
(computed), and light that paper spreads under the ink beside."""

_DRAWN = {patch.name: linear_light()[list(patch.srgb)] for layout in LAYOUTS.values() for patch in layout.patches}


def is_grey(name: str) -> bool:
    """Tell whether a patch of the chart is neutral."""
    return name.startswith(("neutral", "black"))


def drawn(name: str) -> Values:
    """Return the linear light of a patch as it was drawn, shape (3,), paper being 1; any other name is paper."""
    return np.asarray(_DRAWN.get(name, np.ones(3)), dtype=np.float64)


def printed(name: str, floor: float = INK_FLOOR) -> Values:
    """Return what a patch reflects of the paper's light, shape (3,)."""
    return np.asarray(floor + (1 - floor) * drawn(name), dtype=np.float64)
