"""Charts of agreement: they draw the figures, say them in words, and keep all words apart."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from judges import JUDGES, study, table
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from peak_flow import LARGE, MINI

from measure.agreement.bias import rater_bias, rater_ratio
from measure.agreement.bias_chart import bias_chart
from measure.agreement.difference_chart import difference_chart
from measure.agreement.distance_chart import distance_chart
from measure.agreement.errors import AgreementError
from measure.agreement.from_mean import from_mean
from measure.agreement.limits import limits_of_agreement
from measure.agreement.outlines_chart import outlines_chart
from measure.agreement.plot import LOOKS
from measure.agreement.size_chart import size_chart
from measure.outline import Outline
from measure.trend.apart import DPI
from measure.trend.chart import PHONE_PX, WIDE_PX

PHOTO = np.full((600, 800, 3), 150, dtype=np.uint8)


def ring(x, y, radius):
    turn = np.linspace(0, 2 * np.pi, 36, endpoint=False)
    return Outline(np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1))


def traced(raters=3):
    return {f"rater {name}": [ring(400, 300, 80 + 2 * number)] for number, name in enumerate("ABCDEFGH"[:raters])}


def meters(**options):
    return difference_chart(limits_of_agreement(LARGE[0], MINI[0], unit="l/min", **options), ("large", "mini"))


CASES = {
    "distances": lambda: distance_chart(from_mean(study())),
    "relative distances": lambda: distance_chart(from_mean(study(), relative=True)),
    "nine raters": lambda: distance_chart(from_mean(study(1, (20, 9, 1)), relative=True)),
    "twenty raters": lambda: distance_chart(from_mean(study(1, (20, 20, 1)))),
    "agree exactly": lambda: distance_chart(from_mean(table(np.full((4, 3, 2), 2.5)))),
    "differences": meters,
    "ratios": lambda: meters(log=True),
    "close limits": lambda: difference_chart(limits_of_agreement([1.0, 2.0, 90.0], [1.0, 2.0, 90.1]), ("one", "other")),
    "sizes": lambda: size_chart(study()),
    "sizes in their unit": lambda: size_chart(table(JUDGES - 5)),
    "one size": lambda: size_chart(table([[1.0, 1.2]])),
    "raters": lambda: bias_chart(rater_bias(study())),
    "ratios of raters": lambda: bias_chart(rater_ratio(study(2, (9, 9, 1))), ratio=True),
    "outlines": lambda: outlines_chart(PHOTO, traced(), "Photo 3"),
    "eight outlines": lambda: outlines_chart(PHOTO, traced(8), "Photo 12"),
}


def texts(figure):
    return [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]


def written(figure):
    return " | ".join(text.get_text().replace("\n", " ") for text in texts(figure))


def dots(axes):
    """Return the points that are drawn with a mark, in the units of the axes, with that mark."""
    lines = [line for line in axes.lines if line.get_marker() not in {"None", "", None}]
    return [(line.get_marker(), line.get_markerfacecolor(), line.get_xydata()) for line in lines]


def levels(axes):
    """Return the heights of lines across the whole plot, with their dashes."""
    return {float(line.get_ydata()[0]): line.get_linestyle() for line in axes.lines if list(line.get_xdata()) == [0, 1]}


@pytest.mark.parametrize("width", [PHONE_PX, WIDE_PX])
@pytest.mark.parametrize("case", CASES)
def test_no_words_touch_or_leave_the_picture(case, width):
    figure = CASES[case]().draw(width)
    FigureCanvasAgg(figure).draw()
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts(figure)]
    assert figure.bbox.width == width
    assert round(min(text.get_fontsize() * DPI / 72 for text in texts(figure)), 3) >= 12
    high = figure.bbox.height
    outside = [words for words, box in boxes if min(box.x0, box.y0, width - box.x1, high - box.y1) < 0]
    touching = [(one, other) for (one, box), (other, its) in combinations(boxes, 2) if _touch(box, its)]
    assert (outside, touching) == ([], [])


def _touch(box, other):
    """Tell whether two boxes share more than a hair: half a px of the empty rim round letters."""
    across = min(box.x1, other.x1) - max(box.x0, other.x0)
    return across > 0.5 and min(box.y1, other.y1) - max(box.y0, other.y0) > 0.5


@pytest.mark.parametrize("case", CASES)
def test_every_chart_says_what_it_shows_in_one_sentence_and_at_length(case):
    chart = CASES[case]()
    assert chart.caption.endswith(".")
    assert ". " not in chart.caption.replace("Photo", "")
    assert any(each.isdigit() for each in chart.words) or case.endswith("outlines") or case == "outlines"
    assert "nan" not in f"{chart.caption} {chart.words} {written(chart.draw(WIDE_PX))}".lower()


def test_distances_are_drawn_where_they_are_with_a_mark_for_each_rater():
    found = from_mean(study())
    axes = distance_chart(found).draw(WIDE_PX).axes[0]
    for number, (marker, _, points) in enumerate(dots(axes)):
        rows = found.rater == f"rater {'ABC'[number]}"
        assert points == pytest.approx(np.stack([found.mean[rows], found.difference[rows]], axis=1))
        assert marker == LOOKS[number].marker
    assert len({marker for marker, _, _ in dots(axes)}) == 3
    assert levels(axes).keys() >= {0.0, found.limit.value, found.low_limit}
    assert levels(axes)[found.limit.value] == "--"


def test_distances_name_their_raters_limits_and_axes():
    chart = distance_chart(from_mean(study(), relative=True))
    shown = written(chart.draw(PHONE_PX))
    expected = ("rater A", "rater B", "rater C", "value less mean, %", "mean of the photo, cm²", "limits of agreement")
    assert [each for each in expected if each not in shown] == []
    assert "72 values by 3 raters" in chart.words
    assert "mean of all raters' values of the same photo" in chart.caption


def test_more_raters_than_marks_are_not_told_apart():
    figure = CASES["twenty raters"]().draw(WIDE_PX)
    assert len(dots(figure.axes[0])) == 1
    assert "rater A" not in written(figure)


def test_raters_with_the_same_shape_differ_by_being_filled():
    looks = [(look.marker, look.hollow) for look in LOOKS]
    assert len(set(looks)) == len(looks)


def test_wide_intervals_do_not_dwarf_the_points():
    found = from_mean(study())
    axes = distance_chart(found).draw(WIDE_PX).axes[0]
    low, high = axes.get_ylim()
    reach = max(float(np.abs(found.difference).max()), found.limit.value)
    assert found.limit.high > 1.6 * reach
    assert 2 * reach < high - low < 4 * reach


def test_differences_have_mean_and_limits_with_their_intervals():
    """Bland and Altman, Lancet 1986;i:307-310: -2.1, and with 1.96 for 2, -78.1 and 73.9 l/min."""
    chart = meters()
    axes = chart.draw(WIDE_PX).axes[0]
    (_, _, points), *others = dots(axes)
    expected = np.stack([(LARGE[0] + MINI[0]) / 2, LARGE[0] - MINI[0]], axis=1)
    assert (points, others) == (pytest.approx(expected), [])
    assert {round(each, 1): look for each, look in levels(axes).items()} == {-78.1: "--", -2.1: "-", 0: "-", 73.9: "--"}
    bands = sorted(tuple(round(each, 1) for each in patch.get_bbox().intervaly) for patch in axes.patches)
    assert bands == [(-112.6, -43.6), (-22.0, 17.8), (39.3, 108.4)]
    assert "mean -2.1 l/min (95 % interval -22.0 to +17.8)" in chart.words.replace("\N{MINUS SIGN}", "-")
    assert "+73.9 l/min upper limit" in written(chart.draw(WIDE_PX))


def test_ratios_lie_round_one():
    axes = meters(log=True).draw(WIDE_PX).axes[0]
    points = dots(axes)[0][2]
    assert points[:, 1] == pytest.approx(LARGE[0] / MINI[0])
    assert 1.0 in levels(axes)
    assert axes.get_xscale() == "log"


def test_spread_is_told_in_thirds_of_the_sizes():
    cells = np.concatenate([np.full(4, 1.0), np.full(4, 10.0), np.full(4, 100.0)])[:, np.newaxis]
    share = np.repeat([0.2, 0.1, 0.05], 4)[:, np.newaxis]
    observations = table(np.concatenate([cells * (1 - share / 2), cells * (1 + share / 2)], axis=1))
    chart = size_chart(observations)
    axes = chart.draw(WIDE_PX).axes[0]
    assert dots(axes)[0][2][:, 1] == pytest.approx(100 * share[:, 0] / 2**0.5)
    steps = [line.get_ydata()[0] for line in axes.lines if line.get_marker() == "None"]
    assert steps == pytest.approx([20 / 2**0.5, 10 / 2**0.5, 5 / 2**0.5])
    assert (
        "typically 14 % in the third with the smallest and 3.5 % in the third with the largest means" in chart.caption
    )


def test_few_sizes_have_one_spread_and_unmeasured_ones_none():
    cells = np.array([[1.0, 1.2], [3.0, np.nan], [5.0, 5.5]])
    axes = size_chart(table(cells)).draw(WIDE_PX).axes[0]
    assert len(dots(axes)[0][2]) == 2
    assert len([line for line in axes.lines if line.get_marker() == "None"]) == 1


def test_each_rater_has_a_row_filled_where_the_interval_leaves_out_nothing():
    found = rater_bias(study())
    chart = bias_chart(found)
    figure = chart.draw(PHONE_PX)
    marks = dots(figure.axes[0])
    assert [points[0, 0] for _, _, points in marks] == pytest.approx([each.statistic.value for each in found])
    assert chart.about_people
    for each, (_, face, _) in zip(found, marks, strict=True):
        assert (face != "white") == (each.statistic.low > 0 or each.statistic.high < 0)
        assert each.rater in written(figure)
        assert each.rater in chart.words


def test_outlines_lie_where_they_were_drawn_each_with_its_own_mark_and_dashes():
    chart = outlines_chart(PHOTO, traced(), "Photo 3", "They share 0.95 of their area.")
    axes = chart.draw(WIDE_PX).axes[0]
    lines = [line for line in axes.lines if line.get_marker() == "None"]
    sizes = [np.ptp(line.get_xdata()) for line in lines]
    assert sizes == pytest.approx([160, 160, 164, 164, 168, 168], abs=1.0)  # each with its rim
    looks = {(line.get_color(), str(line._unscaled_dash_pattern)) for line in lines[1::2]}
    assert len({dashes for _, dashes in looks}) == len(looks) == 3
    assert len({marker for marker, _, _ in dots(axes)}) == 3
    assert chart.words == (
        "Photo 3 with its outlines laid over it: rater A once, rater B once, rater C once. "
        "They share 0.95 of their area."
    )
    assert (chart.key, chart.shows_photo) == ("outlines-photo-3", True)


def test_the_photo_is_shown_only_round_the_outlines_and_they_lie_right_on_it():
    """A white disc of radius 60 in a grey photo, traced exactly: the line runs along the edge of what is drawn."""
    photo = PHOTO.copy()
    y, x = np.mgrid[:600, :800]
    photo[(x - 700) ** 2 + (y - 500) ** 2 <= 60**2] = 255
    axes = outlines_chart(photo, {"rater A": [ring(700, 500, 60)]}, "Photo 1").draw(WIDE_PX).axes[0]
    shown = axes.images[0].get_array()
    left, right, bottom, top = axes.images[0].get_extent()
    assert (right - left, bottom - top) == pytest.approx((172, 172), abs=3)
    white = np.argwhere(np.asarray(shown)[..., 0] > 200)
    scale = (right - left) / shown.shape[1]
    middle = white.mean(axis=0)[::-1] * scale + (left, top)
    line = axes.lines[0].get_xydata()[:-1]
    assert line.mean(axis=0) == pytest.approx(middle, abs=0.7)


def test_what_cannot_be_drawn_is_refused():
    with pytest.raises(AgreementError, match="Nobody"):
        outlines_chart(PHOTO, {"rater A": []}, "Photo 1")
    with pytest.raises(AgreementError, match="told apart"):
        outlines_chart(PHOTO, {f"rater {number}": [ring(400, 300, 50)] for number in range(17)}, "Photo 1")
    with pytest.raises(AgreementError, match="second value"):
        size_chart(table([[1.0], [2.0]]))
    categories = replace(table([[1.0, 2.0]]), value=np.array(["slough", "granulation"]))
    with pytest.raises(AgreementError, match="Categories"):
        size_chart(categories)


def test_files_are_what_they_say():
    chart = CASES["distances"]()
    assert chart.picture("png", PHONE_PX).startswith(b"\x89PNG")
    assert b"<svg" in chart.picture("svg")
