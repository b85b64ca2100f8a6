"""The printed stickers: what lies where on each layout, in millimetres.

Origin at the upper left corner of a layout's bounding box, x to the right, y down. Every layout has three tracks:
a *hem* of checkerboard cells along the outer edge, whose crossings (saddle points) fix the wound plane; a middle
track with coded markers, colour patches and the field to write in; a ruler along the edge that faces the wound.

A layout never changes once it has been printed. A better one gets a new version and new marker numbers, so that
a photo of an old print is measured with the old geometry.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

DICTIONARY = "DICT_4X4_50"
"""The OpenCV dictionary of the markers. Its cells are the largest, so it is read from the farthest away.

The nine numbers used differ from one another in at least 5 of 16 bits, in every rotation, and from one another's
mirror image in at least 3 (found by trying all sets of the dictionary).
"""


@dataclass(frozen=True)
class Rect:
    """An upright rectangle: upper left corner, width and height in mm."""

    x: float
    y: float
    width: float
    height: float

    @property
    def corners(self) -> Points:
        """Corners as ndarray of shape (4, 2), clockwise on paper from the upper left."""
        x, y, right, bottom = self.x, self.y, self.x + self.width, self.y + self.height
        return np.array([(x, y), (right, y), (right, bottom), (x, bottom)], dtype=np.float64)


@dataclass(frozen=True)
class Marker:
    """A coded square: its number in `DICTIONARY` and its place."""

    number: int
    place: Rect


@dataclass(frozen=True)
class Hem:
    """Checkerboard cells on a regular grid; a cell (column, row) is black where column + row is even."""

    x: float
    y: float
    pitch: float
    cells: frozenset[tuple[int, int]]

    def crossings(self) -> list[tuple[int, int]]:
        """Grid corners (column, row) with a cell on all four sides, row by row."""
        return sorted(
            ((c, r) for c, r in self.cells if {(c - 1, r), (c, r - 1), (c - 1, r - 1)} <= self.cells),
            key=lambda corner: (corner[1], corner[0]),
        )

    def signs(self, saddles: Points) -> NDArray[np.float64]:
        """Return +1 where the cell to the lower right of a saddle point (N, 2) in mm is black, else -1; shape (N,)."""
        corners = np.rint((saddles - (self.x, self.y)) / self.pitch)
        return np.where(corners.sum(axis=1) % 2 == 0, 1.0, -1.0)

    def black(self) -> list[Rect]:
        """Return the black cells, row by row."""
        step = self.pitch
        cells = sorted(self.cells, key=lambda cell: (cell[1], cell[0]))
        return [Rect(self.x + c * step, self.y + r * step, step, step) for c, r in cells if (c + r) % 2 == 0]


@dataclass(frozen=True)
class Patch:
    """A flat colour with its published reference values.

    Values of the 24-patch chart used across photography: CIE L*a*b* (D50, 2 degrees) and 8-bit sRGB, edition after
    November 2014, as carried by the library colour-science 0.4.6 (``ColorChecker24 - After November 2014``).
    An office printer does not reproduce them exactly: they say what was intended.
    """

    name: str
    place: Rect
    lab_d50: tuple[float, float, float]
    srgb: tuple[int, int, int]


@dataclass(frozen=True)
class Ruler:
    """Graduations every mm along an edge, with centimetre numerals; ``into`` points from the edge into the sticker."""

    x: float
    y: float
    along: tuple[int, int]
    into: tuple[int, int]
    length: int


@dataclass(frozen=True)
class Field:
    """An empty box to write in, with a small caption."""

    caption: str
    place: Rect


@dataclass(frozen=True)
class Label:
    """Small print, ``height`` in mm; (x, y) is the left end of the base line."""

    text: str
    x: float
    y: float
    height: float


@dataclass(frozen=True, eq=False)
class Layout:
    """One named, versioned arrangement; see the module for axes and tracks.

    ``aim`` is where a wound is expected relative to the sticker: the reference place for predicted precision and
    the prior for the outline proposal.
    """

    name: str
    version: int
    outline: Points
    hem: Hem
    markers: tuple[Marker, ...]
    patches: tuple[Patch, ...]
    rulers: tuple[Ruler, ...]
    fields: tuple[Field, ...]
    labels: tuple[Label, ...]
    aim: tuple[float, float]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the bounding box."""
        width, height = self.outline.max(axis=0)
        return float(width), float(height)

    @cached_property
    def saddles(self) -> Points:
        """Saddle points of the hem as ndarray of shape (N, 2), in mm."""
        corner = np.array(self.hem.crossings(), dtype=np.float64)
        return np.array((self.hem.x, self.hem.y)) + corner * self.hem.pitch

    @cached_property
    def saddle_signs(self) -> NDArray[np.float64]:
        """Return +1 where the cell to the lower right of a saddle point is black, else -1; shape (N,)."""
        return self.hem.signs(self.saddles)


_CHART: Mapping[str, tuple[tuple[float, float, float], tuple[int, int, int]]] = MappingProxyType(
    {
        "dark skin": ((37.54, 14.37, 14.92), (116, 79, 65)),
        "light skin": ((64.66, 19.27, 17.50), (197, 144, 127)),
        "moderate red": ((50.57, 48.64, 16.67), (197, 80, 95)),
        "orange yellow": ((71.51, 18.24, 67.37), (227, 161, 44)),
        "green": ((54.38, -39.72, 32.27), (59, 147, 72)),
        "purplish blue": ((39.43, 10.75, -45.17), (70, 90, 166)),
        "neutral 8": ((81.29, -0.57, 0.44), (201, 202, 201)),
        "neutral 6.5": ((66.89, -0.75, -0.06), (161, 163, 163)),
        "neutral 5": ((50.76, -0.13, 0.14), (121, 121, 121)),
        "neutral 3.5": ((35.63, -0.46, -0.48), (83, 84, 85)),
        "black 2": ((20.64, 0.07, -0.46), (50, 50, 50)),
    }
)
_GREYS = ("neutral 8", "neutral 6.5", "neutral 5", "neutral 3.5", "black 2")
_COLOURS = ("dark skin", "light skin", "moderate red", "orange yellow", "green", "purplish blue")


def _patch(name: str, place: Rect) -> Patch:
    lab, srgb = _CHART[name]
    return Patch(name, place, lab, srgb)


def _patches(names: tuple[str, ...], first: Rect, columns: int) -> tuple[Patch, ...]:
    """Patches side by side without gaps, row by row, from the place of the first one."""
    return tuple(
        _patch(
            name,
            Rect(
                first.x + (i % columns) * first.width,
                first.y + (i // columns) * first.height,
                first.width,
                first.height,
            ),
        )
        for i, name in enumerate(names)
    )


def _block(columns: range, rows: range) -> set[tuple[int, int]]:
    return {(c, r) for c in columns for r in rows}


def _corner() -> Layout:
    """Lay out two arms of 20 mm, 80 and 60 mm long; the wound lies in the angle, the rulers start there."""
    cells = _block(range(31), range(2)) | _block(range(2), range(23))
    cells |= _block(range(28, 31), range(5)) | _block(range(5), range(20, 23))
    side = 6.6
    return Layout(
        name="corner",
        version=1,
        outline=np.array([(0, 0), (80, 0), (80, 20), (20, 20), (20, 60), (0, 60)], dtype=np.float64),
        hem=Hem(1.25, 1.25, 2.5, frozenset(cells)),
        markers=(
            Marker(6, Rect(7.5, 7.5, side, side)),
            Marker(7, Rect(41.7, 7.5, side, side)),
            Marker(12, Rect(61.7, 7.5, side, side)),
            Marker(13, Rect(7.5, 41.7, side, side)),
        ),
        patches=(
            *_patches(_GREYS, Rect(49.6, 10.8, 2.2, 3.3), 5),
            *_patches(
                tuple(name for pair in zip((*_GREYS, _GREYS[0]), _COLOURS, strict=True) for name in pair),
                Rect(7.5, 16.0, 3.3, 4.0),
                2,
            ),
        ),
        rulers=(Ruler(20, 20, (1, 0), (0, -1), 60), Ruler(20, 20, (0, 1), (-1, 0), 40)),
        fields=(
            Field("code", Rect(15.6, 7.5, 9.6, 6.6)),
            Field("date", Rect(25.2, 7.5, 9.0, 6.6)),
            Field("by", Rect(34.2, 7.5, 6.2, 6.6)),
        ),
        labels=(Label("ebbline corner 1", 49.6, 9.6, 1.1),),
        aim=(50.0, 40.0),
    )


def _strip() -> Layout:
    """Lay out a bar of 100 x 20 mm, to lie along a wound."""
    cells = _block(range(39), range(2)) | _block(range(3), range(5)) | _block(range(36, 39), range(5))
    side = 6.6
    return Layout(
        name="strip",
        version=1,
        outline=Rect(0, 0, 100, 20).corners,
        hem=Hem(1.25, 1.25, 2.5, frozenset(cells)),
        markers=(
            Marker(18, Rect(16.7, 7.5, side, side)),
            Marker(19, Rect(46.7, 7.5, side, side)),
            Marker(20, Rect(76.7, 7.5, side, side)),
        ),
        patches=(
            *_patches(_GREYS[::2], Rect(10.2, 7.5, 1.8, 6.6), 3),
            *_patches(_GREYS + _COLOURS, Rect(54.8, 7.5, 3.4, 3.3), 6),
            *_patches(_GREYS[::2], Rect(84.5, 7.5, 1.8, 6.6), 3),
        ),
        rulers=(Ruler(5, 20, (1, 0), (0, -1), 90),),
        fields=(
            Field("code", Rect(24.6, 7.5, 8.2, 5.2)),
            Field("date", Rect(32.8, 7.5, 7.4, 5.2)),
            Field("by", Rect(40.2, 7.5, 5.2, 5.2)),
        ),
        labels=(Label("ebbline strip 1", 24.6, 14.1, 1.0),),
        aim=(50.0, 40.0),
    )


def _tile() -> Layout:
    """Lay out a square of 26 mm for toes and tight places."""
    cells = _block(range(12), range(2)) | _block(range(2), range(9)) | _block(range(10, 12), range(5))
    side = 6.4
    return Layout(
        name="tile",
        version=1,
        outline=Rect(0, 0, 26, 26).corners,
        hem=Hem(1.0, 1.0, 2.0, frozenset(cells)),
        markers=(
            Marker(22, Rect(6.2, 6.2, side, side)),
            Marker(23, Rect(18.4, 13.1, side, side)),
        ),
        patches=(*_patches(_GREYS + _COLOURS[:4], Rect(13.7, 6.0, 2.0, 2.0), 3),),
        rulers=(Ruler(3, 26, (1, 0), (0, -1), 20),),
        fields=(
            Field("code", Rect(6.2, 13.6, 11.0, 3.2)),
            Field("date, by", Rect(6.2, 16.8, 11.0, 3.2)),
        ),
        labels=(Label("tile 1", 15.6, 22.4, 1.1),),
        aim=(13.0, 42.0),
    )


LAYOUTS: Mapping[str, Layout] = MappingProxyType({layout.name: layout for layout in (_corner(), _strip(), _tile())})
"""The layouts that can be printed and are recognised, by name."""
