"""Tracing in a study: who you are, your studies, then photo after photo, until you pause or all is traced."""

import streamlit as st

from calibration.errors import EbblineError
from measure.pages.consistency_photo import ask_tracing
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor, named
from measure.record.errors import ChangedError
from measure.record.study_entries import StudyHead
from measure.study.turns import Turn, next_turn

_STUDY = "study-traced"
_SAID = "study-said"
_SHOWN = "study-shown"

_WHO = "Tracing as"
_WHO_ASKED = "Who are you? A study knows its raters by their initials or staff codes."

_ALONE = "Trace as you would at the bedside, by yourself; look up nothing about this wound until the study is over."
_PROPOSED = "Correct the line where it is wrong; where it is right, save it as it is."


def is_tracing() -> bool:
    """Whether a photo is being traced: nothing else belongs on the page then."""
    return st.session_state.get(_STUDY) is not None


def trace_studies() -> None:
    """Draw the part of the page on which a rater traces."""
    if not (is_tracing() and editor()) and not named(_WHO, _WHO_ASKED):
        return
    studies = record().studies.heads()
    mine = [(study, rater) for study in studies if (rater := study.plan.rater(editor()))]
    _look_for_others(studies)
    chosen = next((pair for pair in mine if pair[0].id == st.session_state.get(_STUDY)), None)
    turn = next_turn(*chosen) if chosen and not chosen[0].closed else None
    if chosen and turn:
        _say()
        _trace(*chosen, turn)
        return
    if st.session_state.pop(_STUDY, None) is not None:  # finished, closed, or somebody else's
        st.rerun()
    _say()
    _list(mine)


def _look_for_others(studies: list[StudyHead]) -> None:
    """Note if the photo that was shown here has been saved on another device since."""
    shown = st.session_state.get(_SHOWN)
    if shown and any(study.id == shown[0] and shown[1:] in study.done for study in studies):
        st.session_state.pop(_SHOWN)
        st.session_state[_SAID] = (
            "The photo that was shown here was saved from another device or another window in the meantime; that "
            "tracing stays, and what was drawn here is not saved. Go on with the next photo."
        )


def _say() -> None:
    """Show once what came of the last photo, where that must be read."""
    if said := st.session_state.pop(_SAID, ""):
        st.warning(said, icon=":material/info:")


# The list


def _list(mine: list[tuple[StudyHead, str]]) -> None:
    under_way = [(study, rater) for study, rater in mine if not study.closed]
    if not under_way:
        st.info(
            "No study asks you to trace now. Whoever begins one names its raters by the initials or staff code that "
            "stand above; check that they are yours.",
            icon=":material/info:",
        )
    for study, rater in sorted(under_way, key=lambda pair: next_turn(*pair) is None):
        with st.container(border=True):
            _one(study, rater)
    for study, _ in mine:
        if study.closed:
            st.caption(f"{plain(study.name)}: closed by {plain(study.closed.by)} ({plain(study.closed.reason)}).")


def _one(study: StudyHead, rater: str) -> None:
    plan, turn = study.plan, next_turn(study, rater)
    done, asked = study.done_by(rater), len(plan.photos) * plan.trials
    st.subheader(plain(study.name), anchor=False)
    st.progress(done / asked, text=f"You have traced {done} of {asked}.")
    if turn is None:
        st.success("Finished: you have traced all photos. Thank you.", icon=":material/check_circle:")
        return
    if turn.trial > 1 and turn.place == 1:
        st.markdown(
            f"Trial {turn.trial - 1} is finished. Trial {turn.trial} shows the same photos in another order. Leave "
            "some days between if you can, so that you don't remember your lines (common practice: one to two weeks)."
        )
    label = _label(turn, done)
    if st.button(label, type="primary", width="stretch", key=f"trace-study-{study.id}"):
        st.session_state[_STUDY] = study.id
        st.rerun()


def _label(turn: Turn, done: int) -> str:
    if not done:
        return "Begin to trace"
    return f"Begin trial {turn.trial}" if turn.place == 1 else f"Go on with photo {turn.place}"


# Photo after photo


def _trace(study: StudyHead, rater: str, turn: Turn) -> None:
    photos, trials = len(study.plan.photos), study.plan.trials
    of = f" · trial {turn.trial} of {trials}" if trials > 1 else ""
    st.progress((turn.place - 1) / photos, text=f"**Photo {turn.place} of {photos}**{of}")
    if words := _words(study, turn):
        st.markdown(words)
    st.session_state[_SHOWN] = (study.id, rater, turn.trial, turn.photo.number)
    try:
        saved = ask_tracing(study, rater, turn)
    except ChangedError as error:
        st.session_state.pop(_SHOWN)
        st.session_state[_SAID] = str(error)
        st.rerun()
    except EbblineError as error:
        st.error(plain(str(error)), icon=":material/error:")
        st.markdown(
            "This photo is not saved; what you saved before stays. If this does not pass, tell who began the study: "
            f"{plain(study.by)}."
        )
        saved = False
    if saved:
        st.session_state.pop(_SHOWN)
        if turn.place == photos:
            st.session_state.pop(_STUDY)
        st.rerun()
    if st.button("Pause", width="stretch"):
        st.session_state.pop(_STUDY)
        st.rerun()
    st.caption("What is saved stays. A line that is not saved is drawn anew after the page was closed or reloaded.")
    named(_WHO, _WHO_ASKED)


def _words(study: StudyHead, turn: Turn) -> str:
    """Return how to trace: at length at the first photo of a trial, since a phone has room for the photo alone."""
    proposed = study.plan.proposal and turn.photo.proposal is not None
    return " ".join(filter(None, (_ALONE if turn.place == 1 else "", _PROPOSED if proposed else "")))
