"""The printed sticker as an object: where it lies, how it was printed, what is written on it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache, partial
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon

from calibration.sheet import sticker_png
from calibration.sticker import LAYOUTS, Layout, Rect

from .press import PAPER, PRESS, Press

FINEST = 40
"""Pixels a mm of the finest print: the edges of hem and markers then fall on pixel borders."""

_BALLPOINT = (0.03, 0.045, 0.16)
_HAND = cv2.FONT_HERSHEY_SCRIPT_SIMPLEX
_WHITE = 65535


@dataclass(frozen=True)
class Sticker:
    """One printed sticker on, or above, the skin.

    Attributes
    ----------
    layout : str
        Name of the layout.
    turn_deg : float
        Turn on the plane.
    gap_mm : float
        Room between the sticker's inner edge and the wound, where ``at_mm`` does not say otherwise.
    at_mm : tuple of float, optional
        Where the layout's origin lies on the plane.
    lift_mm : float
        Height above the wound plane.
    print_scale : float
        Size of the print relative to the drawing.
    print_stretch : float
        How much longer than that the printer prints down the layout (y).
    grey : bool
        Printed by a black-and-white printer.
    writing : tuple of str
        What a pen wrote into the fields, in their order.
    print_error : float
        How far each patch is off its colour, about, in CIEDE2000.
    ink : float
        Reflectance of printed black, relative to the paper.
    paper : tuple of float
        Reflectance of the paper in linear red, green and blue.
    """

    layout: str = "corner"
    turn_deg: float = 0.0
    gap_mm: float = 6.0
    at_mm: tuple[float, float] | None = None
    lift_mm: float = 0.0
    print_scale: float = 1.0
    print_stretch: float = 1.0
    grey: bool = False
    writing: tuple[str, ...] = ()
    print_error: float = 0.0
    ink: float = PRESS.ink
    paper: tuple[float, float, float] = PAPER

    def press(self, seed: int) -> Press:
        """Return the press that printed it in the scene of this seed."""
        return Press(self.ink, self.paper, self.print_error, seed if self.print_error else 0)

    def pose(self, wound: Polygon) -> NDArray[np.float64]:
        """Return the 3 x 3 matrix from layout mm to plane mm."""
        angle = np.radians(self.turn_deg)
        turn = self.print_scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        turn = turn * (1.0, self.print_stretch)
        shift = self.at_mm or -turn @ self._wound_middle(wound)
        return np.vstack([np.column_stack([turn, shift]), (0, 0, 1)])

    def _wound_middle(self, wound: Polygon) -> NDArray[np.float64]:
        """Return where the wound's origin lies on the layout, so that the gap is kept."""
        left, top, right, _ = affinity.rotate(wound, -self.turn_deg, origin=(0, 0)).bounds
        layout = LAYOUTS[self.layout]
        if self.layout == "corner":
            return np.array([20.0 + self.gap_mm - left, 20.0 + self.gap_mm - top])
        width, height = layout.size_mm
        return np.array([width / 2 - (left + right) / 2, height + self.gap_mm - top])


def outline_on_plane(layout: Layout, pose: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the corners of the sticker in mm on the plane, shape (N, 2)."""
    return layout.outline @ pose[:2, :2].T + pose[:2, 2]


def printed(
    sticker: str,
    grey: bool,  # noqa: FBT001
    writing: tuple[str, ...],
    px_per_mm: int,
    press: Press = PRESS,
) -> NDArray[np.uint16]:
    """Return the print in linear light, colour times cover and cover, shape (H, W, 4), 65535 for 1.

    ``px_per_mm`` divides `FINEST`; coarser prints are exact averages of the finest.
    """
    print_of = _finest if px_per_mm == FINEST else partial(_coarser, factor=FINEST // px_per_mm)
    return print_of(sticker, grey, writing, press)


@lru_cache(maxsize=32)
def _coarser(
    sticker: str,
    grey: bool,  # noqa: FBT001
    writing: tuple[str, ...],
    press: Press,
    factor: int,
) -> NDArray[np.uint16]:
    finest = _finest(sticker, grey, writing, press)
    size = -(-finest.shape[1] // factor), -(-finest.shape[0] // factor)
    padded = cv2.copyMakeBorder(
        finest, 0, size[1] * factor - finest.shape[0], 0, size[0] * factor - finest.shape[1], cv2.BORDER_CONSTANT
    )
    return np.asarray(cv2.resize(padded, size, interpolation=cv2.INTER_AREA), np.uint16)


@lru_cache(maxsize=4)
def _finest(sticker: str, grey: bool, writing: tuple[str, ...], press: Press) -> NDArray[np.uint16]:  # noqa: FBT001
    if not (grey or writing):
        return _as_drawn(sticker, press)
    drawing = _drawing(sticker)
    linear = press.reflectance()[drawing[..., :3]]
    if press.error:
        for here, colour in _misprinted(drawing, LAYOUTS[sticker], press):
            linear[here] = colour
    if grey:
        linear[:] = _luminance(linear)[..., None]
    for field, text in zip(LAYOUTS[sticker].fields, writing, strict=False):
        _write(linear, text, field.place)
    linear *= np.array(press.paper, np.float32)
    cover = drawing[..., 3:].astype(np.float32) / 255
    return _stored(np.concatenate([linear * cover, cover], axis=2))


def _as_drawn(sticker: str, press: Press) -> NDArray[np.uint16]:
    """Return the print that nothing was written on, by a table: each drawn value has one reflectance."""
    drawing, paper = _drawing(sticker), np.array(press.paper, np.float32)
    inked = np.asarray(press.reflectance()[:, None] * paper, np.float32)
    cover = np.asarray(np.arange(256, dtype=np.float32)[:, None] / 255, np.float32)
    table = _stored(np.concatenate([inked, cover], axis=1))
    pixels = np.asarray(cv2.LUT(drawing, table[None]), np.uint16)
    if press.error:
        for here, colour in _misprinted(drawing, LAYOUTS[sticker], press):
            pixels[here[0], here[1], :3] = _stored(colour * paper)
    shown = drawing[..., 3]
    pixels[shown == 0] = 0
    rows, columns = np.nonzero((shown > 0) & (shown < 255))
    rim = inked[drawing[rows, columns, :3], np.arange(3)] * cover[shown[rows, columns]]
    pixels[rows, columns, :3] = _stored(np.asarray(rim, np.float32))
    return pixels


def _stored(values: NDArray[np.float32]) -> NDArray[np.uint16]:
    return np.asarray(np.rint(values * _WHITE), np.uint16)


@lru_cache(maxsize=len(LAYOUTS))
def _drawing(sticker: str) -> NDArray[np.uint8]:
    """Return the drawn sticker at the finest scale, 8-bit, shape (H, W, 4)."""
    with Image.open(BytesIO(sticker_png(LAYOUTS[sticker], round(FINEST * 25.4)))) as drawing:
        return np.asarray(drawing.convert("RGBA"))


def _misprinted(
    drawing: NDArray[np.uint8], layout: Layout, press: Press
) -> Iterator[tuple[tuple[NDArray[np.intp], NDArray[np.intp]], NDArray[np.float32]]]:
    """Give for each patch its pixels (rows, columns) and the colour that this press gives it."""
    for patch in layout.patches:
        left, top, right, bottom = (round(side * FINEST) for side in _sides(patch.place))
        rows, columns = np.nonzero((drawing[top:bottom, left:right, :3] == patch.srgb).all(axis=2))
        yield (rows + top, columns + left), press.printed(patch.name, patch.srgb)


def _sides(place: Rect) -> tuple[float, float, float, float]:
    return place.x, place.y, place.x + place.width, place.y + place.height


def _luminance(linear: NDArray[np.float32]) -> NDArray[np.float32]:
    return linear @ np.array([0.2126, 0.7152, 0.0722], np.float32)


def _write(linear: NDArray[np.float32], text: str, place: Rect) -> None:
    """Write into a field with a ball pen, in place."""
    (width, _), _ = cv2.getTextSize(text, _HAND, 1.0, 1)
    room = place.width - _beside_caption(place) - 0.6
    size = min(0.4 * place.height * FINEST / 21, room * FINEST / max(width, 1))  # capitals are 21 units high
    pen = np.zeros(linear.shape[:2], np.uint8)
    at = round((place.x + _beside_caption(place)) * FINEST), round((place.y + 0.78 * place.height) * FINEST)
    cv2.putText(pen, text, at, _HAND, size, 255, round(0.28 * FINEST), cv2.LINE_AA)
    rows, columns = np.nonzero(pen)
    share = pen[rows, columns, None].astype(np.float32) / 255
    linear[rows, columns] += share * (np.array(_BALLPOINT, np.float32) - linear[rows, columns])


def _beside_caption(place: Rect) -> float:
    """Return mm from the left of a field to where the pen starts: a low field has its caption on the same line."""
    return 0.6 if place.height > 4 else 4.2
