"""Draws a layout true to size: a PDF sheet to print, an SVG, or a PNG of exact scale.

One list of shapes in millimetres serves all three, so that they can't differ. The PNG is the PDF, rasterised.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree as ET

import cv2
import numpy as np
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from calibration.errors import SheetError
from calibration.sticker import DICTIONARY, Layout, Marker, Points, Rect, Ruler

PAPERS = {"a4": A4, "letter": LETTER}
"""Paper sizes a sheet can be drawn for, in points."""

PRINT_CHECK = (
    "Check the print before you cut: lay a steel ruler on both lines. If the long line is not 100 mm or the short",
    "line not 50 mm (half a millimetre is allowed), throw the sheet away and print at 100 %, 'actual size'.",
)

DPI_RANGE = (72, 2400)
"""Lowest and highest resolution of a PNG; beyond it the file is useless or does not fit in memory."""

_MM = 72.0 / 25.4  # points
_FONT = "Helvetica"
_NUMERAL_HEIGHT = 0.72  # of the font size, in Helvetica
_FAINT = (150, 150, 150)
_TICKS = {10: 3.0, 5: 2.3, 1: 1.6}  # every so many mm: length in mm
_TICK_WIDTH = 0.18  # mm: survives a laser printer, and leaves four fifths of a mm white
_MARKER_CELLS = 6
_MARGIN = 12.0  # mm: more than any office printer leaves blank
_GAP = 6.0  # mm between stickers, room for scissors
_FOOT = 24.0  # mm at the foot of a sheet for the print check

Colour = tuple[int, int, int]


@dataclass(frozen=True)
class _Shape:
    """A filled polygon, or an outlined one where there is only a stroke."""

    points: Points
    fill: Colour | None = (0, 0, 0)
    stroke: Colour | None = None


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
    ET.SubElement(root, "title").text = f"ebbline {layout.name}, version {layout.version}"
    for shape in _shapes(layout):
        root.append(_svg_element(shape))
    document: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return document


def _svg_element(shape: _Shape | _Text) -> ET.Element:
    if isinstance(shape, _Text):
        style = {"font-family": "Helvetica, Arial, sans-serif", "font-size": f"{shape.size:.3f}"}
        place = {"x": f"{shape.x:.3f}", "y": f"{shape.y:.3f}"}
        anchor = {"text-anchor": "middle"} if shape.centred else {}
        element = ET.Element("text", place | style | anchor)
        element.text = shape.text
        return element
    points = " ".join(f"{x:.4f},{y:.4f}" for x, y in shape.points)
    paint = {"fill": _css(shape.fill), "stroke": _css(shape.stroke), "stroke-width": "0.15"}
    return ET.Element("polygon", {"points": points} | paint)


def _css(colour: Colour | None) -> str:
    return "none" if colour is None else f"rgb({colour[0]},{colour[1]},{colour[2]})"


def sticker_png(layout: Layout, dpi: int = 600) -> bytes:
    """Return one sticker as PNG of exactly ``dpi / 25.4`` pixels a mm, transparent outside its outline.

    The picture starts at the upper left corner of the layout; where its size is not a whole number of pixels, the
    last column or row is partly covered.

    Raises
    ------
    SheetError
        If ``dpi`` is outside `DPI_RANGE`.
    """
    import pypdfium2  # noqa: PLC0415 - 60 ms that only a PNG needs to spend

    low, high = DPI_RANGE
    if not low <= dpi <= high:
        raise SheetError(f"{dpi} dpi was asked for: a sticker can be drawn at {low} to {high} dpi.")
    scale = dpi / 25.4
    pixels = [math.ceil(round(side * scale, 6)) for side in layout.size_mm]
    page_size = [count / scale * _MM for count in pixels]
    with pypdfium2.PdfDocument(_pdf_of_one(layout, (page_size[0], page_size[1]))) as document:
        bitmap = document[0].render(scale=dpi / 72, fill_color=(0, 0, 0, 0), prefer_bgrx=True)
        picture = bitmap.to_pil()
    buffer = BytesIO()
    picture.save(buffer, "PNG", dpi=(dpi, dpi))
    return buffer.getvalue()


def _pdf_of_one(layout: Layout, page_size: tuple[float, float]) -> bytes:
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=page_size)
    _put(canvas, layout, 0.0, page_size[1])
    canvas.save()
    return buffer.getvalue()


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
    canvas.setTitle(f"ebbline {layout.name}, version {layout.version}")
    canvas.setAuthor("ebbline")
    canvas.setViewerPreference("PrintScaling", "None")
    for x, y in _places(layout, paper):
        _put(canvas, layout, x * _MM, PAPERS[paper][1] - y * _MM)
        _put_shape(canvas, _Shape(layout.outline, None, _FAINT), x * _MM, PAPERS[paper][1] - y * _MM)
    _put_print_check(canvas)
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


def _put_print_check(canvas: Canvas) -> None:
    """Draw a line of 100 mm and one of 50 mm with end strokes, and the sentence, at the foot of the page."""
    canvas.setLineWidth(0.2 * _MM)
    left = (canvas._pagesize[0] - 162 * _MM) / 2  # noqa: SLF001 - reportlab has no other way to ask
    base = (_MARGIN + 12.0) * _MM
    for start, length in ((0.0, 100.0), (112.0, 50.0)):
        x0, x1 = left + start * _MM, left + (start + length) * _MM
        canvas.line(x0, base, x1, base)
        for x in (x0, x1):
            canvas.line(x, base - 2 * _MM, x, base + 2 * _MM)
        canvas.setFont(_FONT, 9)
        canvas.drawCentredString((x0 + x1) / 2, base + 1.2 * _MM, f"{length:.0f} mm")
    for line, sentence in enumerate(PRINT_CHECK):
        canvas.drawString(left, base - (7.0 + 4.2 * line) * _MM, sentence)


def _put(canvas: Canvas, layout: Layout, x: float, y: float) -> None:
    """Draw a sticker whose upper left corner is at (x, y) points on the page."""
    for shape in _shapes(layout):
        if isinstance(shape, _Text):
            _put_text(canvas, shape, x, y)
        else:
            _put_shape(canvas, shape, x, y)


def _put_text(canvas: Canvas, text: _Text, x: float, y: float) -> None:
    canvas.setFillColorRGB(0, 0, 0)
    canvas.setFont(_FONT, text.size * _MM)
    draw = canvas.drawCentredString if text.centred else canvas.drawString
    draw(x + text.x * _MM, y - text.y * _MM, text.text)


def _put_shape(canvas: Canvas, shape: _Shape, x: float, y: float) -> None:
    if shape.fill is not None:
        canvas.setFillColorRGB(*(value / 255 for value in shape.fill))
    if shape.stroke is not None:
        canvas.setStrokeColorRGB(*(value / 255 for value in shape.stroke))
        canvas.setLineWidth(0.15 * _MM)
    path = canvas.beginPath()
    first, *others = ((x + px * _MM, y - py * _MM) for px, py in shape.points)
    path.moveTo(*first)
    for point in others:
        path.lineTo(*point)
    path.close()
    canvas.drawPath(path, stroke=shape.stroke is not None, fill=shape.fill is not None)


def _shapes(layout: Layout) -> Iterator[_Shape | _Text]:
    """Everything on the sticker, in the order of painting."""
    yield _Shape(layout.outline, (255, 255, 255))
    for cell in layout.hem.black():
        yield _Shape(cell.corners)
    for marker in layout.markers:
        yield from _marker_shapes(marker)
    for patch in layout.patches:
        yield _Shape(patch.place.corners, patch.srgb)
    for ruler in layout.rulers:
        yield from _ruler_shapes(ruler, layout.size_mm)
    for field in layout.fields:
        yield _Shape(field.place.corners, None, _FAINT)
        yield _Text(field.caption, field.place.x + 0.4, field.place.y + 1.3, 0.9)
    for label in layout.labels:
        yield _Text(label.text, label.x, label.y, label.height)


def _marker_shapes(marker: Marker) -> Iterator[_Shape]:
    """Yield a black square, then its white cells: no hairline can show between black cells."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    cells = cv2.aruco.generateImageMarker(dictionary, marker.number, _MARKER_CELLS)
    place, step = marker.place, marker.place.width / _MARKER_CELLS
    yield _Shape(place.corners)
    for row, column in np.argwhere(cells > 0):
        corner = (place.x + column * step, place.y + row * step)
        yield _Shape(Rect(*corner, step, step).corners, (255, 255, 255))


def _ruler_shapes(ruler: Ruler, limit: tuple[float, float]) -> Iterator[_Shape | _Text]:
    for mm in range(ruler.length + 1):
        length = next(length for every, length in _TICKS.items() if mm % every == 0)
        yield _Shape(_tick(ruler, mm, length, limit).corners)
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
