"""Agreement from what the record holds anyway: proposals, length x width, rulers."""

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial

import numpy as np
import streamlit as st

from measure.agreement.errors import AgreementError
from measure.agreement.statistic import Statistic
from measure.geometry import Convention
from measure.pages.consistency_conventions import CONVENTIONS
from measure.pages.held import record
from measure.pages.period import ask_period
from measure.pages.plain import plain
from measure.pages.share_table import show_shares
from measure.practice.share import FEWEST, Share
from measure.record.at_hand import AcceptedEntry, SizesEntry
from measure.study.at_hand import (
    ACCEPTED,
    ELLIPSE,
    LENGTH_X_WIDTH,
    PHOTO,
    PROPOSAL,
    RULER,
    TRACED,
    Compared,
    Proposals,
    against_proposal,
    compared,
    conventions,
    length_x_width_against_area,
    ruler_against_photo,
    taken_by_person,
)

_READ = "at-hand-read"
Read = tuple[Sequence[AcceptedEntry], Sequence[SizesEntry], Proposals]


def show_at_hand(quality: bool) -> None:  # noqa: FBT001 - as all sections of the page are called
    """Draw the section; numbers about people only for the quality team."""
    words, since = ask_period("at-hand-period")
    accepted, sizes, proposals = _read(words, since)
    st.markdown(
        "**Found in passing, not in a study:** nobody was blind, so these figures are friendlier than those of a "
        "study. To learn how well people agree, run one."
    )
    _proposals(proposals)
    _lengths(sizes)
    _rulers(sizes)
    if quality:
        _people(accepted)
    _method()


def _read(words: str, since: datetime | None) -> Read:
    """Return what the record tells, read anew only where something was added."""
    known = (words, since, record().survey.stand())
    held: tuple[object, Read] | None = st.session_state.get(_READ)
    if held is None or held[0] != known:
        with st.spinner("Comparing outlines ..."):
            accepted = record().survey.accepted(since)
            held = (known, (accepted, record().survey.sizes(since), against_proposal(accepted)))
        st.session_state[_READ] = held
    return held[1]


def _proposals(told: Proposals) -> None:
    st.subheader("Proposal against accepted outline", anchor=False)
    if told.observations is None:
        st.markdown("In this time nobody went over a proposed outline that met the wound.")
    else:
        ratio = partial(compared, told.observations, PROPOSAL, ACCEPTED)
        _told(
            ratio,
            "The proposed area",
            "the accepted one",
            _count(told.gone_over, "visit gone over", "visits gone over"),
        )
        low, middle = np.percentile(told.dice, (10, 50))
        st.markdown(
            f"Overlap of the same {_count(len(told.dice), 'visit', 'visits')} (Dice; 1 is the same outline): half have "
            f"{middle:.2f} or more, one in ten less than {low:.2f}."
        )
    show_shares(
        "What people did with proposals",
        "Counted",
        {
            "wounds where nothing was proposed that met the wound": Share(told.missed, told.missed + len(told.dice)),
            "visits at which somebody went over it and changed nothing": Share(told.unchanged, told.gone_over),
            "visits measured as proposed; nobody said they checked it": Share(told.taken, told.taken + told.gone_over),
        },
    )


def _lengths(sizes: Sequence[SizesEntry]) -> None:
    st.subheader("Length x width against traced area", anchor=False)
    known = conventions(sizes)
    if not known:
        st.markdown("In this time nothing was measured.")
    for convention in known:
        st.markdown(f"{_taken(convention)}:")
        _told(partial(_length_ratio, sizes, convention), "Length x width", "the traced area")
    st.caption(
        f"An ellipse gives {ELLIPSE:.2f} times by geometry; irregular wounds more. Length x width is no area: compare "
        "it with itself only."
    )


def _rulers(sizes: Sequence[SizesEntry]) -> None:
    st.subheader("Ruler against photo", anchor=False)
    sides = [side for side in ("length", "width") if _has_both(sizes, side)]
    if not sides:
        st.markdown("No visit in this time has both ruler and photo.")
    for side in sides:
        _told(partial(_ruler_ratio, sizes, side), f"The {side} by ruler", f"the {side} by photo")
    st.caption("To compare: enter length and width by ruler at a visit, under *Also record: size by ruler*.")


def _length_ratio(sizes: Sequence[SizesEntry], convention: str) -> Compared:
    return compared(length_x_width_against_area(sizes, convention), LENGTH_X_WIDTH, TRACED)


def _ruler_ratio(sizes: Sequence[SizesEntry], side: str) -> Compared:
    return compared(ruler_against_photo(sizes, side), RULER, PHOTO)


def _has_both(sizes: Sequence[SizesEntry], side: str) -> bool:
    try:
        ruler_against_photo(sizes, side)
    except AgreementError:
        return False
    return True


def _taken(convention: str) -> str:
    """Return a convention in plain words; as it stands where it is no known one."""
    return CONVENTIONS[Convention(convention)] if convention in set(Convention) else plain(convention)


def _told(made: Callable[[], Compared], subject: str, reference: str, visits: str = "") -> None:
    """Say bias and limits in one sentence; what keeps them from being found likewise.

    Parameters
    ----------
    made : callable
        Compares, or raises AgreementError.
    subject, reference : str
        What is so many times what.
    visits : str
        Of which visits those compared are the first ones; those with both where left out.
    """
    try:
        found = made()
    except AgreementError as error:
        st.markdown(plain(str(error)))
        return
    limits = found.limits
    st.markdown(
        f"{subject} is on average **{limits.bias.value:.2f} times** {reference} (95 % interval {_ends(limits.bias)}). "
        f"For 19 of 20 wounds it is expected between **{limits.lower.value:.2f}** and **{limits.upper.value:.2f}** "
        f"times (95 % intervals of these limits {_ends(limits.lower)} and {_ends(limits.upper)})."
    )
    few = f" **Too few to judge:** at least {FEWEST} wounds are needed." if found.few else ""
    whole = visits or _count(found.visits, "visit with both", "visits with both")
    st.caption(f"{_count(found.wounds, 'wound', 'wounds')}, one visit each, of {whole}.{few}")


def _ends(figure: Statistic) -> str:
    return f"{figure.low:.2f} to {figure.high:.2f}"


def _count(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def _people(accepted: Sequence[AcceptedEntry]) -> None:
    with st.expander("By person: for the quality team only", icon=":material/lock:"):
        st.caption("To help, not to rank: a proposal that is right needs no edit, but somebody should say so.")
        show_shares("Measured as proposed; nobody said they checked it", "Person", taken_by_person(accepted))


def _method() -> None:
    with st.expander("How these figures are found"):
        st.markdown(
            "Each wound counts once, with its first visit in this time that has both: visits of one wound resemble one "
            "another. Bias and limits of agreement are ratios, from differences of logarithms: the mean, and 1.96 "
            "standard deviations (n - 1) to both sides (Bland JM, Altman DG. Lancet 1986;i:307-310). The area of a "
            "proposal is the accepted area times the ratio of both in pixels of the photo: one plane, edges close "
            "together, so that perspective changes both alike. Visits that were left out of their series don't count."
        )
