"""The pages about a record, by Streamlit's own tester: what they ask, refuse, keep apart and say."""

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from measure.pages import held
from measure.pages.by_eye import BY
from measure.record.draft import VisitDraft
from measure.record.entries import PLACES, Kind, Side, Site, Status
from measure.server import DATA_VARIABLE, METHOD_VARIABLE

APP = Path(__file__).parent.parent / "app.py"
SHIN = Site(Side.LEFT, "shin")


@pytest.fixture(autouse=True)
def by_colour(monkeypatch):
    """Let outlines be proposed by colour, which takes less time."""
    monkeypatch.setenv(METHOD_VARIABLE, "colour")


@pytest.fixture
def pages():
    """Open the pages: one of them, as somebody, at work on a wound."""

    def opened(name="", by="AB", wound=None):
        page = AppTest.from_file(str(APP), default_timeout=60)
        if by:
            page.session_state[BY] = by
        if wound:
            page.session_state["wound"] = wound
        page.run()
        return shown(page.switch_page(f"measure/pages/{name}.py").run()) if name else shown(page)

    return opened


def shown(page):
    assert not page.exception
    return page


def texts(page):
    kinds = (page.title, page.markdown, page.caption, page.info, page.success, page.warning, page.error)
    return " ".join(element.value for kind in kinds for element in kind).replace("\\", "")


def button(page, label):
    return next(button for button in page.button if label in button.label)


def wound(ward, person="P014", **words):
    return ward.open_wound(person, SHIN, Kind.VENOUS_LEG, "AB", **words)


# ---------------------------------------------------------------- without a record, or with one out of reach


def test_without_a_record_there_are_two_pages(monkeypatch, pages):
    monkeypatch.delenv(DATA_VARIABLE, raising=False)
    page = pages(by="")
    assert "Measure a wound" in texts(page)
    assert not held.has_record()


@pytest.mark.parametrize("name", ["", "visit", "progress", "history"])
def test_a_record_out_of_reach_is_one_sentence(name, monkeypatch, pages, tmp_path):
    (tmp_path / "record.db").write_text("This is a note.", encoding="utf-8")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    page = pages(name, wound="P014/1")
    (said,) = page.error
    assert said.value.endswith(".")
    assert "Traceback" not in said.value


@pytest.mark.parametrize("name", ["visit", "progress", "compare", "history"])
def test_without_a_chosen_wound_the_way_to_the_wounds_is_shown(name, ward, pages):
    wound(ward)
    assert "Choose a wound first" in texts(pages(name))
    assert "Choose a wound first" in texts(pages(name, wound="P099/1"))


# ---------------------------------------------------------------- wounds


def test_wounds_are_listed_by_when_their_dressing_is_due(ward, pages):
    late, later, healed = (wound(ward, person) for person in ("P1", "P2", "P3"))
    today = datetime.now(UTC)
    for each, days in ((late, -2), (later, 5)):
        due = (today + timedelta(days=days)).date().isoformat()
        ward.save_visit(VisitDraft(each.id, today, "AB", findings={"dressing": {"next_due": due}}))
    ward.mark(healed.id, "healed", "AB")
    page = pages()
    assert [each.value for each in page.subheader] == ["Overdue (1)", "Other open wounds"]
    assert [each.label for each in page.button if "wound 1" in each.label] == [
        f"**{person}** · wound 1, left shin" for person in ("P1", "P2", "P3")
    ]
    assert "overdue since" in texts(page)
    assert "Healed, merged or split (1)" in [each.label for each in page.expander]
    page = shown(page.text_input(key="sought-person").set_value("p2").run())
    assert len([each for each in page.button if "wound 1" in each.label]) == 1
    page = shown(page.text_input(key="sought-person").set_value("<b>").run())
    assert "No wound of a person whose code holds '<b>'" in texts(page)


# ---------------------------------------------------------------- a new wound


def test_a_new_wound_says_what_is_still_needed(ward, pages):
    page = pages(by="")
    assert "Still needed: the person's code, the side, the part of the body, the kind." in texts(page)
    assert "Say who you are, above." in texts(page)
    assert button(page, "Open this wound").disabled
    page = pages()
    page.text_input(key="new-wound-person").set_value("P014")
    page.segmented_control(key="new-wound-side").set_value(Side.LEFT)
    page.pills(key="new-wound-place").set_value(PLACES[-1])
    page = shown(page.run())
    assert "Still needed: the kind." in texts(page)
    page = shown(page.pills(key="new-wound-kind").set_value(Kind.OTHER).run())
    assert "Still needed" not in texts(page)
    button(page, "Open this wound").click()
    shown(page.run())
    assert [str(each) for each in ward.wounds("P014")] == ["wound 1, left other place"]


def test_what_a_person_has_already_is_shown_before_another_is_opened(ward, pages):
    wound(ward)
    page = pages()
    page = shown(page.text_input(key="new-wound-person").set_value("P014").run())
    assert "P014 has already: wound 1, left shin. Open a new one only if it is none of these." in texts(page)


def test_a_code_that_can_not_be_one_is_a_sentence(ward, pages):
    page = pages()
    page.text_input(key="new-wound-person").set_value("P/1")
    page.segmented_control(key="new-wound-side").set_value(Side.LEFT)
    page.pills(key="new-wound-place").set_value("shin")
    page.pills(key="new-wound-kind").set_value(Kind.OTHER)
    page = shown(page.run())
    assert button(page, "Open this wound").disabled
    assert "Still needed: the person's code." in texts(page)
    (said,) = page.error
    assert "person's code" in said.value
    assert said.value.endswith(".")
    assert ward.wounds() == []


# ---------------------------------------------------------------- a visit: when it was, and whose photo


def upload(page, path):
    page.file_uploader[0].upload(path.name, path.read_bytes(), "image/jpeg")
    return shown(page.run())


def when(page):
    return next(each for each in page.radio if each.label == "When was the visit?")


def saves(page):
    page.button(key="save-visit").click()
    return shown(page.run())


def test_a_visit_with_nothing_in_it_is_not_saved(ward, pages):
    one = wound(ward)
    page = saves(pages("visit", wound=one.key))
    assert "a visit holds a photo, a finding or a note" in page.error[0].value
    assert len(ward.visits(one.id)) == 0


def test_another_time_is_that_of_one_visit_only(ward, pages):
    one, other = wound(ward), wound(ward, "P015")
    page = pages("visit", wound=one.key)
    page = shown(when(page).set_value("other").run())
    day = datetime.now().astimezone().date() - timedelta(days=3)
    page.date_input[-1].set_value(day)
    page.text_area[0].set_value("Seen on the way.")
    page = saves(shown(page.run()))
    (visit,) = ward.visits(one.id)
    assert visit.at.astimezone().date() == day
    button(page, "Another visit").click()
    page = shown(page.run())
    assert when(page).value == "now"
    page.session_state["wound"] = other.key
    assert when(shown(page.run())).value == "now"


def test_who_saved_meanwhile_is_told_even_where_the_visit_was_earlier(ward, pages):
    one = wound(ward)
    now = datetime.now(UTC)
    ward.save_visit(VisitDraft(one.id, now, "EF", note="Seen."))
    page = pages("visit", wound=one.key)
    ward.save_visit(VisitDraft(one.id, now - timedelta(days=1), "CD", note="Seen the day before."))
    assert "CD saved a visit to this wound" in texts(shown(page.run()))


def test_the_photo_of_one_wound_is_never_saved_to_another(ward, pages, first_sample):
    one, other = wound(ward), wound(ward, "P015")
    page = upload(pages("visit", wound=one.key), first_sample.photo)
    assert page.metric
    assert when(page).value is None
    page = shown(when(page).set_value("photo").run())
    assert page.button(key="save-visit").label == "Save visit to P014, wound 1"
    page.session_state["wound"] = other.key
    page = shown(page.run())
    assert "The photo that was open is not of this visit, and was put away." in texts(page)
    assert not page.metric
    page.text_area[0].set_value("No photo was taken.")
    saves(shown(page.run()))
    (visit,) = ward.visits(other.id)
    assert visit.photos == ()


def test_the_wound_that_was_chosen_in_the_photo_stays_the_chosen_one(ward, pages, first_sample):
    page = upload(pages("visit", wound=wound(ward).key), first_sample.photo)
    ((photo, drawn),) = page.session_state["edited"].items()
    first, second, third, new = (_square(left) for left in (100.0, 400.0, 700.0, 1000.0))

    def chosen(*wounds):
        drawn.take({"seq": drawn.seq + 1, "wounds": list(wounds), "edits": 1, "rev": 1})
        shown(page.run())
        return page.session_state[f"visit-outline-{photo}"]

    assert chosen(first, second, third) is None
    page.session_state[f"visit-outline-{photo}"] = 1
    assert chosen(first, second, third) == 1
    assert chosen(second, third) == 0
    assert chosen(third, new) is None


def test_a_photo_without_a_wound_is_saved_with_what_was_said(ward, pages, first_sample):
    one = wound(ward)
    page = upload(pages("visit", wound=one.key), first_sample.photo)
    ((_, drawn),) = page.session_state["edited"].items()
    drawn.take({"seq": 1, "wounds": [], "edits": 1})
    page = shown(page.run())
    assert "it is saved with the visit, without numbers" in texts(page)
    page.text_area[0].set_value("Closed.")
    page = shown(when(page).set_value("photo").run())
    saves(page)
    (visit,) = ward.visits(one.id)
    assert len(visit.photos) == 1
    assert visit.measurement is None
    assert visit.outlines == ()


def _square(left):
    return {"outline": [[left, 100.0], [left + 200, 100.0], [left + 200, 300.0], [left, 300.0]], "holes": []}


def test_a_photo_is_kept_while_another_page_of_its_wound_is_open(ward, pages, first_sample):
    one = wound(ward)
    page = upload(pages("visit", wound=one.key), first_sample.photo)
    page = shown(page.switch_page("measure/pages/history.py").run())
    page = shown(page.switch_page("measure/pages/visit.py").run())
    assert page.metric


def test_what_is_traced_again_is_the_photo_of_that_visit(ward, pages, first_sample, tilted):
    one = wound(ward)
    photo = ward.put_photo(first_sample.photo.read_bytes(), "photo.jpg")
    ward.save_visit(VisitDraft(one.id, datetime.now(UTC), "AB", photo=photo))
    page = pages("history", wound=one.key)
    button(page, "Trace this photo again").click()
    assert shown(page.run()).metric
    page = shown(page.switch_page("measure/pages/visit.py").run())
    assert "The photo that was open is not of this visit" in texts(page)
    upload(page, tilted)
    page = shown(page.switch_page("measure/pages/history.py").run())
    assert "tilted by 40 degrees" not in texts(page)
    button(page, "Save the new outline").click()
    shown(page.run())
    ((numbers,),) = [visit.measurements for visit in ward.visits(one.id)]
    stored = hashlib.sha256(ward.photo_bytes(photo.sha256)).hexdigest()
    assert numbers.document["photo"]["sha256"] == numbers.outline.photo == stored


# ---------------------------------------------------------------- how a wound stands


def test_a_wound_is_merged_only_into_one_that_is_named(ward, pages):
    one = wound(ward)
    page = pages("history", wound=one.key)
    status = next(each for each in page.radio if each.label == "What happened")
    page = shown(status.set_value("It has grown together with another wound").run())
    assert "This person has no other open wound" in texts(page)
    assert button(page, "Record: it has grown").disabled
    other = wound(ward)
    page = shown(page.run())
    page = shown(page.radio(key=f"status-other-{ward.wound(one.key).id}").set_value(other.number).run())
    button(page, "Record: it has grown").click()
    page = shown(page.run())
    assert "This wound was marked merged" in texts(page)
    assert ward.wound(one.key).status is Status.MERGED
    assert not [each for each in page.radio if each.label == "What happened"]


def test_a_wound_that_somebody_marked_meanwhile_is_not_marked_again(ward, pages):
    one = wound(ward)
    page = pages("history", wound=one.key)
    page = shown(page.radio[0].set_value("It has healed").run())
    real, marks = type(ward).mark, []

    def first_another(record, *words, **names):
        if not marks:
            marks.append(real(record, one.id, "healed", "CD"))
        return real(record, *words, **names)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(ward), "mark", first_another)
        button(page, "Record: it has healed").click()
        page = shown(page.run())
    (said,) = page.error
    assert "CD" in said.value
    assert len(ward.wound(one.key).events) == 2


# ---------------------------------------------------------------- history


def test_history_of_a_wound_without_visits_says_so(ward, pages):
    assert "No visit to this wound is in the record yet." in texts(pages("history", wound=wound(ward).key))


def test_a_note_is_added_to_the_visit_that_is_shown(ward, pages):
    one = wound(ward)
    now = datetime.now(UTC)
    for days in (14, 7):
        ward.save_visit(VisitDraft(one.id, now - timedelta(days=days), "AB", note=f"{days} days ago *"))
    page = pages("history", wound=one.key, by="CD")
    assert "7 days ago *" in texts(page)
    assert "14 days ago" not in texts(page)
    page = shown(page.pills(key=f"history-{one.id}").set_value(ward.visits(one.id)[0].id).run())
    assert "14 days ago *" in texts(page)
    page.text_area[0].set_value("Called the provider.")
    button(page, "Add the note").click()
    page = shown(page.run())
    assert "Called the provider." in texts(page)
    earlier, newest = ward.visits(one.id)
    assert [(note.text, note.by) for note in earlier.notes][1:] == [("Called the provider.", "CD")]
    assert len(newest.notes) == 1
