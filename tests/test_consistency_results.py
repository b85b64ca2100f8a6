"""The results of a study on their page: plain line, charts, figures, files, and their use for single wounds."""

import json
import re

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest
from studied import photos
from traced_study import RATERS, drafts, three_raters

from measure.pages.by_eye import BY
from measure.trend.change import parse_site_change

NAMES = re.compile(r"\b(KL|MN|QR)\b")
PHOTOS = 3


@pytest.fixture
def study(ward):
    """Begin a study, in which nothing is traced."""
    return ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")


def trace(ward, study, leave=0):
    """Save all tracings but the last ones."""
    for draft in drafts(PHOTOS)[: study.plan.tracings - leave]:
        ward.studies.add_tracing(study.id, draft, draft.rater)


def opened(*, quality):
    script = (
        "from measure.pages.consistency_results import show_results\nfrom measure.pages.held import record\n"
        f"show_results(record().studies.all()[0], {quality})\n"
    )
    page = AppTest.from_string(script, default_timeout=60)
    page.session_state[BY] = "KL"
    page.run()
    assert not page.exception
    return page


def read(page):
    """Return all that can be read on the page, pictures' words included."""
    kinds = (page.markdown, page.caption, page.info, page.success, page.subheader, page.expander)
    said = [getattr(element, "label", "") or element.value for kind in kinds for element in kind]
    said += [re.sub(r"base64,[^\"]+", "", element.proto.body) for element in page.get("html")]
    return " ".join(said).replace("\\", "")


def button(page):
    return [each for each in page.button if each.label == "Use this in Progress"]


@pytest.mark.usefixtures("study")
def test_before_anything_is_traced_the_page_says_so():
    page = opened(quality=True)
    assert len(page.info) == 1
    assert "Nothing has been traced" in page.info[0].value
    assert not page.subheader


def test_the_team_sees_the_plain_line_charts_and_figures_but_no_names(ward, study, monkeypatch):
    trace(ward, study)
    files = {}
    monkeypatch.setattr(st, "download_button", lambda label, make, name, *_, **__: files.update({label: (name, make)}))
    page = opened(quality=False)
    words = read(page)
    assert "must change by" in page.markdown[0].value
    assert words.count("<figure") == 3  # two charts, and the outlines
    assert words.count('alt="') == 6  # each for wide and for narrow screens
    assert "95 % interval" in words
    assert "How far the outlines lie apart" in words
    assert not NAMES.search(words)
    assert "Each rater beside the others" not in words
    assert not button(page)
    assert list(files) == ["Report (PDF)", "Report (HTML)", "Figures (JSON)", "Table (CSV)"]
    made = {label: make() for label, (_, make) in files.items() if "PDF" not in label}
    assert not any(NAMES.search(re.sub(r"base64,[^\"]+", "", text)) for text in made.values())
    assert "measurement_error" in json.loads(made["Figures (JSON)"])["results"]
    assert len(made["Table (CSV)"].splitlines()) == study.plan.tracings + 1
    assert files["Table (CSV)"][0] == f"ebbline-study-{study.id}-area-cm2.csv"


def test_the_quality_team_sees_names_and_sets_what_progress_uses(ward, study):
    trace(ward, study)
    page = opened(quality=True)
    assert set(NAMES.findall(read(page))) == set(RATERS)
    assert "Each rater beside the others" in read(page)
    assert ward.setting("smallest_detectable_change") is None
    assert "only roughly" in page.info[-1].value  # three raters
    button(page)[0].click().run()
    kept = ward.setting("smallest_detectable_change")
    assert kept["covers"] == "tracing"
    assert 0 < kept["area_relative"] < 1
    assert "Saved" in page.success[0].value
    assert kept["source"] in read(page)
    assert not button(page)


def test_the_quality_team_takes_the_study_back_out_of_progress(ward, study):
    trace(ward, study)
    page = opened(quality=True)
    assert not [each for each in page.button if "no study" in each.label]
    button(page)[0].click().run()
    next(each for each in page.button if each.label == "Use no study in Progress").click().run()
    assert not page.exception
    assert ward.setting("smallest_detectable_change") is None
    assert "uncertainty of both measurements again" in page.success[0].value
    assert button(page)
    assert parse_site_change(ward.setting("smallest_detectable_change")) is None


def test_an_unfinished_study_is_shown_but_not_used_until_it_is_closed(ward, study):
    trace(ward, study, leave=2)
    page = opened(quality=True)
    assert f"{study.plan.tracings - 2} of {study.plan.tracings} tracings are done" in read(page)
    assert not button(page)
    ward.studies.close(study.id, "enough", "KL")
    assert button(page.run())


def test_a_photo_that_is_missing_takes_no_figure_away(ward, study):
    trace(ward, study)
    for file in (ward.place.file.parent / "photos").glob("*/*"):
        file.unlink()
    page = opened(quality=False)
    assert "is missing" in page.error[0].value
    assert "All figures" in read(page)
    assert [each.label for each in page.get("download_button")] == [
        "Report (PDF)",
        "Report (HTML)",
        "Figures (JSON)",
        "Table (CSV)",
    ]


def test_another_photo_and_another_quantity_are_shown_when_chosen(ward, study):
    trace(ward, study)
    page = opened(quality=False)
    first, second = page.selectbox
    assert "Photo 1" in second.options[0]
    second.select(3).run()
    assert "Photo 3 with its outlines laid over it" in read(page)
    page.selectbox[0].select("length_cm").run()
    assert not page.exception
    assert "cm" in page.markdown[0].value
    assert "with its outlines" not in read(page)
    assert first.options[0] == "Area"
