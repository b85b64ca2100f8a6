"""The page *Progress*, by Streamlit's own tester, with a wound whose visits are chosen."""

import pytest
from streamlit.testing.v1 import AppTest
from weekly import visit, wound

from measure.pages import fitted, held, progress_chart, wound_head
from measure.trend.chart import PHONE_PX, WIDE_PX

WEEKLY = [visit(7 * week, area) for week, area in enumerate((12.0, 11.0, 9.4, 8.6, 7.5))]


class Held:
    """A record that holds one wound's visits and one setting."""

    def __init__(self, visits, setting=None):
        self._visits, self._setting = visits, setting

    def visits(self, _):
        """Return the visits."""
        return self._visits

    def stand(self, _):
        """Return what is another value with other visits."""
        return (len(self._visits),)

    def setting(self, _name, default=None):
        """Return the one setting."""
        return self._setting or default


def _page():
    import runpy

    from measure import pages

    runpy.run_path(f"{pages.__path__[0]}/progress.py")


@pytest.fixture
def opened(monkeypatch):
    """Open the page on some visits."""

    def with_visits(visits, setting=None, chosen=None):
        kept = Held(visits, setting)
        monkeypatch.setattr(held, "record", lambda: kept)
        monkeypatch.setattr(wound_head, "chosen_wound", lambda: chosen or wound())
        monkeypatch.setattr(wound_head.st, "page_link", lambda *_, **__: None)
        page = AppTest.from_function(_page, default_timeout=60).run()
        assert not page.exception
        return page

    return with_visits


def said(page):
    shown = (*page.markdown, *page.info, *page.warning, *page.caption)
    return " ".join(element.value for element in shown).replace("\\", "")  # what keeps Markdown out


def test_the_page_begins_with_what_the_area_did(opened):
    page = opened(WEEKLY)
    assert "from 12.0 to 7.5 cm²: 38 % less, ± 9 points; larger than the measurement noise." in said(page)
    assert "halves in 5.8 weeks" in said(page)
    assert "not less than the 20 %" in said(page)
    (shown,) = page.dataframe
    assert shown.value["Area"].iloc[0] == "7.50 ± 0.75 cm²"


@pytest.fixture
def shown(monkeypatch):
    """Return what is shown of the chart, and what the browser calls to ask for another width."""
    seen = []
    monkeypatch.setattr(fitted, "fitted", lambda _, data, on_width: seen.append((data, on_width)))
    return seen


def test_one_picture_is_drawn_in_a_run_and_none_again(opened, shown, monkeypatch):
    drawn = []
    monkeypatch.setattr(progress_chart, "picture", lambda *words, **more: drawn.append((words[1:], more)) or b"<svg/>")
    page = opened(WEEKLY)
    page.run()
    assert drawn == [(("svg", WIDE_PX), {"ellipse": False})]
    page.toggle[0].set_value(True).run()
    assert drawn[1:] == [(("svg", WIDE_PX), {"ellipse": True})]
    assert shown[0][0]["words"].startswith("Chart: Since 3 August")
    assert shown[0][0]["picture"].startswith("data:image/svg+xml;base64,")


@pytest.mark.parametrize(("asked", "drawn"), [(520, 520), (100, PHONE_PX), (5000, WIDE_PX)])
def test_the_picture_is_drawn_for_the_width_that_the_browser_says(opened, shown, monkeypatch, asked, drawn):
    page = opened(WEEKLY)
    kept = {}
    with monkeypatch.context() as patched:
        patched.setattr(progress_chart.st, "session_state", kept)
        shown[-1][1](asked)
    page.session_state["progress-chart-width"] = kept["progress-chart-width"]
    page.run()
    assert shown[-1][0]["drawn"] == drawn


def test_without_an_area_there_is_no_picture(opened):
    page = opened([visit(0)])
    assert "No area is measured yet" in said(page)
    assert not page.dataframe


def test_a_setting_that_cannot_be_used_does_not_close_the_page(opened):
    page = opened(WEEKLY, setting={"area_relative": 3})
    assert "which study found it" in said(page)
    assert "larger than the measurement noise" in said(page)


def test_gaps_and_new_conventions_are_told(opened):
    page = opened([visit(0, 12.0), visit(28, 11.5, convention="head-to-toe")])
    assert "No visit for 28 days" in said(page)
    assert "they can't be compared across that day" in said(page)
