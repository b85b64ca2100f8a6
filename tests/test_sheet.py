"""The drawings: true to size in every format, and what a print needs round them."""

from io import BytesIO
from xml.etree import ElementTree as ET

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from calibration.errors import SheetError
from calibration.sheet import PAPERS, sheet_pdf, sticker_png, sticker_svg, write_sticker
from calibration.sticker import LAYOUTS

ALL = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
POINTS_A_MM = 72 / 25.4  # PostScript point, ISO 32000


def _png(layout, dpi):
    return np.asarray(Image.open(BytesIO(sticker_png(layout, dpi)))).astype(float)


def _edges(row):
    """Places along a row of grey values where black and white meet, in px, from the shares of grey pixels."""
    inked = 1 - row / 255
    starts = np.flatnonzero((inked[1:] > 0) & (inked[:-1] == 0)) + 1
    ends = np.flatnonzero((inked[1:] == 0) & (inked[:-1] > 0)) + 1
    edges = []
    for start, end in zip(starts, ends, strict=True):
        edges += [start + 1 - inked[start], end - 1 + inked[end - 1]]
    return np.array(edges)


@ALL
@pytest.mark.parametrize("dpi", [150, 600, 601])
def test_png_size_is_the_layout_rounded_up(layout, dpi):
    height, width = _png(layout, dpi).shape[:2]
    exact = np.array(layout.size_mm) * dpi / 25.4
    assert (width, height) == tuple(np.ceil(np.round(exact, 6)).astype(int))


@ALL
def test_png_is_transparent_exactly_outside_the_outline(layout):
    picture, scale = _png(layout, 300), 300 / 25.4
    from shapely.geometry import Polygon

    assert picture[..., 3].sum() / 255 / scale**2 == pytest.approx(Polygon(layout.outline).area, rel=1e-4)


@ALL
@pytest.mark.parametrize("dpi", [300, 600])
def test_png_cells_lie_where_the_layout_says_to_a_hundredth_of_a_pixel(layout, dpi):
    scale, hem = dpi / 25.4, layout.hem
    row = _png(layout, dpi)[int((hem.y + hem.pitch / 2) * scale), :, 0]
    expected = sorted(edge * scale for cell in hem.black() if cell.y == hem.y for edge in (cell.x, cell.x + cell.width))
    assert _edges(row) == pytest.approx(expected, abs=0.01)


def test_png_carries_its_resolution():
    picture = Image.open(BytesIO(sticker_png(LAYOUTS["tile"], 300)))
    assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.02)


@ALL
def test_svg_is_in_millimetres(layout):
    root = ET.fromstring(sticker_svg(layout))  # noqa: S314 - our own drawing
    width, height = layout.size_mm
    assert root.get("width") == f"{width:g}mm"
    assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
    rects = root.findall("{http://www.w3.org/2000/svg}rect")
    first = layout.hem.black()[0]
    assert [float(rects[0].get(name)) for name in ("x", "y", "width", "height")] == pytest.approx(
        [first.x, first.y, first.width, first.height]
    )


@ALL
@pytest.mark.parametrize("paper", PAPERS)
def test_pdf_is_one_page_true_to_size(layout, paper):
    """Rasterised by PDFium, an independent reader, at 254 dpi = 10 px a mm."""
    with pypdfium2.PdfDocument(sheet_pdf(layout, paper)) as document:
        assert len(document) == 1
        assert document[0].get_size() == pytest.approx(PAPERS[paper], abs=0.01)
        page = np.asarray(document[0].render(scale=254 / 72, grayscale=True).to_pil()).astype(float)
    dark = page[: -(25 * 10)] < 128
    top = int(np.flatnonzero(dark.any(axis=1))[0])
    row = dark[top + 12]
    starts = np.flatnonzero(row[1:] & ~row[:-1])
    black = sorted(cell.x for cell in layout.hem.black() if cell.y == layout.hem.y)
    period = np.diff(starts[: len(black)])
    assert period.mean() / 10 == pytest.approx(2 * layout.hem.pitch, rel=2e-3)


@ALL
def test_pdf_is_true_to_size_downwards_too(layout):
    """Cut lines and cells along a column through the hem of the first sticker, at 10 px a mm."""
    with pypdfium2.PdfDocument(sheet_pdf(layout)) as document:
        page = np.asarray(document[0].render(scale=254 / 72, grayscale=True).to_pil()).astype(float)
    inked = page[:-400, :-90] < 200  # without the print check
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    top, left = rows[0], columns[0]
    frame = inked[top : top + int(layout.size_mm[1] * 10) + 20, left]
    assert np.flatnonzero(frame)[-1] / 10 == pytest.approx(layout.outline[layout.outline[:, 0] == 0, 1].max(), abs=0.2)
    column = page[top:, left + int((layout.hem.x + layout.hem.pitch / 2) * 10)] < 128
    starts = np.flatnonzero(column[1:] & ~column[:-1]) / 10
    black = sorted(cell.y for cell in layout.hem.black() if cell.x == layout.hem.x)
    assert starts[: len(black)] == pytest.approx(black, abs=0.2)


@pytest.mark.parametrize("paper", PAPERS)
def test_pdf_has_a_line_of_100_mm_across_and_one_of_50_mm_upright(paper):
    """A printer can stretch a page in one direction only."""
    with pypdfium2.PdfDocument(sheet_pdf(LAYOUTS["strip"], paper)) as document:
        text = document[0].get_textpage().get_text_range()
        page = np.asarray(document[0].render(scale=254 / 72, grayscale=True).to_pil())
    assert "100 mm" in text
    assert "50 mm" in text
    assert "steel ruler" in text
    assert max((page[-260:] < 200).sum(axis=1)) / 10 == pytest.approx(100, abs=0.6)
    assert max((page[:, -90:] < 200).sum(axis=0)) / 10 == pytest.approx(50, abs=0.6)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("name", "least"), [("corner", 6), ("strip", 6), ("tile", 30)])
def test_pdf_holds_several_stickers(name, least, paper):
    with pypdfium2.PdfDocument(sheet_pdf(LAYOUTS[name], paper)) as document:
        text = document[0].get_textpage().get_text_range()
    assert text.count(f"{name} 1") >= least


def test_a_grey_printer_keeps_markers_and_cells_black_and_white():
    """Luma of sRGB (Rec. 709 weights): what a grey printer prints; only patches may be in between."""
    layout, scale = LAYOUTS["corner"], 300 / 25.4
    grey = _png(layout, 300)[..., :3] @ (0.2126, 0.7152, 0.0722)
    for cell in layout.hem.black():
        middle = grey[int((cell.y + 1.25) * scale), int((cell.x + 1.25) * scale)]
        assert middle == 0


@pytest.mark.parametrize("suffix", [".pdf", ".svg", ".png"])
def test_writes_what_the_suffix_says(tmp_path, suffix):
    path = tmp_path / f"sticker{suffix}"
    write_sticker(LAYOUTS["tile"], path, dpi=150)
    assert path.read_bytes()[:4] in {b"%PDF", b"<?xm", b"\x89PNG"}


def test_refuses_another_suffix(tmp_path):
    with pytest.raises(SheetError, match=r"'a\.gif' does not end in \.pdf, \.svg or \.png"):
        write_sticker(LAYOUTS["tile"], tmp_path / "a.gif")


@pytest.mark.parametrize("dpi", [0, 71, 2401])
def test_refuses_a_resolution_out_of_range(dpi):
    with pytest.raises(SheetError, match=f"{dpi} dpi was asked for"):
        sticker_png(LAYOUTS["tile"], dpi)


def test_refuses_unknown_paper():
    with pytest.raises(SheetError, match="Paper 'a0' is not known"):
        sheet_pdf(LAYOUTS["tile"], "a0")


def test_refuses_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(SheetError, match="can't be written"):
        write_sticker(LAYOUTS["tile"], tmp_path / "none" / "a.svg")
