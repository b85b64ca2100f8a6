"""The chart says in words what it shows, and keeps apart what may not be joined."""

import csv
import io

import pytest
from weekly import visit, wound

from measure.record.entries import What
from measure.trend.chart import PHONE_PX, chart, picture
from measure.trend.series import series_of
from measure.trend.table import table, trend_csv
from measure.trend.trend import trend

TISSUE = {"granulation": 60.0, "slough": 40.0}


@pytest.fixture
def told():
    visits = [visit(0, 12.0, tissue=TISSUE, depth=0.9), visit(7, 9.0), visit(28, 7.0, convention="head-to-toe")]
    return trend(series_of(wound(events=[(What.HEALED, 40)]), visits))


def words(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts]


@pytest.mark.parametrize("width", [PHONE_PX, 980])
def test_every_line_mark_and_reference_has_words(told, width):
    figure = chart(told, width, ellipse=True)
    said = " ".join(words(figure)).replace("\n", " ")
    expected = ("traced area", "length x width", "ellipse estimate", "healed 12 September", "no visit 21 days")
    expected += ("now head-to-toe", "Phillips 2000", "rule as taught", "granulation", "slough", "depth")
    assert all(each in said for each in expected)
    smallest = min(text.get_fontsize() for axes in figure.axes for text in axes.texts)
    assert smallest * 100 / 72 >= 10


def test_lengths_are_not_joined_across_a_change_of_convention(told):
    first = chart(told).axes[0]
    dashed = [line for line in first.lines if line.get_linestyle() == "--" and len(line.get_xdata()) == 2]
    joined = [line for line in dashed if line.get_xdata()[1] - line.get_xdata()[0] == pytest.approx(21)]
    assert not joined
    solid = [line for line in first.lines if line.get_linestyle() == "-" and line.get_color() == "#0b5c8a"]
    assert [line.get_xdata()[1] - line.get_xdata()[0] for line in solid] == pytest.approx([7, 21, 12])


def test_panels_are_drawn_only_for_what_is_known(told):
    assert len(chart(told).axes) == 3
    assert len(chart(trend(series_of(wound(), [visit(0, 12.0)]))).axes) == 1


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
