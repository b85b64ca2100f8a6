"""Beginning a study: which photos, who traces them, how often and how; and closing those that are under way."""

import re
import secrets
from collections import Counter
from typing import NamedTuple

import streamlit as st

from calibration.errors import EbblineError
from measure.agreement.figure_words import counted
from measure.editing import EditingError, usable_by
from measure.geometry import Convention
from measure.pages.consistency_candidates import candidates_read, show_candidates
from measure.pages.consistency_closing import show_studies
from measure.pages.consistency_conventions import CONVENTIONS
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor, named
from measure.record.study_entries import DrawnBy, StudyPhoto, StudyPlan
from measure.study.candidates import THIRDS, Candidate
from measure.study.drawing import draw, with_proposals

_PHOTOS = 12
"""Enough for a first study of three raters; the planning part tells how many a wished precision needs."""

_MOST_PHOTOS = 200
_SEEDS = 1_000_000
_BEGUN = "study-begun"
_FORMS = "study-forms"

_DRAWN = {
    DrawnBy.RANDOM: "From all, by lot",
    DrawnBy.SIZE: "Evenly by size",
    DrawnBy.SITE: "Evenly by place on the body",
    DrawnBy.TONE: "Evenly by skin tone",
}
_TIMES = {1: "Once", 2: "Twice", 3: "Three times"}
_SHOWN = {False: "The photo alone", True: "The photo with the proposed outline"}


class _Asked(NamedTuple):
    name: str
    raters: tuple[str, ...]
    trials: int
    proposal: bool
    convention: Convention
    drawn_by: DrawnBy
    seed: int
    photos: list[StudyPhoto]


def ask_new_study() -> None:
    """Draw the part of the page on which studies begin and end."""
    if not named("You are", "Who begins the study?"):
        return
    if said := st.session_state.pop(_BEGUN, ""):
        st.success(said, icon=":material/check_circle:")
    st.subheader("A new study", anchor=False)
    found = candidates_read()
    show_candidates(found)
    if found.photos:
        _ask(found.photos)
    show_studies()


def _ask(photos: tuple[Candidate, ...]) -> None:
    asked = _answers(photos)
    _show_draw(asked.photos)
    st.markdown(f"Each rater makes **{counted(len(asked.photos) * asked.trials, 'tracing')}**.")
    missing = _missing(asked)
    if missing:
        st.caption(plain(missing))
    if st.button("Begin the study", type="primary", width="stretch", disabled=bool(missing)):
        _begin(asked, photos)


def _answers(photos: tuple[Candidate, ...]) -> _Asked:
    most = min(_MOST_PHOTOS, len(photos))
    name = st.text_input("Name of the study", max_chars=60, key=_key("name", ""))
    said = st.text_input("Who traces? Initials or staff codes, with commas between, no names", key=_key("raters", ""))
    count = st.number_input(f"How many photos? (1 to {most})", 1, most, key=_key("count", min(_PHOTOS, most)))
    drawn_by = st.radio(
        "How are they chosen?", list(_DRAWN), format_func=_DRAWN.__getitem__, key=_key("drawn", DrawnBy.RANDOM)
    )
    trials = st.radio(
        "How often does each rater trace each photo?",
        list(_TIMES),
        format_func=_TIMES.__getitem__,
        horizontal=True,
        key=_key("trials", 2),
        help="Twice or more tells how well a rater agrees with the rater's own line.",
    )
    proposal = st.radio(
        "What do raters begin with?", list(_SHOWN), format_func=_SHOWN.__getitem__, key=_key("proposal", default=False)
    )
    with st.expander("More: how length and width are taken, number of the lot"):
        convention, seed = _convention(), _seed()
    raters = tuple(filter(None, (rater.strip() for rater in re.split(r"[,;\n]", said))))
    drawn = draw(photos, int(count), drawn_by, seed)
    return _Asked(name, raters, trials, proposal, convention, drawn_by, seed, drawn)


def _convention() -> Convention:
    """Ask how length and width are taken; at first as the site does."""
    site = Convention(record().setting("convention", Convention.LONGEST_PERPENDICULAR))
    return st.radio(
        "How length and width are taken",
        list(CONVENTIONS),
        format_func=CONVENTIONS.__getitem__,
        key=_key("convention", site),
    )


def _seed() -> int:
    """Ask for the seed; at first one that nobody can foresee."""
    label = "Number of the lot (seed): the same number chooses the same photos again"
    return int(st.number_input(label, 0, _SEEDS, key=_key("seed", secrets.randbelow(_SEEDS))))


def _key(name: str, default: object) -> str:
    """Return the key of an answer, which begins with a default; each study begins with answers of its own."""
    key = f"study-{name}-{st.session_state.get(_FORMS, 0)}"
    st.session_state.setdefault(key, default)
    return key


def _show_draw(photos: list[StudyPhoto]) -> None:
    """Say what was drawn, by group where there are any."""
    wounds = len({photo.wound_key for photo in photos})
    areas = sorted(photo.area_cm2 for photo in photos)
    st.markdown(f"Chosen: **{counted(len(photos), 'photo')}** of {counted(wounds, 'wound')}, {_sizes(areas)} cm².")
    groups = Counter(photo.stratum for photo in photos)
    if set(groups) != {""}:
        names = sorted(groups, key=lambda name: (THIRDS.index(name) if name in THIRDS else 0, name))
        st.table({"Group": names, "Photos": [groups[name] for name in names]}, width="content")
    if wounds < len(photos):
        st.caption("There are fewer wounds than photos, so some wounds come more than once, from different visits.")


def _sizes(areas: list[float]) -> str:
    low, high = f"{areas[0]:.1f}", f"{areas[-1]:.1f}"
    return low if low == high else f"{low} to {high}"


def _missing(asked: _Asked) -> str:
    """Say what keeps the study from beginning; empty where nothing does."""
    if not asked.name.strip():
        return "To begin: give the study a name."
    if not asked.raters:
        return "To begin: name who traces."
    for rater in asked.raters:
        try:
            usable_by(rater)
        except EditingError as error:
            return f"To begin, mend who traces. {error}"
    folded = [rater.casefold() for rater in asked.raters]
    if twice := next((rater for rater in asked.raters if folded.count(rater.casefold()) > 1), None):
        return f"To begin: {twice} is named twice; name each rater once. Capitals make no difference."
    if len(asked.raters) * asked.trials < 2:
        return "To begin: name a second rater, or let each photo be traced twice."
    return ""


def _begin(asked: _Asked, photos: tuple[Candidate, ...]) -> None:
    drawn = with_proposals(asked.photos, photos, record().visit)
    plan = StudyPlan(
        asked.seed, asked.drawn_by, drawn, asked.raters, asked.trials, asked.proposal, asked.convention.value
    )
    try:
        study = record().studies.add(asked.name, plan, editor())
    except EbblineError as error:
        st.error(str(error), icon=":material/error:")
        return
    bare = sum(photo.proposal is None for photo in drawn) if asked.proposal else 0
    without = (
        f" For {bare} of the photos nothing was proposed, and the rater begins with the photo alone." if bare else ""
    )
    st.session_state[_BEGUN] = (
        f"The study **{plain(study.name)}** has begun: {', '.join(map(plain, study.plan.raters))} find it under "
        f"Trace.{without}"
    )
    st.session_state[_FORMS] = st.session_state.get(_FORMS, 0) + 1
    st.rerun()
