"""The page *Consistency* as a whole: its parts, who sees results when, and what *Progress* makes of a study."""

import math
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from studied import photos
from traced_study import RATERS, drafts, three_raters

from measure.pages import held
from measure.pages.by_eye import BY
from measure.study.results import results, usable_change
from measure.trend.change import area_change, parse_site_change
from measure.uncertainty import Quantity

PAGE = Path(held.__file__).with_name("consistency.py")
PHOTOS = 3


def opened(by, part):
    page = AppTest.from_file(PAGE, default_timeout=60)
    page.session_state[BY] = by
    page.session_state["consistency-part"] = part
    page.run()
    assert not page.exception
    return page


def said(page):
    return " ".join(element.value for kind in (page.markdown, page.info, page.caption) for element in kind)


@pytest.mark.usefixtures("ward")
def test_each_part_opens_on_an_empty_record_and_says_what_comes_first():
    for part, words in (
        ("Trace", "No study asks you to trace now"),
        ("Results", "There are no results yet"),
        ("From visits", "Found in passing"),
        ("Practice", "No visit"),
        ("New study", "can be used"),
    ):
        page = opened("KL", part)
        assert page.title[0].value == "Consistency"
        assert words in said(page), part
        assert "does not diagnose" in said(page)


def test_raters_see_results_once_they_have_finished(ward):
    study = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    left = {"KL": 0, "MN": 1, "QR": 0}
    for draft in drafts(PHOTOS):
        if not (left[draft.rater] and draft.trial == 2 and draft.photo == PHOTOS):
            ward.studies.add_tracing(study.id, draft, draft.rater)
    finished, tracing, outside = (opened(by, "Results") for by in ("KL", "mn", "ZZ"))
    assert "must change by" in said(finished)
    assert "must change by" in said(outside)
    assert "You still trace in this study" in said(tracing)
    assert "must change by" not in said(tracing)
    ward.studies.close(study.id, "Enough.", "QA")
    assert "must change by" in said(opened("MN", "Results"))


def test_results_ask_who_looks(ward):
    study = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    for draft in drafts(PHOTOS):
        ward.studies.add_tracing(study.id, draft, draft.rater)
    page = opened("", "Results")
    assert "Who are you?" in said(page)
    assert "must change by" not in said(page)
    assert not any(rater in said(page) for rater in RATERS)


def test_one_tracing_is_no_result(ward):
    study = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    first = drafts(PHOTOS)[0]
    ward.studies.add_tracing(study.id, first, first.rater)
    assert "There are no results yet" in said(opened("ZZ", "Results"))


def test_changes_are_judged_by_the_study(ward):
    study = ward.studies.add("Heels", three_raters(photos(ward, PHOTOS)), "QA")
    for draft in drafts(PHOTOS):
        ward.studies.add_tracing(study.id, draft, draft.rater)
    setting = dict(usable_change(results(ward.studies.one(study.id), "area_cm2", people=True)))
    earlier = Quantity(6.0, "cm2", {"outline placement": 0.05, "plane offset": 0.01})
    later = Quantity(4.0, "cm2", {"outline placement": 0.05, "plane offset": 0.02})
    judged = area_change(earlier, later, parse_site_change(setting))
    assert judged.source.startswith("our own study 'Heels'")
    photo = 1.96 * math.hypot(6.0 * 0.01, 4.0 * 0.02)
    assert judged.smallest == pytest.approx(math.hypot(setting["area_relative"] * 5.0, photo))
