"""The pages of a study, by Streamlit's own tester: what they ask, hide, refuse and save."""

import json
import shutil

import pytest
from scenes_studied import fill, ring_px
from streamlit.testing.v1 import AppTest

from measure.outline import Outline
from measure.pages import consistency_photo, held
from measure.pages.by_eye import BY
from measure.record.store import open_record
from measure.record.study_entries import DrawnBy, StudyPhoto, StudyPlan
from measure.record.study_rows import TracingDraft
from measure.server import DATA_VARIABLE
from measure.study.turns import next_turn

SMALL = {"outline": [[10.0, 10.0], [60.0, 10.0], [60.0, 60.0], [10.0, 60.0]], "holes": []}


def tracing():
    """Be the page on which raters trace."""
    from measure.pages.consistency_tracing import trace_studies

    trace_studies()


def beginning():
    """Be the page on which studies begin and end."""
    from measure.pages.consistency_new import ask_new_study

    ask_new_study()


def left_out():
    """Be the line that says which photos can be used."""
    import streamlit as st

    from measure.pages.consistency_candidates import show_candidates
    from measure.study.candidates import Candidates

    show_candidates(Candidates((), {"photo not measured": st.session_state["count"]}))


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    """Give the folder of a record with two photos, and what they show by their hashes."""
    folder = tmp_path_factory.mktemp("rendered") / "record"
    with open_record(folder) as record:
        return folder, fill(record, 2)


@pytest.fixture
def ward(rendered, tmp_path, monkeypatch):
    """Give a copy of that record, open, that the pages use too."""
    shutil.copytree(rendered[0], tmp_path / "record")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "record"))
    with open_record(tmp_path / "record", create=False) as record:
        yield record
    held._opened.clear()


@pytest.fixture
def scenes(rendered):
    return rendered[1]


def study(ward, scenes, **changes):
    """Begin a study of both photos, with a proposal that is off the true edge."""
    photos = tuple(
        StudyPhoto(number, sha256, f"P{99 + number}/1", 2.0, "", Outline(ring_px(seen, 2.0)), "trial 1")
        for number, (sha256, seen) in enumerate(scenes.items(), 1)
    )
    given = {"seed": 3, "drawn_by": DrawnBy.RANDOM, "photos": photos, "raters": ("AB", "CD"), "trials": 2}
    given |= {"proposal": False, "convention": "longest-perpendicular"}
    return ward.studies.add("Spring", StudyPlan(**(given | changes)), "QA")


def opened(page, by="AB"):
    tester = AppTest.from_function(page, default_timeout=60)
    tester.session_state[BY] = by
    return shown(tester.run())


def shown(page):
    assert not page.exception
    return page


def texts(page):
    kinds = (page.title, page.subheader, page.markdown, page.caption, page.info, page.success, page.warning, page.error)
    words = [element.value for kind in kinds for element in kind]
    return " ".join([*words, *(bar.proto.text for bar in page.get("progress"))]).replace("\\", "")


def button(page, label):
    return next(each for each in page.button if label in each.label)


def editor(page):
    """Give what the browser is told."""
    return json.loads(page.get("bidi_component")[0].proto.json)


def draw(page, *wounds, seq=1):
    """Draw wounds as the browser sends them, and let the page be drawn again."""
    (drawn,) = page.session_state["edited"].values()
    drawn.take({"wounds": list(wounds), "seq": seq, "edits": seq, "rev": 1})
    return shown(page.run())


def true_ring(ward, scenes, by="AB"):
    """Give the true edge of the photo whose turn it is, in the browser's form, and its area in cm2."""
    seen = scenes[next_turn(ward.studies.heads()[0], by).photo.sha256]
    return {"outline": ring_px(seen).tolist(), "holes": []}, seen.wound_mm().area / 100


# ---------------------------------------------------------------- tracing


@pytest.mark.usefixtures("ward")
def test_who_traces_is_asked_first():
    page = opened(tracing, by="")
    assert "Who are you?" in texts(page)
    assert [each.label for each in page.button] == ["Use these initials"]


def test_who_is_no_rater_is_told(ward, scenes):
    study(ward, scenes)
    assert "No study asks you to trace now" in texts(opened(tracing, by="EF"))


def test_a_closed_study_is_told_with_its_reason(ward, scenes):
    ward.studies.close(study(ward, scenes).id, "Too few raters", "QA")
    page = opened(tracing)
    assert "Spring: closed by QA (Too few raters)." in texts(page)
    assert not any("trace" in each.label for each in page.button)


def test_the_photo_is_shown_alone(ward, scenes):
    """Neither person nor wound, day, number or anybody's line reaches the browser."""
    study(ward, scenes)
    page = opened(tracing, by="ab")
    button(page, "Begin to trace").click().run()
    assert "Photo 1 of 2** · trial 1 of 2" in texts(shown(page))
    told = editor(page)
    assert (told["wounds"], told["proposal"], told["numbers"], told["lines"]) == ([], [], [], [])
    assert (told["tissue"], told["edits"], told["taps"]) == (None, 0, [])
    for secret in ("P100", "P101", "2026", "cm", "shin", "heel", "verdict"):
        assert secret not in texts(page)
    assert not page.metric


def test_saving_waits_for_just_one_sound_wound(ward, scenes):
    study(ward, scenes)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    ring, _ = true_ring(ward, scenes)
    bow = {"outline": [[300, 300], [500, 500], [500, 300], [300, 500]], "holes": []}
    for number, (wounds, said) in enumerate(
        [([], "No wound is drawn yet"), ([ring, SMALL], "2 wounds are drawn"), ([bow], "crosses itself")], 1
    ):
        draw(page, *wounds, seq=number)
        assert said in texts(page)
        assert button(page, "Save and next").disabled
    draw(page, ring, seq=4)
    assert not button(page, "Save and next").disabled
    assert "Look at the whole line once more" in texts(page)


def test_a_rater_traces_all_photos_twice_and_sees_no_earlier_line(ward, scenes):
    begun = study(ward, scenes)
    page, areas = opened(tracing), {}
    for trial, label in ((1, "Begin to trace"), (2, "Begin trial 2")):
        button(page, label).click().run()
        for place in (1, 2):
            assert f"Photo {place} of 2** · trial {trial} of 2" in texts(shown(page))
            assert (editor(page)["wounds"], editor(page)["saved"]) == ([], 0)
            turn = next_turn(ward.studies.head(begun.id), "AB")
            ring, areas[turn.photo.number] = true_ring(ward, scenes)
            draw(page, ring)
            button(page, "Save and next").click().run()
            assert not page.session_state["edited"] or place == 1
    assert "Finished: you have traced all photos" in texts(shown(page))
    kept = ward.studies.one(begun.id).tracings
    assert sorted((one.trial, one.photo) for one in kept) == [(1, 1), (1, 2), (2, 1), (2, 2)]
    for one in kept:
        assert one.wound["area_cm2"]["value"] == pytest.approx(areas[one.photo], rel=0.02)
        assert (one.rater, one.by, one.document["editing"]["proposed"]) == ("AB", "AB", [])
        assert one.document["software"]["ebbline"]
        assert (one.document["photo"]["path"], one.seconds >= 0) == ("", True)
    assert "trial 1" not in texts(opened(tracing, by="CD"))


def test_with_the_proposal_raters_begin_with_what_was_proposed_at_the_visit(ward, scenes):
    begun = study(ward, scenes, proposal=True)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    assert "Correct the line where it is wrong" in texts(shown(page))
    photo = next_turn(begun, "AB").photo
    told = editor(page)
    assert told["wounds"] == told["proposal"]
    assert told["wounds"][0]["outline"] == photo.proposal.exterior.round(2).tolist()
    button(page, "Save and next").click().run()
    (kept,) = ward.studies.one(begun.id).tracings
    assert kept.outline.exterior == pytest.approx(photo.proposal.exterior, abs=0.01)
    editing = kept.document["editing"]
    assert (editing["edits"], editing["checked"], editing["method"]) == (0, True, "trial 1")


def saved_elsewhere(ward, begun, ring):
    """Save the photo whose turn it is from another device."""
    photo = next_turn(ward.studies.head(begun.id), "AB").photo.number
    document = {"wounds": [{"area_cm2": {"value": 1.0}}]}
    ward.studies.add_tracing(begun.id, TracingDraft(photo, "AB", 1, Outline(ring["outline"]), document, 5.0), "AB")


def test_what_another_device_saved_meanwhile_stays_and_is_told(ward, scenes):
    begun = study(ward, scenes)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    ring, _ = true_ring(ward, scenes)
    draw(page, ring)
    saved_elsewhere(ward, begun, ring)
    button(page, "Save and next").click().run()
    assert "was saved from another device" in texts(shown(page))
    assert "Photo 2 of 2" in texts(page)
    assert button(page, "Save and next").disabled
    assert [one.seconds for one in ward.studies.one(begun.id).tracings] == [5.0]
    assert "another device" not in texts(shown(page.run()))


def test_what_another_device_saves_at_the_same_moment_stays_and_is_told(ward, scenes, monkeypatch):
    """The other device is quicker by less than the page needs to measure."""
    begun = study(ward, scenes)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    ring, _ = true_ring(ward, scenes)
    draw(page, ring)
    measured = consistency_photo._measured

    def slowly(*words):
        saved_elsewhere(ward, begun, ring)
        return measured(*words)

    monkeypatch.setattr(consistency_photo, "_measured", slowly)
    button(page, "Save and next").click().run()
    assert "saved already, at" in texts(shown(page))
    assert "Photo 2 of 2" in texts(page)
    assert [one.seconds for one in ward.studies.one(begun.id).tracings] == [5.0]


def test_a_study_that_is_closed_meanwhile_saves_nothing(ward, scenes):
    begun = study(ward, scenes)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    draw(page, true_ring(ward, scenes)[0])
    ward.studies.close(begun.id, "Enough", "QA")
    button(page, "Save and next").click().run()
    assert "closed by QA (Enough)" in texts(shown(page))
    assert ward.studies.one(begun.id).tracings == ()


def test_a_pause_keeps_what_is_saved(ward, scenes):
    study(ward, scenes)
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    draw(page, true_ring(ward, scenes)[0])
    button(page, "Save and next").click().run()
    button(page, "Pause").click().run()
    assert "You have traced 1 of 4." in texts(shown(page))
    again = opened(tracing)
    button(again, "Go on with photo 2").click().run()
    assert "Photo 2 of 2" in texts(shown(again))


def test_head_to_toe_the_rater_says_where_the_head_is(ward, scenes):
    begun = study(ward, scenes, convention="head-to-toe")
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    draw(page, true_ring(ward, scenes)[0])
    assert "Say where the head is" in texts(page)
    assert button(page, "Save and next").disabled
    page.radio[0].set_value(90).run()
    button(page, "Save and next").click().run()
    (kept,) = ward.studies.one(begun.id).tracings
    assert (kept.document["head_deg"], kept.wound["convention"]) == (90.0, "head-to-toe")


def test_a_photo_that_is_missing_is_a_sentence(ward, scenes):
    photo = next_turn(study(ward, scenes), "AB").photo.sha256
    (file,) = (ward.place.file.parent / "photos" / photo[:2]).glob(f"{photo}*")
    file.unlink()
    page = opened(tracing)
    button(page, "Begin to trace").click().run()
    assert "is missing" in texts(shown(page))
    assert "what you saved before stays" in texts(page)
    assert "tell who began the study: QA." in texts(page)
    assert button(page, "Pause")


# ---------------------------------------------------------------- beginning and closing


def begun_page(page, name="Spring", raters="AB, CD; ef"):
    page.text_input[0].set_value(name)
    page.text_input[1].set_value(raters)
    return shown(page.run())


def test_a_study_begins_once_it_is_said_what_it_is(ward, scenes):
    ward.set("convention", "head-to-toe", "QA")
    page = opened(beginning, by="QA")
    assert "2 photos** of 2 wounds can be used" in texts(page)
    assert "give the study a name" in texts(page)
    assert button(page, "Begin the study").disabled
    assert "name who traces" in texts(begun_page(page, raters=" , "))
    begun_page(page)
    button(page, "Begin the study").click().run()
    assert "AB, CD, ef find it under Trace" in texts(shown(page))
    (study,) = ward.studies.heads()
    assert (study.name, study.by, study.plan.raters, study.plan.trials) == ("Spring", "QA", ("AB", "CD", "ef"), 2)
    assert (study.plan.convention, study.plan.proposal, study.plan.drawn_by) == ("head-to-toe", False, DrawnBy.RANDOM)
    assert {photo.sha256 for photo in study.plan.photos} == set(scenes)
    assert page.text_input[0].value == ""


@pytest.mark.usefixtures("ward")
def test_one_rater_once_is_no_study():
    page = begun_page(opened(beginning, by="QA"), raters="AB")
    page.radio[1].set_value(1).run()
    assert "name a second rater" in texts(page)
    assert button(page, "Begin the study").disabled


def test_a_rater_named_twice_is_a_sentence(ward):
    page = begun_page(opened(beginning, by="QA"), raters="AB, ab")
    assert "AB is named twice" in texts(page)
    assert button(page, "Begin the study").disabled
    assert ward.studies.heads() == []


@pytest.mark.usefixtures("ward")
def test_a_rater_whose_name_is_written_out_is_a_sentence_before_anything_is_pressed():
    page = begun_page(opened(beginning, by="QA"), raters="AB, somebody with a long name")
    assert "To begin, mend who traces" in texts(page)
    assert button(page, "Begin the study").disabled


@pytest.mark.parametrize(("by", "told"), [("qa", True), ("TT", True), ("AB", False), ("ZZ", False)])
def test_how_far_each_rater_has_come_shows_to_the_team_and_to_who_began(ward, scenes, by, told):
    study(ward, scenes)
    ward.set("quality_team", ["TT"], "TT")
    page = opened(beginning, by=by)
    assert ("AB: 0 of 4" in texts(page)) == told
    assert ("Raters: AB, CD" in texts(page)) != told
    assert "twice each" in texts(page)


def test_what_can_not_be_used_is_counted_in_words_that_fit_any_number():
    words = []
    show = AppTest.from_function(left_out)
    for number in (1, 6):
        show.session_state["count"] = number
        words.append(texts(shown(show.run())))
    assert words[0].endswith("1 visit can't be used. Photo not measured: 1.")
    assert words[1].endswith("6 visits can't be used. Photo not measured: 6.")


def test_a_study_is_closed_and_opened_again_with_a_reason(ward, scenes):
    begun = study(ward, scenes)
    page = opened(beginning, by="QA")
    button(page, "Close the study").click().run()
    assert "why the study is closed" in texts(shown(page))
    for label, reason in (("Close the study", "A rater has left"), ("Open again", "The rater is back")):
        page.text_input[-1].set_value(reason)
        button(page, label).click().run()
        assert f"by QA on {page.caption[-1].value.split(' on ')[1].split(':')[0]}: {reason}" in texts(shown(page))
    events = ward.studies.head(begun.id).events
    assert [(str(each.what), each.reason) for each in events] == [
        ("closed", "A rater has left"),
        ("reopened", "The rater is back"),
    ]


def test_without_photos_nothing_can_begin(empty_file, tmp_path, monkeypatch):
    shutil.copy(empty_file, tmp_path / "record.db")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    page = opened(beginning, by="QA")
    assert "0 photos" in texts(page)
    assert [each.label for each in page.button] == ["Someone else"]
    held._opened.clear()
