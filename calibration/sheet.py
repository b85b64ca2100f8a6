"""Draws a layout true to size: a PDF sheet to print, an SVG, or a PNG of exact scale.

One list of boxes and texts in millimetres serves all three, so that they can't differ.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree as ET

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from calibration.errors import SheetError
from calibration.sticker import DICTIONARY, Layout, Marker, Rect, Ruler

PAPERS = {"a4": A4, "letter": LETTER}
"""Paper sizes a sheet can be drawn for, in points."""

PRINT_CHECK = (
    "Before you cut, lay a steel ruler on both lines: if this one is not 100 mm (99.5 to 100.5) or the upright",
    "one not 50 mm (49.75 to 50.25), throw the sheet away and print again at 100 %, 'actual size'.",
)

DPI_RANGE = (72, 2400)
"""Lowest and highest resolution of a PNG; beyond it the file is useless or does not fit in memory."""

_MM = 72.0 / 25.4  # points
_FONT = "Helvetica"
_NUMERAL_HEIGHT = 0.72  # of the font size, in Helvetica
_FAINT = (150, 150, 150)
_FRAME_WIDTH = 0.15  # mm
_TICKS = {10: 3.0, 5: 2.3, 1: 1.6}  # every so many mm: length in mm
_TICK_WIDTH = 0.18  # mm: survives a laser printer, and leaves four fifths of a mm white
_MARKER_CELLS = 6
_OVERLAP = 0.1  # mm
_MARGIN = 12.0  # mm: more than any office printer leaves blank
_GAP = 6.0  # mm between stickers, room for scissors
_UPRIGHT_FROM_EDGE = 6.5  # mm: printers leave about 5 mm blank
_FOOT = 24.0  # mm at the foot of a sheet for the print check

Colour = tuple[int, int, int]
_BLACK: Colour = (0, 0, 0)
_WHITE: Colour = (255, 255, 255)


@dataclass(frozen=True)
class _Box:
    """A filled rectangle."""

    place: Rect
    fill: Colour = _BLACK


@dataclass(frozen=True)
class _Text:
    """Upright text; (x, y) is the left end, or the middle, of the base line."""

    text: str
    x: float
    y: float
    height: float
    centred: bool = False

    @property
    def size(self) -> float:
        """Font size in mm."""
        return self.height / _NUMERAL_HEIGHT


def write_sticker(layout: Layout, path: Path, *, dpi: int = 600, paper: str = "a4") -> None:
    """Write the layout to a file whose suffix decides: .pdf a sheet of them, .svg or .png one.

    Parameters
    ----------
    layout : Layout
        What to draw.
    path : Path
        Ends in .pdf, .svg or .png.
    dpi : int
        Resolution of a PNG: exactly ``dpi / 25.4`` pixels a mm.
    paper : str
        A key of `PAPERS`, for a PDF.

    Raises
    ------
    SheetError
        If the suffix, the resolution or the paper is not one of those, or the file can't be written.
    """
    makers = {
        ".pdf": lambda: sheet_pdf(layout, paper),
        ".svg": lambda: sticker_svg(layout),
        ".png": lambda: sticker_png(layout, dpi),
    }
    maker = makers.get(path.suffix.lower())
    if maker is None:
        raise SheetError(f"'{path.name}' does not end in .pdf, .svg or .png: give the file one of these endings.")
    try:
        path.write_bytes(maker())
    except OSError as error:
        reason = error.strerror or error
        raise SheetError(f"'{path}' can't be written ({reason}): choose another folder or name.") from error


def sticker_svg(layout: Layout) -> bytes:
    """Return one sticker as SVG 1.1 (UTF-8) with its size in mm and one user unit a mm."""
    width, height = layout.size_mm
    size = {"width": f"{width:g}mm", "height": f"{height:g}mm", "viewBox": f"0 0 {width:g} {height:g}"}
    root = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "version": "1.1", **size})
    ET.SubElement(root, "title").text = _title(layout)
    outline = " ".join(f"{x:g},{y:g}" for x, y in layout.outline)
    ET.SubElement(root, "polygon", {"points": outline, "fill": _css(_WHITE)})
    for shape in _shapes(layout):
        root.append(_svg_text(shape) if isinstance(shape, _Text) else _svg_box(shape))
    document: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return document


def _title(layout: Layout) -> str:
    return f"ebbline {layout.name}, version {layout.version}"


def _svg_text(text: _Text) -> ET.Element:
    style = {"font-family": "Helvetica, Arial, sans-serif", "font-size": f"{text.size:.3f}"}
    anchor = {"text-anchor": "middle"} if text.centred else {}
    element = ET.Element("text", {"x": f"{text.x:.3f}", "y": f"{text.y:.3f}"} | style | anchor)
    element.text = text.text
    return element


def _svg_box(box: _Box) -> ET.Element:
    place = {name: f"{getattr(box.place, name):.4f}" for name in ("x", "y", "width", "height")}
    return ET.Element("rect", place | {"fill": _css(box.fill)})


def _css(colour: Colour) -> str:
    return f"rgb({colour[0]},{colour[1]},{colour[2]})"


def sticker_png(layout: Layout, dpi: int = 600) -> bytes:
    """Return one sticker as PNG of exactly ``dpi / 25.4`` pixels a mm, transparent outside its outline.

    The picture starts at the upper left corner of the layout; where its size is not a whole number of pixels, the
    last column or row is partly covered. A pixel that an edge crosses gets its exact share: rasterisers that snap
    edges to whole pixels make a sticker up to 0.07 % too large at 600 dpi.

    Raises
    ------
    SheetError
        If ``dpi`` is outside `DPI_RANGE`.
    """
    low, high = DPI_RANGE
    if not low <= dpi <= high:
        raise SheetError(f"{dpi} dpi was asked for: a sticker can be drawn at {low} to {high} dpi.")
    scale = dpi / 25.4
    width, height = (math.ceil(round(side * scale, 6)) for side in layout.size_mm)
    picture = Image.new("RGB", (width, height), _WHITE)
    draw = ImageDraw.Draw(picture)
    for text in (shape for shape in _shapes(layout) if isinstance(shape, _Text)):
        font = ImageFont.load_default(text.size * scale)
        draw.text((text.x * scale, text.y * scale), text.text, _BLACK, font, anchor="ms" if text.centred else "ls")
    pixels = np.array(picture)
    for box in (shape for shape in _shapes(layout) if isinstance(shape, _Box)):
        _paint(pixels, box, scale)
    picture = Image.fromarray(np.dstack([pixels, _outline_alpha(layout, (height, width), scale)]))
    buffer = BytesIO()
    picture.save(buffer, "PNG", dpi=(dpi, dpi))
    return buffer.getvalue()


def _paint(pixels: NDArray[np.uint8], box: _Box, scale: float) -> None:
    """Blend a box into the picture by the share of each pixel that it covers."""
    place = box.place
    left, top, right, bottom = (scale * v for v in (place.x, place.y, place.x + place.width, place.y + place.height))
    rows = slice(int(top), math.ceil(bottom))
    columns = slice(int(left), math.ceil(right))
    target = pixels[rows, columns]
    share = np.outer(_share(top, bottom, pixels.shape[0])[rows], _share(left, right, pixels.shape[1])[columns])
    blended = target + share[..., None] * (np.array(box.fill, dtype=np.float64) - target)
    pixels[rows, columns] = np.rint(blended).astype(np.uint8)


def _share(low: float, high: float, count: int) -> NDArray[np.float64]:
    """Share of each of ``count`` unit pixels that lies between two places on an axis."""
    start = np.arange(count)
    share: NDArray[np.float64] = np.clip(np.minimum(start + 1, high) - np.maximum(start, low), 0.0, 1.0)
    return share


def _outline_alpha(layout: Layout, shape: tuple[int, int], scale: float) -> NDArray[np.uint8]:
    """Opacity of each pixel: each horizontal edge of the upright outline adds or removes all that lies below it."""
    height, width = shape
    covered = np.zeros(shape)
    points = layout.outline * scale
    for (x0, y), (x1, _) in zip(points, np.roll(points, -1, axis=0), strict=True):
        sign = 1.0 if x1 > x0 else -1.0
        covered += sign * np.outer(_share(y, height, height), _share(min(x0, x1), max(x0, x1), width))
    return np.rint(255 * covered).astype(np.uint8)


def sheet_pdf(layout: Layout, paper: str = "a4") -> bytes:
    """Return a page full of the layout, with the lines that check the print, as PDF.

    Raises
    ------
    SheetError
        If ``paper`` is not a key of `PAPERS`.
    """
    if paper not in PAPERS:
        raise SheetError(f"Paper '{paper}' is not known: choose one of {', '.join(PAPERS)}.")
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=PAPERS[paper])
    canvas.setTitle(_title(layout))
    canvas.setAuthor("ebbline")
    canvas.setViewerPreference("PrintScaling", "None")
    for x, y in _places(layout, paper):
        _put_sticker(canvas, layout, x * _MM, PAPERS[paper][1] - y * _MM)
    _put_print_check(canvas, PAPERS[paper][0])
    canvas.save()
    return buffer.getvalue()


def _places(layout: Layout, paper: str) -> Iterator[tuple[float, float]]:
    """Upper left corners in mm of as many stickers as the page holds, centred across it."""
    page_width, page_height = (side / _MM for side in PAPERS[paper])
    width, height = layout.size_mm
    columns = int((page_width - 2 * _MARGIN + _GAP) // (width + _GAP))
    rows = int((page_height - 2 * _MARGIN - _FOOT + _GAP) // (height + _GAP))
    left = (page_width - columns * width - (columns - 1) * _GAP) / 2
    for row in range(rows):
        for column in range(columns):
            yield left + column * (width + _GAP), _MARGIN + row * (height + _GAP)


def _put_print_check(canvas: Canvas, page_width: float) -> None:
    """Draw 100 mm across the foot and 50 mm up the right margin, and the sentence: a print can stretch either way."""
    canvas.setFont(_FONT, 9)
    left, base = (page_width - 162 * _MM) / 2, (_MARGIN + 12.0) * _MM
    _put_measure(canvas, 100.0, left, base)
    for line, sentence in enumerate(PRINT_CHECK):
        canvas.drawString(left, base - (7.0 + 4.2 * line) * _MM, sentence)
    canvas.saveState()
    canvas.translate(page_width - _UPRIGHT_FROM_EDGE * _MM, _MARGIN * _MM)
    canvas.rotate(90)
    _put_measure(canvas, 50.0, 0.0, 0.0)
    canvas.restoreState()


def _put_measure(canvas: Canvas, length: float, x: float, y: float) -> None:
    """Draw a line of so many mm to the right of (x, y) points, with end strokes and its length above."""
    canvas.setLineWidth(0.2 * _MM)
    canvas.line(x, y, x + length * _MM, y)
    for end in (x, x + length * _MM):
        canvas.line(end, y - 1.5 * _MM, end, y + 1.5 * _MM)
    canvas.drawCentredString(x + length / 2 * _MM, y + 0.8 * _MM, f"{length:.0f} mm")


def _put_sticker(canvas: Canvas, layout: Layout, x: float, y: float) -> None:
    """Draw a sticker and the line to cut along; its upper left corner is at (x, y) points on the page."""
    canvas.setStrokeColorRGB(*_unit(_FAINT))
    canvas.setLineWidth(0.1 * _MM)
    path = canvas.beginPath()
    first, *others = ((x + px * _MM, y - py * _MM) for px, py in layout.outline)
    path.moveTo(*first)
    for point in others:
        path.lineTo(*point)
    path.close()
    canvas.drawPath(path)
    for shape in _shapes(layout):
        if isinstance(shape, _Text):
            _put_text(canvas, shape, x, y)
        else:
            _put_box(canvas, shape, x, y)


def _put_text(canvas: Canvas, text: _Text, x: float, y: float) -> None:
    canvas.setFillColorRGB(*_unit(_BLACK))
    canvas.setFont(_FONT, text.size * _MM)
    draw = canvas.drawCentredString if text.centred else canvas.drawString
    draw(x + text.x * _MM, y - text.y * _MM, text.text)


def _put_box(canvas: Canvas, box: _Box, x: float, y: float) -> None:
    place = box.place
    canvas.setFillColorRGB(*_unit(box.fill))
    corner = (x + place.x * _MM, y - (place.y + place.height) * _MM)
    canvas.rect(*corner, place.width * _MM, place.height * _MM, stroke=0, fill=1)


def _unit(colour: Colour) -> tuple[float, ...]:
    return tuple(value / 255 for value in colour)


def _shapes(layout: Layout) -> Iterator[_Box | _Text]:
    """Everything printed on the white of the sticker, in the order of painting."""
    for cell in layout.hem.black():
        yield _Box(cell)
    for marker in layout.markers:
        yield from _marker_shapes(marker)
    for patch in layout.patches:
        yield _Box(patch.place, patch.srgb)
    for ruler in layout.rulers:
        yield from _ruler_shapes(ruler, layout.size_mm)
    for field in layout.fields:
        yield from _frame(field.place)
        yield _Text(field.caption, field.place.x + 0.4, field.place.y + 1.3, 0.9)
    for label in layout.labels:
        yield _Text(label.text, label.x, label.y, label.height)


def _frame(place: Rect) -> Iterator[_Box]:
    """Yield four thin boxes along the inside of a rectangle."""
    x, y, width, height, line = place.x, place.y, place.width, place.height, _FRAME_WIDTH
    yield _Box(Rect(x, y, width, line), _FAINT)
    yield _Box(Rect(x, y + height - line, width, line), _FAINT)
    yield _Box(Rect(x, y, line, height), _FAINT)
    yield _Box(Rect(x + width - line, y, line, height), _FAINT)


def _marker_shapes(marker: Marker) -> Iterator[_Box]:
    """Yield a black square, then its white cells; white neighbours overlap, so that no hairline parts them."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    white = np.pad(cv2.aruco.generateImageMarker(dictionary, marker.number, _MARKER_CELLS) > 0, (0, 1))
    place, step = marker.place, marker.place.width / _MARKER_CELLS
    yield _Box(place)
    for row, column in np.argwhere(white):
        width = step + _OVERLAP * float(white[row, column + 1])
        height = step + _OVERLAP * float(white[row + 1, column])
        yield _Box(Rect(place.x + column * step, place.y + row * step, width, height), _WHITE)


def _ruler_shapes(ruler: Ruler, limit: tuple[float, float]) -> Iterator[_Box | _Text]:
    for mm in range(ruler.length + 1):
        length = next(length for every, length in _TICKS.items() if mm % every == 0)
        yield _Box(_tick(ruler, mm, length, limit))
        if mm % 10 == 0:
            yield _numeral(ruler, mm)


def _tick(ruler: Ruler, mm: int, length: float, limit: tuple[float, float]) -> Rect:
    """Return the bar of one graduation, centred on its mm but kept inside the sticker at its ends."""
    width, height = (_TICK_WIDTH, length) if ruler.along[0] else (length, _TICK_WIDTH)
    x = ruler.x + ruler.along[0] * (mm - _TICK_WIDTH / 2) + min(0.0, ruler.into[0] * length)
    y = ruler.y + ruler.along[1] * (mm - _TICK_WIDTH / 2) + min(0.0, ruler.into[1] * length)
    return Rect(min(x, limit[0] - width), min(y, limit[1] - height), width, height)


def _numeral(ruler: Ruler, mm: int) -> _Text:
    """Return the centimetre numeral of a graduation, upright; the last one stands back from the cut edge."""
    back = 1.0 if mm == ruler.length else 0.0
    x, y = (at + along * (mm - back) for at, along in zip((ruler.x, ruler.y), ruler.along, strict=True))
    reach = _TICKS[10] + 0.4
    if ruler.along[0]:
        return _Text(str(mm // 10), x, y - reach, 1.9, centred=True)
    return _Text(str(mm // 10), x - reach - 0.7, y + 0.95, 1.9, centred=True)
