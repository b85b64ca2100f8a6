"""The chart says in words what it shows, and keeps apart what may not be joined."""

import csv
import io
import math
import time
from itertools import combinations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from weekly import visit, wound

from measure.record.entries import Kind, What
from measure.trend.apart import DPI
from measure.trend.chart import PHONE_PX, WIDE_PX, chart, picture
from measure.trend.lines import AREA, EXTENTS
from measure.trend.references import references
from measure.trend.series import series_of
from measure.trend.table import table, trend_csv
from measure.trend.trend import trend

TISSUE = {"granulation": 60.0, "slough": 40.0}


FIVE = {"granulation": 80.0, "slough": 5.0, "necrotic": 4.0, "epithelial": 6.0, "unclear": 5.0}
OTHER = next(kind for kind in Kind if not references(kind))


def series(visits, kind=Kind.VENOUS_LEG, events=()):
    return trend(series_of(wound(kind, events), visits))


def hundred():
    """Return two years of weekly visits to a wound that shrinks unevenly."""
    areas = [20 * math.exp(-number / 60) + 0.8 * math.sin(1.7 * number) for number in range(100)]
    return series([visit(7.3 * week, area, tissue=FIVE, depth=2 - week / 70) for week, area in enumerate(areas)])


CASES = {
    "one visit": lambda: series([visit(0, 12.0, tissue=FIVE)]),
    "one visit, no reference": lambda: series([visit(0, 12.0)], OTHER),
    "a day apart": lambda: series([visit(0, 12.0), visit(1, 11.8)]),
    "a day apart, no reference": lambda: series([visit(0, 12.0), visit(1, 11.8)], OTHER),
    "the same day": lambda: series([visit(0, 12.0), visit(0.2, 11.8)], OTHER),
    "five weeks": lambda: series([visit(7 * week, 12.0 - week, tissue=TISSUE) for week in range(6)]),
    "close": lambda: series([visit(7 * week, 0.4 + 40 * (week == 0), tissue=FIVE, depth=0.1) for week in range(9)]),
    "a hundred": hundred,
    "convention": lambda: series([visit(0, 12.0), visit(7, 9.0, convention="head-to-toe"), visit(14, 8.0)]),
    "gap": lambda: series([visit(0, 12.0, tissue=TISSUE), visit(40, 6.0), visit(47, 5.5)], Kind.DIABETIC_FOOT),
    "monthly": lambda: series([visit(30 * month, 12.0 - month) for month in range(9)], Kind.PRESSURE),
    "healed": lambda: series([visit(0, 5.0), visit(7, 2.0, depth=0.3)], events=[(What.HEALED, 14)]),
    "opened again": lambda: series(
        [visit(0, 5.0), visit(7, 2.0), visit(28, 3.0)], events=[(What.HEALED, 12), (What.REOPENED, 27)]
    ),
    "over New Year": lambda: series([visit(7 * week, 12000.0 / week) for week in range(18, 27)]),
}


@pytest.fixture
def told():
    visits = [visit(0, 12.0, tissue=TISSUE, depth=0.9), visit(7, 9.0), visit(28, 7.0, convention="head-to-toe")]
    return trend(series_of(wound(events=[(What.HEALED, 40)]), visits))


def texts(figure):
    """Return all that is written, dates and numbers too."""
    return [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]


@pytest.mark.parametrize("width", [PHONE_PX, WIDE_PX])
def test_every_line_mark_and_reference_has_words(told, width):
    written = " ".join(text.get_text() for text in texts(chart(told, width, ellipse=True))).replace("\n", " ")
    expected = ("traced area", "length x width", "ellipse estimate", "healed 12 September", "no visit for 21 days")
    expected += ("now head-to-toe", "Phillips 2000", "rule as taught", "granulation", "slough", "Depth", "k = 2")
    assert [each for each in expected if each not in written] == []


@pytest.mark.parametrize("width", [PHONE_PX, 358, WIDE_PX])
@pytest.mark.parametrize("case", CASES)
def test_no_words_touch_or_leave_the_picture(case, width):
    figure = chart(CASES[case](), width, ellipse=case == "close")
    FigureCanvasAgg(figure).draw()
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts(figure)]
    sizes = [text.get_fontsize() * DPI / 72 for text in texts(figure)]
    assert figure.bbox.width == width
    assert round(min(sizes), 3) >= 12  # 11 px and more where it is shown 8 % narrower, as the page allows
    high = figure.bbox.height
    outside = [words for words, box in boxes if min(box.x0, box.y0, width - box.x1, high - box.y1) < 0]
    touching = [(one, other) for (one, box), (other, its) in combinations(boxes, 2) if _touch(box, its)]
    assert (outside, touching) == ([], [])


def _touch(box, other):
    """Tell whether two boxes share more than a hair: half a px of the empty rim round letters."""
    across = min(box.x1, other.x1) - max(box.x0, other.x0)
    return across > 0.5 and min(box.y1, other.y1) - max(box.y0, other.y0) > 0.5


@pytest.mark.parametrize("width", [PHONE_PX, 358, WIDE_PX])
@pytest.mark.parametrize("case", CASES)
def test_words_beside_the_lines_cover_no_point_and_no_reference(case, width):
    figure = chart(CASES[case](), width)
    FigureCanvasAgg(figure).draw()
    for axes in figure.axes:
        dots = [
            tuple(dot)
            for line in axes.lines
            if line.get_marker() not in {"None", "", None}
            for dot in line.get_transform().transform(line.get_xydata())
        ]
        assert dots
        beside = [text.get_window_extent() for text in axes.texts]
        assert not [dot for dot in dots for box in beside if box.x0 - 4 < dot[0] < box.x1 and box.y0 < dot[1] < box.y1]


def test_a_reference_lies_behind_the_points_at_what_it_makes_of_the_first_area(told):
    sizes = chart(told).axes[0]
    diamond = next(line for line in sizes.lines if line.get_marker() == "D")
    assert list(diamond.get_ydata()) == pytest.approx([12.0 * 0.6] * 2)
    bar = next(line for line in sizes.lines if line.get_marker() == "_")
    assert list(bar.get_ydata()) == pytest.approx([12.0 * 0.6, 12.0 * 0.8])
    dots = [line for line in sizes.lines if line.get_marker() in {"o", "s"}]
    assert max(diamond.zorder, bar.zorder) < min(line.zorder for line in dots)


def test_lines_of_one_panel_differ_in_marker_and_in_dashes():
    for axes in chart(CASES["close"](), ellipse=True).axes[:2]:
        named = [text.get_color() for text in axes.texts]
        looks = {colour: set() for colour in named}
        for line in axes.lines:
            if line.get_color() in looks and line.get_alpha() is None:
                looks[line.get_color()] |= {line.get_marker(), str(line._unscaled_dash_pattern)}
        told = [tuple(sorted(map(str, look))) for look in looks.values()]
        assert len(set(told)) == len(named) >= 2


def test_lengths_are_not_joined_across_a_change_of_convention(told):
    first = chart(told).axes[0]
    joined = [line for line in first.lines if line.get_marker() == "None" and line.get_alpha() is None]
    lengths = [line for line in joined if line.get_color() == EXTENTS and line.get_transform() == first.transData]
    areas = [line for line in joined if line.get_color() == AREA]
    assert [line.get_xdata()[-1] - line.get_xdata()[0] for line in lengths] == pytest.approx([7, 12])
    assert [line.get_xdata()[-1] - line.get_xdata()[0] for line in areas] == pytest.approx([7, 21, 12])


def test_no_band_is_drawn_over_a_time_without_visits(told):
    spans = [band.get_datalim(band.axes.transData) for band in chart(told).axes[0].collections]
    assert sorted(round(span.width) for span in spans) == [7, 7, 12, 12]


def test_a_gap_is_drawn_between_the_points_only():
    figure = chart(series([visit(0), visit(30, 12.0), visit(37, 11.0), visit(80)]))
    assert not [text for text in texts(figure) if "no visit" in text.get_text()]


def test_panels_are_drawn_only_for_what_is_known(told):
    assert len(chart(told).axes) == 3
    assert len(chart(trend(series_of(wound(), [visit(0, 12.0)]))).axes) == 1


@pytest.mark.parametrize(("case", "limit_s"), [("close", 0.3), ("a hundred", 0.5)])
def test_it_is_soon_drawn(case, limit_s):
    told = CASES[case]()
    took = []
    for _ in range(4):  # the first one reads fonts
        start = time.process_time()
        picture(told, "svg")
        took.append(time.process_time() - start)
    assert min(took) < limit_s


def test_files_are_what_they_say(told):
    assert picture(told, "png").startswith(b"\x89PNG")
    assert b"<svg" in picture(told, "svg", PHONE_PX)


def test_the_table_says_what_changed(told):
    newest, third, second, first = table(told)
    assert newest["Area"] == "healed"
    assert "now head-to-toe" in third["What changed"]
    assert "after 21 days without a visit" in third["What changed"]
    assert second["What changed"] == "area -3.00 cm², larger than the measurement noise"
    assert (first["Area"], first["Depth"]) == ("12.00 ± 1.20 cm²", "0.9 cm")
    assert first["Tissue"] == "granulation 60 %, slough 40 %"


def test_a_spreadsheet_gets_all_numbers(told):
    rows = list(csv.DictReader(io.StringIO(trend_csv(told))))
    assert len(rows) == 4
    assert (rows[0]["area_cm2"], rows[0]["area_cm2_U"], rows[0]["slough_percent_U"]) == ("12", "1.2", "6")
    assert (rows[1]["slough_percent"], rows[3]["healed"]) == ("", "True")
