"""The page that tells how large a study must be, by Streamlit's own tester."""

import pytest
from streamlit.testing.v1 import AppTest

from measure.agreement.planning import Design, change_closeness, photos_for_change, photos_for_limits
from measure.pages.consistency_planning import LEANINGS, LEAST_PHOTOS


def script():
    from measure.pages.consistency_planning import show_planning

    show_planning()


@pytest.fixture
def page():
    return shown(AppTest.from_function(script, default_timeout=30).run())


def shown(page):
    assert not page.exception
    return page


def said(page):
    (sentence,) = page.success
    return sentence.value.replace("*", "").replace("\\", "")


def column(page, table, name):
    return list(page.table[table].value[name])


def pill(page, key, value):
    return shown(page.pills(key=key).set_value(value).run())


def test_at_first_it_plans_for_a_change_between_nurses(page):
    photos = photos_for_change(0.25, 3, 2, LEANINGS["Somewhat"])
    assert said(page) == (
        f"With 3 raters, 2 tracings each, {photos} photos: the smallest detectable change will be known to within a "
        f"quarter of its value.  \n{6 * photos} tracings in all, {2 * photos} a rater."
    )
    assert column(page, 0, "Raters") == ["2", "3", "4", "6", "8", "12"]
    assert column(page, 0, "Photos")[1] == str(photos)
    closeness = change_closeness(Design(20, 3, 2), LEANINGS["Somewhat"])
    assert column(page, 1, "Known to within")[1] == f"{100 * closeness:.0f} %"


def test_what_is_out_of_reach_is_a_sentence_with_a_way_out(page):
    pill(page, "plan-leaning", "Much")
    assert not page.success
    (refused,) = page.warning
    assert "With 3 raters not even 500 photos will do; plan" in refused.value
    assert column(page, 0, "Photos")[:2] == ["none will do"] * 2
    assert column(page, 0, "Photos")[-1].isdigit()
    assert column(page, 0, "Tracings in all")[0] == ""


def test_the_same_nurse_needs_two_tracings_and_may_be_one(page):
    pill(page, "plan-who", "The same nurse")
    assert page.number_input(key="plan-trials-False").min == 2
    assert "plan-leaning" not in [each.key for each in page.pills]
    shown(page.number_input(key="plan-raters-False").set_value(1).run())
    photos = photos_for_change(0.25, 1, 2, None)
    assert said(page).startswith(f"With 1 rater, 2 tracings each, {photos} photos:")


def test_few_photos_are_never_enough(page):
    pill(page, "plan-share", "A half")
    shown(page.number_input(key="plan-raters-True").set_value(8).run())
    assert photos_for_change(0.5, 8, 2, LEANINGS["Somewhat"]) < LEAST_PHOTOS
    assert f"{LEAST_PHOTOS} photos: the smallest" in said(page)


def test_two_ways_of_measuring(page):
    page.radio(key="plan-goal").set_value("How far two ways of measuring differ")
    shown(page.run())
    pill(page, "plan-share", "A fifth")
    photos = photos_for_limits(0.2)
    assert said(page).startswith(f"With {photos} photos, each measured once in both ways")
    assert said(page).endswith(f"{2 * photos} measurements in all.")
    assert not page.number_input


def test_a_correlation(page):
    page.radio(key="plan-goal").set_value("How well tracings tell large wounds from small ones")
    shown(page.run())
    assert "With 3 raters, 1 tracing each, 42 photos: an intraclass correlation near 0.9 will be known" in said(page)
    assert "above 0.75, which is called good, 19 photos do in 8 of 10 studies" in page.markdown[0].value
    pill(page, "plan-margin", "0.1")
    pill(page, "plan-expected", "0.7")
    assert "near 0.7 will be known to within 0.1 either way" in said(page)
    assert not any("called good" in each.value for each in page.markdown)
