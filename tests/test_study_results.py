"""What a study tells: outlines in mm, figures with names or letters, and what the site's setting becomes."""

import re
from datetime import date

import numpy as np
import pytest
from studied import drawn_photo, entry
from traced_study import MM_PX, RATERS, drafts, radius, three_raters

from measure.agreement.errors import AgreementError
from measure.agreement.paper.as_html import agreement_html
from measure.study.outlines import compared, outlines_section, photo_overlaps, traced
from measure.study.results import AREA, QUANTITIES, TISSUE, names, results, usable_change
from measure.trend.change import parse_site_change

NAMES = re.compile(r"\b(KL|MN|QR)\b")
PHOTOS = 6


def study(*raters, trials=(1, 2)):
    plan = three_raters(tuple(drawn_photo(number) for number in range(1, PHOTOS + 1)))
    return entry(plan, *drafts(PHOTOS, raters or RATERS, trials))


@pytest.fixture(scope="module")
def whole():
    return study()


def everything(found):
    """Return all words that a result holds."""
    figures = [figure for section in found.analysis.sections for figure in section.figures]
    said = [f"{section.key} {section.title} {section.sentences}" for section in found.analysis.sections]
    said += [f"{figure.key} {figure.label} {figure.statistic.method}" for figure in figures]
    said += [f"{chart.title} {chart.caption} {chart.words}" for chart in found.charts.drawn]
    return " ".join([found.analysis.headline, *said, *found.analysis.observations.rater])


def test_outlines_come_out_in_mm(whole):
    for each in traced(whole):
        width = each.outline.bounds[2] - each.outline.bounds[0]
        expected = 2 * MM_PX * radius(int(each.photo[-2:]), each.rater, int(each.trial))
        assert width == pytest.approx(expected)


def test_edges_lie_as_far_apart_as_they_were_drawn(whole):
    """Radii differ by 0.5 px between trials, so the edges by 0.25 mm, a little less between the corners."""
    found = {figure.key: figure.statistic for figure in outlines_section(compared(whole)).figures}
    assert found["distance_same_rater"].value == pytest.approx(0.25, rel=0.01)
    assert found["distance_raters"].value == pytest.approx(np.mean([2, 2, 4, 1, 3, 1, 2, 3, 2, 4, 2, 2]) / 4, rel=0.25)
    assert found["dice_same_rater"].value > found["dice_raters"].value


def test_the_photo_with_the_least_overlap_comes_first(whole):
    """The smallest wound: the same px are the largest share of it."""
    found = photo_overlaps(whole, compared(whole))
    assert list(found) == [1, 2, 3, 4, 5, 6]
    assert found[1] < found[6] < 1


def test_one_tracing_a_photo_is_nothing_to_compare():
    alone = study("KL", trials=(1,))
    assert (compared(alone), photo_overlaps(alone, ())) == ((), {})
    assert "outlines" not in {section.key for section in results(alone, AREA, people=True).analysis.sections}


def test_nobody_is_named_and_no_rater_told_alone_unless_asked(whole):
    silent, open_ = (results(whole, AREA, people=people) for people in (False, True))
    assert not NAMES.search(everything(silent))
    assert "rater A" in everything(silent)
    assert not any(section.about_people for section in silent.analysis.sections)
    assert not any(chart.about_people for chart in silent.charts.drawn)
    assert set(NAMES.findall(everything(open_))) == set(RATERS)
    assert any(section.about_people for section in open_.analysis.sections)
    assert any(chart.about_people for chart in open_.charts.drawn)


def test_a_rater_has_the_same_letter_whatever_is_told(whole):
    """One rater alone saw tissue, and keeps the letter that it has beside the others."""
    (alone,) = results(whole, TISSUE, people=False).analysis.observations.raters
    assert alone == names(whole, people=False)["KL"]


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_is_analysed_with_a_headline(whole, quantity):
    found = results(whole, quantity, people=False)
    assert found.analysis.headline.endswith(".")
    assert found.analysis.observations.missing == (24 if quantity == TISSUE else 0)
    assert found.analysis.relative == (quantity != TISSUE)


def test_nothing_traced_is_a_sentence():
    with pytest.raises(AgreementError):
        results(entry(three_raters((drawn_photo(1),))), AREA, people=False)


def test_the_setting_is_read_by_progress_as_a_study_of_tracings(whole):
    found = results(whole, AREA, people=True)
    told = parse_site_change(usable_change(found))
    assert told.area_relative == pytest.approx(found.analysis.relative_sdc().value, rel=1e-3)
    assert told.tracing_only
    assert told.source.startswith("our own study 'Heels', begun 5 January 2026: 6 photos, 3 raters, 2 trials")
    assert not NAMES.search(told.source)


def test_the_report_says_how_the_study_was_done(whole):
    html = agreement_html(results(whole, AREA, people=False).paper(date(2026, 3, 4)))
    assert not NAMES.search(re.sub(r"base64,[A-Za-z0-9+/=]+", "", html))
    expected = ("Heels: area", "seed 7", "the photo alone", "36 of 36", "not yet", "longest-perpendicular")
    assert [words for words in expected if words not in html] == []
