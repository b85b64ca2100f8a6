"""The tissue of wounds drawn over the photo, in the colours and hatches of `measure.hatching`, and its legend."""

import math
from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
from PIL import Image, ImageDraw

from calibration.sticker import Points
from measure import hatching
from measure.canvas import INK, MAX_SIDE_PX, RIM, Canvas, Colour, Pixels
from measure.flat import Mask
from measure.hatching import HATCHES, LOOKS, RIM_WIDTH, WASH, Look, raster
from measure.outline import Outline
from measure.skin import Map
from measure.tissue import NONE, TissueMap, regions
from measure.tissue_colours import TISSUES

NO_COLOUR = "Colour not known: no tissue is shown."

Entry = tuple[Look | None, str]
"""A word or more of a legend, and the hatch that stands before it."""

_FINER = 4  # the lines of a hatch are drawn this much finer and then reduced, so that they are smooth
_GROUND = 150  # grey that a legend's hatches lie on: as light as most tissue and skin
_ROW, _SWATCH, _GAP = 26, (44, 20), 8  # height of a row, width and height of a hatch, gap after it: in line widths
_APART = 20  # from one entry to the next, in line widths


def draw_tissue(canvas: Canvas, tissue: TissueMap, outline: Outline) -> None:
    """Draw the tissue of one wound, inside its outline.

    Parameters
    ----------
    canvas : Canvas
    tissue : TissueMap
    outline : Outline
        Of the wound, in px of the photo.
    """
    found = [(region.tissue, [_rounded(ring) for ring in region.rings]) for region in regions(tissue)]
    labels = np.full(canvas.pixels.shape[:2], NONE, np.uint8)
    for name, rings in found:
        canvas.fill(labels, rings, TISSUES.index(name))
    inside = np.zeros_like(labels)
    canvas.fill(inside, (outline.exterior, *outline.holes), 1)
    labels[inside == 0] = NONE
    for name in {name for name, _ in found}:
        _hatch(canvas.pixels, labels == TISSUES.index(name), LOOKS[name], _scale(canvas))
    for name, rings in found:
        for ring in rings:
            canvas.ring(ring, _rgb(LOOKS[name].colour), thin=True)


def _rounded(ring: Points) -> Points:
    """Cut the corners of a ring (Chaikin 1974), twice: they come from the pixels of the map."""
    for _ in range(2):
        onward = np.roll(ring, -1, axis=0)
        ring = np.stack((0.75 * ring + 0.25 * onward, 0.25 * ring + 0.75 * onward), axis=1).reshape(-1, 2)
    return ring


def legend(tissues: Sequence[TissueMap]) -> list[Entry]:
    """Return what explains the hatches of some wounds.

    Parameters
    ----------
    tissues : sequence of TissueMap
        A wound each. Of a single one the percents are told too, all but 0 %, be there a region of it or not: they sum
        to 100. Those of several can't be told apart in a legend, so it names what is drawn.
    """
    note = "A suggestion from colour; what you see counts."
    drawn = [name for name in LOOKS if any((tissue.labels == TISSUES.index(name)).any() for tissue in tissues)]
    if len(tissues) != 1:
        return [*((LOOKS[name], LOOKS[name].word) for name in drawn), (None, note)]
    shares = tissues[0].shares
    figures = [
        (look, f"{look.word} {shares[name].percent:.0f} \u00b1 {shares[name].expanded_uncertainty:.0f} %")
        for name, look in LOOKS.items()
        if name in drawn or round(shares[name].percent)
    ]
    return [*figures, (None, f"Percent of the wound's area, \u00b1 for k = 2. {note}")]


def with_legend(canvas: Canvas, entries: Sequence[Entry]) -> Pixels:
    """Return the canvas with a strip of entries below it, at most `MAX_SIDE_PX` on a side."""
    placed, height = _laid_out(canvas, entries)
    strip = np.full((height, canvas.pixels.shape[1], 3), RIM, np.uint8)
    for left, top, (look, _) in placed:
        if look is not None:
            low, high = top + (_ROW - _SWATCH[1]) // 2 * canvas.line, left + _SWATCH[0] * canvas.line
            swatch = strip[low : low + _SWATCH[1] * canvas.line, left:high]
            swatch[:] = _GROUND
            _hatch(swatch, np.ones(swatch.shape[:2], np.bool_), look, _scale(canvas))
    picture = Image.fromarray(strip)
    draw = ImageDraw.Draw(picture)
    for left, top, (look, words) in placed:
        middle = (left + _swatch_width(canvas, look), top + _ROW * canvas.line // 2)
        draw.text(middle, words, INK, canvas.font, anchor="lm")
    whole = np.vstack((canvas.pixels, np.asarray(picture)))
    scale = MAX_SIDE_PX / max(whole.shape[:2])
    if scale >= 1:
        return whole
    size = (round(whole.shape[1] * scale), round(whole.shape[0] * scale))
    return np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), np.uint8)


def _laid_out(canvas: Canvas, entries: Sequence[Entry]) -> tuple[list[tuple[int, int, Entry]], int]:
    """Return left and top of each entry in rows as wide as the canvas, and their height; a sentence may be broken."""
    room, margin = canvas.pixels.shape[1], _GAP * canvas.line
    placed: list[tuple[int, int, Entry]] = []
    left, top = margin, margin // 2
    for look, words in entries:
        parts = [words] if look else words.split()
        if look is None and placed:
            left, top = margin, top + _ROW * canvas.line
        for part in parts:
            width = _swatch_width(canvas, look) + math.ceil(canvas.font.getlength(part))
            if left > margin and left + width > room - margin:
                left, top = margin, top + _ROW * canvas.line
            placed.append((left, top, (look, part)))
            left += width + (_APART * canvas.line if look else math.ceil(canvas.font.getlength(" ")))
    return placed, top + _ROW * canvas.line + margin // 2


def _swatch_width(canvas: Canvas, look: Look | None) -> int:
    return (_SWATCH[0] + _GAP) * canvas.line if look else 0


def _scale(canvas: Canvas) -> int:
    """Return px of the canvas for one of the screen: whole, so that the tiles of a hatch are whole too."""
    return canvas.line - 1


def _hatch(pixels: Pixels, where: Mask, look: Look, scale: int) -> None:
    """Draw wash and hatch over some pixels, in place."""
    ink, through = _tile(look, scale)
    left, top, width, height = cv2.boundingRect(where.astype(np.uint8))
    rows, columns = np.nonzero(where[top : top + height, left : left + width])  # a wound is a small part of a photo
    rows, columns = rows + top, columns + left
    at = rows % len(ink), columns % len(ink)
    pixels[rows, columns] = np.rint(pixels[rows, columns] * through[at] + ink[at]).astype(np.uint8)


@cache
def _tile(look: Look, scale: int) -> tuple[Map, Map]:
    """Return what a tile of a hatch adds to a picture (n, n, 3), and how much it lets through (n, n, 1)."""
    side = round(HATCHES[look.pattern].tile * scale)
    ink = np.full((side, side, 3), WASH * np.array(_rgb(look.colour)), np.float32)
    through = np.full((side, side, 1), 1 - WASH, np.float32)
    for colour, grow in ((hatching.RIM, RIM_WIDTH), (look.colour, 0.0)):
        fine = raster(look, _FINER * side, _FINER * side, _FINER * scale, grow=grow).astype(np.float32)
        covered = cv2.resize(fine, (side, side), interpolation=cv2.INTER_AREA)[..., np.newaxis]
        ink = ink * (1 - covered) + covered * np.array(_rgb(colour), np.float32)
        through *= 1 - covered
    return ink, through


def _rgb(colour: str) -> Colour:
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return red, green, blue
