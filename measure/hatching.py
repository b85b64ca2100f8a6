"""How each tissue is drawn: a colour, a hatch and a word, one table for the page, the editor and the picture file.

Colour alone fails whoever is colour-blind, and on red, yellow and black tissue it fails everybody: so each class has a
hatch of its own, each line of it a dark rim, and none is red, yellow or black, which in wound care are the names of
the tissues themselves.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

RIM = "#101820"
"""Round every line of a hatch, so that it is seen on light tissue too; the outlines of the editor have the same."""

RIM_WIDTH = 1.5
"""Of the rim on either side of a line, in px of the screen: narrower ones vanish on a phone, from trial."""

WASH = 0.22
"""Opacity of the colour between the lines: more would hide the tissue that a person has to judge."""

Segment = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Hatch:
    """Lines with round ends in a square tile, repeated over an area.

    Attributes
    ----------
    tile : float
        Side of the tile in px of the screen.
    width : float
        Of the lines.
    segments : tuple of pairs of points
        Ends of each line in the tile; a dot is a line of no length. They may leave the tile.
    """

    tile: float
    width: float
    segments: tuple[Segment, ...]


HATCHES: Mapping[str, Hatch] = {
    "dots": Hatch(16.0, 4.6, (((4.0, 4.0), (4.0, 4.0)), ((12.0, 12.0), (12.0, 12.0)))),
    "slant": Hatch(18.0, 2.4, (((0.0, 18.0), (18.0, 0.0)),)),
    "cross": Hatch(22.0, 2.2, (((0.0, 22.0), (22.0, 0.0)), ((0.0, 0.0), (22.0, 22.0)))),
    "level": Hatch(13.0, 2.4, (((0.0, 6.5), (13.0, 6.5)),)),
    "dashes": Hatch(20.0, 2.6, (((5.0, 2.0), (5.0, 8.0)), ((15.0, 12.0), (15.0, 18.0)))),
}
"""Far enough apart that the tissue shows between the lines, and a fingertip covers three or four of them."""


@dataclass(frozen=True)
class Look:
    """How a tissue is drawn: its word, its colour as ``#rrggbb``, and the name of its hatch in `HATCHES`."""

    word: str
    colour: str
    pattern: str


LOOKS: Mapping[str, Look] = {
    "granulation": Look("Granulation", "#c9a0ff", "dots"),
    "slough": Look("Slough", "#ffffff", "slant"),
    "necrotic": Look("Necrotic", "#00d0a0", "cross"),
    "epithelial": Look("Epithelial", "#7dffa8", "level"),
    "unclear": Look("Unclear", "#a8b4c4", "dashes"),
}
"""In the order in which tissues are told. The colours lie at least 13 apart (CIEDE2000) for usual and for red-green
colour-blind eyes; each has a contrast of 4.5 to its rim, it or the rim one of 3 to any tissue and skin (WCAG 2.2)."""


def svg_pattern(look: Look) -> str:
    """Return the hatch as an SVG ``<pattern>``, in px of the screen; its id is ``hatch-`` and the hatch's name."""
    side = f"{HATCHES[look.pattern].tile:g}"
    size = f'width="{side}" height="{side}"'
    return f'<pattern id="hatch-{look.pattern}" patternUnits="userSpaceOnUse" {size}>{_drawn(look)}</pattern>'


def svg_tile(look: Look) -> str:
    """Return one tile of the hatch as an SVG picture, to be repeated as a background."""
    side = f"{HATCHES[look.pattern].tile:g}"
    size = f'width="{side}" height="{side}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{_drawn(look)}</svg>'


def svg_link(look: Look) -> str:
    """Return the tile as a ``data:`` address, free of quotes and brackets, for ``url()`` in a style."""
    return f"data:image/svg+xml,{quote(svg_tile(look))}"


def raster(look: Look, height: int, width: int, scale: float, *, grow: float = 0.0) -> NDArray[np.bool_]:
    """Return the pixels of a picture that lie on the lines of a hatch.

    Parameters
    ----------
    look : Look
    height, width : int
        Of the picture in px.
    scale : float
        Px of the picture for one of the screen: how large the hatch is drawn.
    grow : float
        By how much the lines are widened on either side, in px of the screen; `RIM_WIDTH` for their rims.

    Returns
    -------
    ndarray of bool, shape (height, width)
    """
    hatch = HATCHES[look.pattern]
    x, y = ((np.arange(size, dtype=np.float64) + 0.5) / scale % hatch.tile for size in (width, height))
    reach = hatch.width / 2 + grow
    on = np.zeros((height, width), dtype=np.bool_)
    for start, end in _repeated(hatch):
        on |= _squared_distance(x, y[:, np.newaxis], start, end) <= reach**2
    return on


def _drawn(look: Look) -> str:
    hatch = HATCHES[look.pattern]
    path = "".join(f"M{a:g} {b:g}L{c:g} {d:g}" for (a, b), (c, d) in _repeated(hatch))
    side = f"{hatch.tile:g}"
    wash = f'<rect width="{side}" height="{side}" style="fill:{look.colour};fill-opacity:{WASH}"/>'
    lines = ((RIM, hatch.width + 2 * RIM_WIDTH), (look.colour, hatch.width))
    return wash + "".join(
        f'<path d="{path}" style="fill:none;stroke:{colour};stroke-width:{width:g};stroke-linecap:round"/>'
        for colour, width in lines
    )


def _repeated(hatch: Hatch) -> list[Segment]:
    """Return the lines of a tile and of the eight round it: what leaves one tile enters the next."""
    steps = [(i * hatch.tile, j * hatch.tile) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    return [((a + x, b + y), (c + x, d + y)) for x, y in steps for (a, b), (c, d) in hatch.segments]


def _squared_distance(
    x: NDArray[np.float64], y: NDArray[np.float64], start: tuple[float, float], end: tuple[float, float]
) -> NDArray[np.float64]:
    along = end[0] - start[0], end[1] - start[1]
    length2 = along[0] ** 2 + along[1] ** 2
    share = ((x - start[0]) * along[0] + (y - start[1]) * along[1]) / (length2 or 1.0)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray((x - start[0] - share * along[0]) ** 2 + (y - start[1] - share * along[1]) ** 2)
