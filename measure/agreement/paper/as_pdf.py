"""A report as a PDF on A4, with letters and pictures in it; its headings are the bookmarks."""

import io
from collections.abc import Iterable, Iterator
from functools import cache, singledispatch
from itertools import count
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import matplotlib as mpl
from PIL import Image as Pixels
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Image,
    KeepTogether,
    ListFlowable,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
)

from measure.agreement.analysis import Figure
from measure.agreement.chart import Chart
from measure.agreement.figure_words import interval_words, value_words
from measure.agreement.paper.blocks import Block, Facts, Figures, Heading, Notes, Picture, Points, Text
from measure.agreement.paper.contents import COLUMNS, contents
from measure.agreement.paper.paper import Paper, software
from measure.trend.lines import INK, QUIET

_MARGIN = 20 * mm
_PADDING = 6.0  # of the library's frames
_WIDE = A4[0] - 2 * (_MARGIN + _PADDING)
_LEAST_BELOW = 40 * mm  # of room for what follows a heading
_FOOT = 11 * mm
_FONT, _BOLD = "DejaVu Sans", "DejaVu Sans Bold"
_SHARES = (0.46, 0.16, 0.22, 0.16)  # of the width, for the columns of figures
_JPEG = 88  # quality at which photos show no blocks

_INK, _QUIET, _LINE = HexColor(INK), HexColor(QUIET), HexColor("#8a929b")
_LINK = "#0b5c8a"
_SIZES = {1: 17.0, 2: 13.0, 3: 10.5}


def agreement_pdf(paper: Paper, *, people: bool = False) -> bytes:
    """Return the report as a PDF, the same bytes each time.

    Parameters
    ----------
    paper : Paper
    people : bool
        Whether it tells about single raters; its charts must have been drawn alike.
    """
    _fonts()
    file = io.BytesIO()
    margins = {f"{side}Margin": _MARGIN for side in ("left", "right", "top", "bottom")}
    told = {"title": paper.title, "author": "", "creator": software(), "subject": "Agreement study", "lang": "en"}
    document = _Document(file, pagesize=A4, invariant=1, **margins, **told)

    def foot(canvas: Canvas, _: object) -> None:
        _foot(canvas, paper.title)

    document.build(list(_kept(contents(paper, people=people))), onFirstPage=foot, onLaterPages=foot)
    return file.getvalue()


class _Document(SimpleDocTemplate):  # type: ignore[misc]
    """A document whose headings become bookmarks."""

    def beforeDocument(self) -> None:  # noqa: N802 - the library's name
        self.numbers = count()

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 - the library's name
        level = getattr(flowable, "level", None)
        if level is None:
            return
        key = f"heading-{next(self.numbers)}"
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(flowable.getPlainText(), key, level - 1)


@cache
def _fonts() -> None:
    """Register the letters of the charts: they have Greek and most names, which those of every reader don't."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name, file in ((_FONT, "DejaVuSans.ttf"), (_BOLD, "DejaVuSans-Bold.ttf")):
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def _style(size: float, *, bold: bool = False, **options: Any) -> ParagraphStyle:  # noqa: ANN401
    look: dict[str, Any] = {"textColor": _INK, "alignment": TA_LEFT, "splitLongWords": 1} | options
    return ParagraphStyle("", fontName=_BOLD if bold else _FONT, fontSize=size, leading=1.35 * size, **look)


def _words(text: str, size: float = 9.0, **options: Any) -> Paragraph:  # noqa: ANN401
    return Paragraph(escape(text), _style(size, **options))


def _kept(blocks: Iterable[Block]) -> Iterator[Flowable]:
    """Yield all, each heading on one page with what follows it, and each picture with its words."""
    heads: list[Flowable] = []
    for block in blocks:
        made = _pdf(block)
        if isinstance(block, Heading):
            heads += made
            continue
        if isinstance(block, Picture):
            yield KeepTogether([*heads, *made])
        else:
            yield from ([CondPageBreak(_LEAST_BELOW), *heads, *made] if heads else made)
        heads = []
    yield from heads


@singledispatch
def _pdf(block: Block) -> list[Flowable]:
    raise TypeError(block)


@_pdf.register
def _(block: Heading) -> list[Flowable]:
    size = _SIZES[block.level]
    made = _words(block.words, size, bold=True, spaceBefore=size, spaceAfter=0.4 * size)
    made.level = block.level
    return [made]


@_pdf.register
def _(block: Text) -> list[Flowable]:
    return [_words(block.words, 11.0 if block.leads else 9.0, bold=block.leads, spaceAfter=6)]


@_pdf.register
def _(block: Points) -> list[Flowable]:
    return [
        ListFlowable(
            [_words(sentence, spaceAfter=3) for sentence in block.sentences],
            bulletType="bullet", start="\N{BULLET}", bulletFontName=_FONT, bulletFontSize=9, leftIndent=12,
        ),
        Spacer(0, 4),
    ]  # fmt: skip


@_pdf.register
def _(block: Facts) -> list[Flowable]:
    rows = [[_words(name, bold=True), _words(said)] for name, said in block.rows]
    return [Table(rows, colWidths=[0.3 * _WIDE, 0.7 * _WIDE], style=_lines(0), hAlign="LEFT"), Spacer(0, 6)]


@_pdf.register
def _(block: Figures) -> list[Flowable]:
    head = [_words(name, 8.0, bold=True) for name in COLUMNS]
    widths = [share * _WIDE for share in _SHARES]
    rows = [head, *map(_row, block.rows, block.notes)]
    return [Table(rows, colWidths=widths, repeatRows=1, style=_lines(1), hAlign="LEFT"), Spacer(0, 6)]


@_pdf.register
def _(block: Notes) -> list[Flowable]:
    return [
        Paragraph(
            f'<a name="note-{number}"/>{number}. {escape(method)} <font color="{QUIET}">{escape(source)}</font>',
            _style(7.5, spaceAfter=4, leftIndent=16, firstLineIndent=-16),
        )
        for number, (method, source) in enumerate(block.found, 1)
    ]


@_pdf.register
def _(block: Picture) -> list[Flowable]:
    chart = block.chart
    words = [_words(chart.caption, spaceBefore=4), _words(chart.words, 8.0, textColor=_QUIET, spaceBefore=2)]
    return [_image(chart), *words, Spacer(0, 12)]


def _row(figure: Figure, note: int) -> list[Flowable]:
    told = figure.shown
    numbers = (value_words(told), interval_words(told) or "none")
    how = Paragraph(f'<a href="#note-{note}" color="{_LINK}">note {note}</a>', _style(8.0))
    return [_words(figure.label, 8.0, bold=True), *(_words(each, 8.0) for each in numbers), how]


def _lines(heads: int) -> list[tuple[Any, ...]]:
    """Return thin lines between rows, and a strong one below so many rows of heads."""
    strong = [("LINEBELOW", (0, heads - 1), (-1, heads - 1), 1.2, _INK)] if heads else []
    plain = ("LINEBELOW", (0, heads), (-1, -1), 0.4, _LINE)
    return [plain, *strong, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]


def _image(chart: Chart) -> Image:
    """Return the picture of a chart; those with a photo as JPEG, which makes them a tenth as large."""
    file = io.BytesIO(chart.picture("png"))
    with Pixels.open(file) as pixels:
        width, height = pixels.size
        if chart.shows_photo:
            file = io.BytesIO()
            pixels.convert("RGB").save(file, "JPEG", quality=_JPEG)
    file.seek(0)
    tall = A4[1] - 2 * _MARGIN - 100
    across = min(_WIDE, tall * width / height)
    return Image(file, width=across, height=across * height / width, hAlign="LEFT")


def _foot(canvas: Canvas, title: str) -> None:
    """Write title and number at the foot of a page."""
    canvas.setFont(_FONT, 7.5)
    canvas.setFillColor(_QUIET)
    room = _WIDE - 30 * mm
    while title and pdfmetrics.stringWidth(title, _FONT, 7.5) > room:
        title = title[:-1]
    canvas.drawString(_MARGIN + _PADDING, _FOOT, title)
    canvas.drawRightString(A4[0] - _MARGIN - _PADDING, _FOOT, f"page {canvas.getPageNumber()}")
