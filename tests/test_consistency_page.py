"""The page *Consistency* as a whole: who sees results while a study is still being traced."""

import shutil
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from studied import photos
from traced_study import drafts, three_raters

import measure
from measure.pages import held
from measure.pages.by_eye import BY
from measure.record.store import open_record
from measure.server import DATA_VARIABLE

PAGE = Path(measure.__file__).parent / "pages" / "consistency.py"
PHOTOS = 3


@pytest.fixture
def ward(empty_file, tmp_path, monkeypatch):
    """Give an empty record, open, that the page uses too."""
    shutil.copy(empty_file, tmp_path / "record.db")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    with open_record(tmp_path, create=False) as record:
        yield record
    held._opened.clear()


@pytest.fixture
def study(ward):
    """Begin a study of which the last rater has traced nothing yet."""
    begun = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    last = begun.plan.raters[-1]
    for draft in (each for each in drafts(PHOTOS) if each.rater != last):
        ward.studies.add_tracing(begun.id, draft, draft.rater)
    return begun


def results(by):
    page = AppTest.from_file(str(PAGE), default_timeout=60)
    page.session_state["consistency-part"] = "Results"
    if by:
        page.session_state[BY] = by
    page.run()
    assert not page.exception
    return page


def said(page):
    return " ".join(each.value for kind in (page.info, page.markdown, page.subheader) for each in kind)


def test_who_still_traces_sees_no_line_and_no_figure_of_others(study):
    page = results(study.plan.raters[-1].lower())
    assert "still have photos to trace" in said(page)
    assert not page.subheader


@pytest.mark.usefixtures("study")
def test_of_a_study_under_way_nobody_sees_results_unnamed():
    page = results("")
    assert "Who looks at its results?" in said(page)
    assert not page.subheader


def test_who_has_finished_and_who_is_no_rater_see_the_results(study):
    for by in (study.plan.raters[0], "ZZ"):
        assert "All figures" in said(results(by))


def test_a_study_that_is_closed_hides_nothing(ward, study):
    ward.studies.close(study.id, "enough", "QA")
    assert "All figures" in said(results(study.plan.raters[-1]))


def test_one_tracing_is_no_result(ward):
    begun = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    first = drafts(PHOTOS)[0]
    ward.studies.add_tracing(begun.id, first, first.rater)
    assert "There are no results yet" in said(results("ZZ"))
