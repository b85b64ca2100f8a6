"""The sections *Practice* and *At hand*, and the quality team, by Streamlit's own tester."""

import shutil
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from filled import draft, jpeg, numbers
from streamlit.testing.v1 import AppTest

from measure.pages import held, quality
from measure.pages.by_eye import BY
from measure.pages.quality import SETTING
from measure.practice.expected import SETTING as EXPECTED_HERE
from measure.record.draft import DraftMeasurement, VisitDraft
from measure.record.entries import Kind, Side, Site
from measure.record.store import open_record
from measure.server import DATA_VARIABLE


@pytest.fixture
def busy(busy_folder, tmp_path, monkeypatch):
    """Give a copy of the record with twelve wounds."""
    shutil.copytree(busy_folder, tmp_path / "record")
    yield from used(tmp_path / "record", monkeypatch)


def used(folder, monkeypatch):
    monkeypatch.setenv(DATA_VARIABLE, str(folder))
    with open_record(folder, create=False) as record:
        yield record
    held._opened.clear()


@pytest.fixture(scope="module")
def busy_folder(empty_file, tmp_path_factory):
    """Return the folder of a record with twelve wounds: in Ward 7 nobody took a photo, in Ward 4 ten failed a check."""
    folder = tmp_path_factory.mktemp("busy")
    shutil.copy(empty_file, folder / "record.db")
    failed = {"checks": [{"check": "tilt", "ok": False}], "acceptance": {"reason": "Best of several"}}
    with open_record(folder, create=False) as record:
        photo = record.put_photo(jpeg(), "shin.jpg")
        for number in range(12):
            wound = record.open_wound(f"P{number}", Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB")
            at = datetime.now(UTC) - timedelta(days=3 + number / 10)
            document = numbers(10.0 + number) | {"calibration": {"source": "sticker"}} | (failed if number < 10 else {})
            document["wounds"][0]["length_x_width_cm2"] = {"value": 13.0 + number}
            measured = DraftMeasurement(1, "head-to-toe", document)
            record.save_visit(draft(wound, photo, number, at=at, measured=measured, findings={"pain": 3}))
            record.save_visit(VisitDraft(wound.id, at + timedelta(days=1), "CD", "Ward 7", note="Seen."))
    return folder


def _practice():
    from measure.pages.consistency_practice import show_practice
    from measure.pages.quality import ask_quality_team, is_quality

    ask_quality_team()
    show_practice(is_quality())


def _at_hand():
    from measure.pages.consistency_at_hand import show_at_hand
    from measure.pages.quality import is_quality

    show_at_hand(is_quality())


def opened(section, by="AB"):
    page = AppTest.from_function(section, default_timeout=60)
    if by:
        page.session_state[BY] = by
    return shown(page.run())


def shown(page):
    assert not page.exception
    return page


def said(page):
    kinds = (page.markdown, page.caption, page.info, page.success, page.error)
    tables = [element.proto.body for element in page.get("html")]
    return " ".join([element.value for kind in kinds for element in kind] + tables).replace("\\", "")


def press(page, label):
    next(button for button in page.button if button.label == label).click()
    return shown(page.run())


# Practice


@pytest.mark.usefixtures("ward")
def test_an_empty_record_is_told_in_a_sentence():
    assert "No visit in this time: too few to judge, at least 10 are needed." in said(opened(_practice))


@pytest.mark.usefixtures("busy")
def test_the_first_line_names_what_to_look_at():
    told = said(opened(_practice))
    assert "**Look first at Ward 7: visits without a photo, 12 of 12 (100 %), elsewhere 0 of 12 (0 %).**" in told
    assert "<td>12 of 24</td><td>50 % (31 to 69)</td>" in told
    assert "- **tilt**, 10 times. Best of several: 10." in told
    assert '<th scope="row">Ward 7</th><td>12 of 12</td>' in told


@pytest.mark.usefixtures("busy")
def test_a_unit_and_a_question_can_be_looked_at_closer():
    page = opened(_practice)
    page.selectbox(key="practice-unit").set_value("Ward 4")
    page.selectbox(key="practice-question").set_value("failed checks without a reason")
    told = said(shown(page.run()))
    assert "By month (the unit chosen above): failed checks without a reason" in told
    assert "<td>0 of 10</td><td>0 % (0 to 28)</td>" in told
    assert '<th scope="row">Ward 7</th><td>0 of 0</td><td>none to count</td>' in told


def test_what_was_saved_since_is_counted(busy):
    page = opened(_practice)
    wound = busy.wound("P1/1")
    busy.save_visit(VisitDraft(wound.id, datetime.now(UTC), "CD", "Ward 7", note="Seen."))
    assert "13 of 13 (100 %), elsewhere" in said(shown(page.run()))


def test_the_site_says_what_it_expects(busy):
    busy.set(SETTING, ["AB"], "AB")
    page = opened(_practice)
    assert "Expected at each visit, as is common practice: depth" in said(page)
    page.pills(key="expected-findings").set_value(["pain"])
    page = press(shown(page.run()), "Expect these from now on")
    assert busy.setting(EXPECTED_HERE) == ["pain"]
    assert "Expected at each visit, as your quality team set it: pain." in said(page)
    assert not opened(_practice, by="CD").pills


# People


def test_numbers_about_people_are_for_the_quality_team_alone(busy):
    busy.set(SETTING, ["AB", "QA-1"], "AB")
    for section in (_practice, _at_hand):
        for by, sees in (("qa-1", True), ("CD", False), ("", False)):
            page = opened(section, by)
            assert any("By person" in each.label for each in page.expander) is sees
            assert ('<th scope="row">CD</th>' in said(page) or '<th scope="row">AB</th>' in said(page)) is sees
            assert any("by person" in each.label for each in page.get("download_button")) is (
                sees and section is _practice
            )


@pytest.mark.usefixtures("busy")
def test_while_there_is_no_list_nobody_sees_numbers_about_people():
    page = opened(_practice)
    assert "Nobody is on the team yet." in said(page)
    assert "No password protects this" in said(page)
    assert not any("By person" in each.label for each in page.expander)


def test_the_first_list_is_anybodys_and_later_ones_the_teams(ward):
    page = opened(_practice, by="AB")
    page.text_input(key="quality-team").set_value("ab, QA-1, qa-1,")
    page = press(page, "Save this list")
    assert ward.setting(SETTING) == ["ab", "qa-1"]
    assert "On the team: **ab, qa-1**." in said(page)
    stranger = opened(_practice, by="CD")
    assert not stranger.text_input
    assert "Only those on the list can change it." in said(stranger)
    member = opened(_practice, by="QA-1")
    member.text_input(key="quality-team").set_value("QA-1")
    press(member, "Save this list")
    assert ward.setting(SETTING) == ["QA-1"]


def test_a_list_that_would_lock_everybody_out_is_refused(ward):
    page = opened(_practice, by="AB")
    page.text_input(key="quality-team").set_value("QA-1")
    assert "Your own initials are missing" in said(press(page, "Save this list"))
    page.text_input(key="quality-team").set_value("A" * 21)
    assert "characters" in said(press(page, "Save this list"))
    assert ward.setting(SETTING) is None


def test_a_list_that_somebody_else_changed_meanwhile_is_not_overwritten(ward, monkeypatch):
    page = opened(_practice, by="AB")
    page.text_input(key="quality-team").set_value("AB, CD")
    lists = iter([[], ["EF"]])
    monkeypatch.setattr(quality, "quality_team", lambda: next(lists, ["EF"]))
    assert "somebody else has changed the list" in said(press(page, "Save this list"))
    assert ward.setting(SETTING) is None


@pytest.mark.usefixtures("ward")
def test_who_has_not_said_who_they_are_is_asked():
    page = opened(_practice, by="")
    assert "To change the list: who are you?" in said(page)
    assert "Save this list" not in [button.label for button in page.button]


# At hand


@pytest.mark.usefixtures("busy")
def test_proposals_and_lengths_are_told_as_ratios():
    told = said(opened(_at_hand))
    radii = 40.0 - np.arange(12)  # of the accepted circles, whose holes have 5; those proposed have 2 more
    ratio = np.exp(np.log((radii + 2) ** 2 / (radii**2 - 5**2)).mean())
    assert f"The proposed area is on average **{ratio:.2f} times** the accepted one" in told
    assert "12 wounds, one visit each, of 12 visits gone over." in told
    assert "12 wounds, one visit each, of 12 visits with both." in told
    assert "Head to toe, width from side to side:" in told
    assert "Length x width is on average" in told
    assert told.count("No visit in this time has both ruler and photo.") == 1
    assert "Too few to judge" not in told


@pytest.mark.usefixtures("ward")
def test_an_empty_record_has_nothing_at_hand():
    told = said(opened(_at_hand))
    assert "nobody went over a proposed outline" in told
    assert "In this time nothing was measured." in told


def test_a_few_wounds_are_too_few(ward):
    photo = ward.put_photo(jpeg(), "shin.jpg")
    for person in ("P1", "P2"):
        wound = ward.open_wound(person, Site(Side.LEFT, "shin"), Kind.VENOUS_LEG, "AB")
        ward.save_visit(draft(wound, photo, 0, at=datetime.now(UTC)))
    assert "2 wounds, one visit each, of 2 visits gone over. **Too few to judge:** at least 10" in said(
        opened(_at_hand)
    )
