"""The report of a study: the same content in HTML and PDF, complete, alone, and silent about people unless asked."""

import re
from collections import Counter
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
from analysed import analysed
from judges import study, table

from measure.agreement.analysis import Figure, Section, analyse
from measure.agreement.charts import charts
from measure.agreement.errors import AgreementError
from measure.agreement.outlines_chart import outlines_chart
from measure.agreement.paper import write_paper
from measure.agreement.paper.as_html import agreement_html
from measure.agreement.paper.as_pdf import agreement_pdf
from measure.agreement.paper.paper import Paper
from measure.agreement.statistic import Statistic
from measure.outline import Outline

NAMED = table(study().value.reshape(12, 3, 2), raters=["KL", "MN", "QR"])
TITLE = "Tracing <b>study</b> & Güneş"
ALONE = {"img", "meta", "link", "br", "source"}


class Page(HTMLParser):
    """What an HTML file holds, as a reader of it finds it."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.open, self.words, self.errors = [], [], [], []
        self.feed(text)
        self.errors += self.open

    def handle_starttag(self, tag, attrs):
        """Keep the tag, and that it is open."""
        self.tags.append((tag, dict(attrs)))
        if tag not in ALONE:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close the tag that is open, or note what is amiss."""
        if not self.open or self.open.pop() != tag:
            self.errors.append(tag)

    def handle_data(self, data):
        """Keep what is read."""
        if self.open and self.open[-1] != "style":
            self.words.append(data.strip())

    def all(self, tag):
        """Return the attributes of all such tags."""
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture(scope="module")
def paper():
    return Paper(
        TITLE,
        analysed(NAMED),
        charts(NAMED, relative=True).drawn,
        date(2026, 3, 4),
        (("Drawn by", "the quality team"),),
    )


@pytest.fixture(scope="module")
def with_people():
    return Paper(TITLE, analysed(NAMED), charts(NAMED, relative=True, people=True).drawn, date(2026, 3, 4))


@pytest.fixture(scope="module")
def page(paper):
    return Page(agreement_html(paper))


@pytest.fixture(scope="module")
def printed(paper):
    return agreement_pdf(paper)


def pdf_text(file):
    document = pypdfium2.PdfDocument(file)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    return re.sub(r"\s+", " ", text.replace("\ufffe", "-"))


def test_the_file_is_sound_and_in_a_language(page):
    assert page.errors == []
    assert page.all("html") == [{"lang": "en"}]
    assert page.all("meta")[0] == {"charset": "utf-8"}
    assert TITLE in page.words


def test_nothing_is_fetched_and_nothing_runs(paper, page):
    text = agreement_html(paper)
    pictures = [value for _, attrs in page.tags for name, value in attrs.items() if name in {"src", "srcset"}]
    assert pictures
    assert all(address.startswith("data:image/svg+xml;base64,") for address in pictures)
    places = {f"#{attrs['id']}" for _, attrs in page.tags if "id" in attrs}
    assert {attrs["href"] for attrs in page.all("a")} == places != set()
    assert not {"script", "link", "iframe", "object"} & {tag for tag, _ in page.tags}
    assert not re.search(r"url\(|@import|\son\w+=|https?://", text)
    assert "default-src 'none'" in text


def test_headings_are_in_order(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))
    assert "What it does not tell" in page.words


def test_tables_have_head_cells_and_captions(page):
    count = Counter(tag for tag, _ in page.tags)
    assert count["table"] == count["caption"] == 2
    assert {attrs["scope"] for attrs in page.all("th")} == {"col", "row"}
    for role, tag in (("table", "table"), ("row", "tr"), ("cell", "td")):
        assert sum(attrs.get("role") == role for attrs in page.all(tag)) > 0


def test_pictures_say_what_they_show_and_have_a_sentence_below(page, paper):
    shown = [chart for chart in paper.charts if not chart.about_people]
    assert [image["alt"] for image in page.all("img")] == [f"{chart.title}: {chart.words}" for chart in shown]
    assert all(chart.caption in page.words for chart in shown)
    assert len(page.all("figcaption")) == len(shown) == 2


def test_every_figure_stands_with_interval_method_and_source(page, printed, paper):
    limit = paper.analysis.sections[0].figures[0].statistic
    text = pdf_text(printed)
    for words in (
        f"{limit.value:.1f} %",
        f"{limit.low:.1f} to {limit.high:.1f}",
        "0.210",
        "none",
        "Fleiss' \N{GREEK SMALL LETTER KAPPA}",
    ):
        assert words in page.words
        assert words in text
    assert limit.method in page.words
    assert limit.source in page.words
    assert limit.source.split(";")[0] in text


def test_both_say_what_was_done_and_what_is_not_told(page, printed):
    html, pdf = " ".join(page.words), pdf_text(printed)
    expected = ("Photos 12", "Raters 3 (rater A, rater B, rater C)", "Rows without a value none", "4 March 2026")
    expected += ("72 numbers in cm²", "Drawn by the quality team", "Ebbline 0.", "may be measuring alone")
    expected += ("What taking the photo adds", "supports documentation", "facility's policy", "does not diagnose")
    for text in (html, pdf):
        assert [each for each in expected if each not in text] == []


def test_names_and_figures_about_people_stand_there_only_if_asked(page, with_people):
    names = re.compile(r"\b(KL|MN|QR)\b")
    open_ = Page(agreement_html(with_people, people=True))
    for words in (" ".join(page.words), *(image["alt"] for image in page.all("img"))):
        assert not names.search(words)
    assert set(names.findall(" ".join(open_.words))) == {"KL", "MN", "QR"}
    assert "Each rater beside the others" not in page.words
    assert "Each rater beside the others" in open_.words


def test_the_pdf_names_nobody_unless_asked(printed, with_people):
    assert not re.search(r"\b(KL|MN|QR)\b", pdf_text(printed))
    assert re.search(r"Raters 3 \(KL, MN, QR\)", pdf_text(agreement_pdf(with_people, people=True)))


def test_the_pdf_has_bookmarks_a_title_a_language_and_letters_of_its_own(printed):
    document = pypdfium2.PdfDocument(printed)
    assert document.get_metadata_dict()["Title"] == TITLE
    names = [mark.get_title() for mark in document.get_toc()]
    assert names[:3] == [TITLE, "What it means", "What was done"]
    assert b"/Lang" in printed
    assert b"DejaVuSans" in printed
    assert document[0].get_size() == pytest.approx((595.3, 841.9), abs=0.1)


def test_the_pdf_is_the_same_each_time(paper, printed):
    assert agreement_pdf(paper) == printed


def test_no_words_of_the_pdf_leave_the_page(printed):
    for sheet in pypdfium2.PdfDocument(printed):
        pixels = np.asarray(sheet.render(scale=1).to_pil().convert("L"))
        inked = np.argwhere(pixels < 250)
        assert inked[:, 1].min() > 50
        assert inked[:, 1].max() < pixels.shape[1] - 50


def test_figures_found_alike_share_a_note():
    statistic = Statistic(1.0, 0.5, 1.5, "cm2", "some method", "some source")
    figures = tuple(Figure(name, name, statistic) for name in ("one", "two", "three"))
    told = replace(analysed(NAMED), sections=(Section("all", "All", figures),))
    words = Page(agreement_html(Paper("Title", told, (), date(2026, 3, 4)))).words
    assert (words.count("some method"), words.count("some source"), words.count("note 1")) == (1, 1, 3)
    assert "What it looks like" not in words


def test_many_figures_run_over_pages_under_the_same_head():
    figures = tuple(Figure(f"f{n}", f"figure {n} " * 12, Statistic(n, method="a method")) for n in range(90))
    told = replace(analysed(NAMED), sections=(Section("all", "All", figures),))
    document = pypdfium2.PdfDocument(agreement_pdf(Paper("Title " * 40, told, (), date(2026, 3, 4))))
    sheets = [re.sub(r"\s+", " ", sheet.get_textpage().get_text_bounded()) for sheet in document]
    with_figures = [sheet for sheet in sheets if "note 1" in sheet]
    assert len(with_figures) > 3
    assert all("Method and source" in sheet for sheet in with_figures)


def test_a_photo_lies_in_the_pdf_as_one():
    """As JPEG; as PNG, which the other charts are, it would take ten times the room."""
    box = Outline(np.array([[30.0, 20.0], [90.0, 20.0], [90.0, 70.0], [30.0, 70.0]]))
    chart = outlines_chart(np.full((90, 120, 3), 120, dtype=np.uint8), {"rater A": [box]}, "Photo 1")
    file = agreement_pdf(Paper("Title", replace(analysed(NAMED), sections=()), (chart,), date(2026, 3, 4)))
    assert b"/DCTDecode" in file


def test_the_pdf_of_charts_is_sharp(printed):
    """300 px to the inch of the 17 cm that a chart takes, less what a page's frame takes."""
    sheet = pypdfium2.PdfDocument(printed)[0]
    (picture,) = [each for each in sheet.get_objects() if each.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
    assert picture.get_px_size()[0] == 2100


def test_two_raters_are_drawn_by_their_difference_and_more_by_their_distance_from_the_mean():
    two, three = (charts(study(0, (8, raters, 1)), relative=raters == 2).drawn[0] for raters in (2, 3))
    assert (two.title, three.title) == ("Ratio against mean", "Distance from the photo's mean")


def test_two_methods_are_drawn_by_their_difference():
    told = study(0, (8, 2, 1))
    method = np.where(told.rater == "rater A", "photo", "ruler")
    (chart,) = charts(replace(told, method=method, rater=np.full(len(method), "rater A"))).drawn
    assert "photo less ruler" in chart.words
    some = replace(told, method=np.where(np.arange(len(method)) == 0, "eye", method))
    assert charts(some).drawn == ()
    assert "a chart shows the difference of two" in charts(some).missing[0]


def test_what_cannot_be_drawn_is_said():
    one = charts(table([[1.0], [2.0]]))
    assert one.drawn == ()
    assert any("at least two" in sentence for sentence in one.missing)
    categories = replace(table([[1.0, 2.0]]), value=np.array(["slough", "granulation"]))
    assert (charts(categories).drawn, len(charts(categories).missing)) == ((), 1)


def test_a_report_of_a_table_names_nobody_and_speaks_of_subjects(tmp_path):
    found = analyse(NAMED, relative=True)
    write_paper(found, tmp_path / "report.html", title="Spring", people=False)
    write_paper(found, tmp_path / "report.pdf", title="Spring", people=False)
    write_paper(found, tmp_path / "people.html", title="Spring", people=True)
    words, told = (
        " ".join(Page((tmp_path / f"{name}.html").read_text("utf-8")).words) for name in ("report", "people")
    )
    names = re.compile(r"\b(KL|MN|QR)\b")
    assert "Subjects 12" in words
    assert "values of the same subject" in words
    assert "from row to row of the table" in words
    assert not names.search(words + pdf_text((tmp_path / "report.pdf").read_bytes()))
    assert set(names.findall(told)) == {"KL", "MN", "QR"}


def test_a_report_that_can_not_be_written_is_a_sentence(tmp_path):
    with pytest.raises(AgreementError, match="choose another folder"):
        write_paper(analyse(NAMED), tmp_path / "none" / "report.html", title="Spring", people=False)
