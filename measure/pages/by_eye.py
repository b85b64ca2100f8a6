"""Asks what a person sees of tissue in a wound: proportions by eye, beside those that were measured."""

from collections.abc import Sequence

import shapely
import streamlit as st
from shapely.geometry.base import BaseGeometry

from measure.by_eye import ByEye, advice, off_by
from measure.hatching import LOOKS

BY = "by"
"""Where the session keeps initials or staff code of who edits and looks."""

Ring = Sequence[Sequence[float]]

_STEP = 5
"""Percent; nobody sees finer steps, and five numbers that all end in 0 or 5 can add up to 100."""


def ask_by_eye(photo: str, wound: int, title: str) -> None:
    """Ask for the proportions of a wound, given by its number from 0, and say what is missing to 100 %."""
    with st.expander(f"My own estimate: {title.lower()}" if title else "My own estimate"):
        st.markdown("What do you see, in percent of the wound? It is kept beside what was measured.")
        for tissue, look in LOOKS.items():
            st.number_input(f"{look.word}, %", 0, 100, step=_STEP, key=_key(photo, wound, tissue))
        percent = _percent(photo, wound)
        total, missing = sum(percent.values()), off_by(percent)
        if not total:
            st.markdown("Together they have to be 100 %.")
        elif missing:
            st.markdown(f"**Together {total:g} %: {advice(missing)}**")
        else:
            st.success("Together 100 %. Your estimate stands beside what was measured.", icon=":material/task_alt:")


def follow_wounds(photo: str, rings: Sequence[Ring]) -> None:
    """Let each estimate go with its wound; call it before estimates are asked for, with the outer rings as they stand.

    Estimates are kept by the number of their wound, which changes where one before it is taken away.
    """
    before = st.session_state.get(f"rings-{photo}", [])
    st.session_state[f"rings-{photo}"] = list(rings)
    earlier = earlier_numbers(before, rings)
    if earlier == list(range(len(before))):
        return
    percent = [_percent(photo, number) for number in range(len(before))]
    for number, was in enumerate(earlier):
        for tissue in LOOKS:
            st.session_state[_key(photo, number, tissue)] = 0 if was is None else int(percent[was][tissue])


def earlier_numbers(before: Sequence[Ring], now: Sequence[Ring]) -> list[int | None]:
    """Return which of the rings before each ring is, by the area they share; None for what is new."""
    old, new = [_area(ring) for ring in before], [_area(ring) for ring in now]
    shared = [(here.intersection(there).area, i, j) for i, here in enumerate(new) for j, there in enumerate(old)]
    found: list[int | None] = [None] * len(now)
    for area, i, j in sorted(shared, reverse=True):
        if area > 0 and found[i] is None and j not in found:
            found[i] = j
    return found


def _area(ring: Ring) -> BaseGeometry:
    return shapely.make_valid(
        shapely.Polygon(ring if len(ring) > 2 else ())
    )  # a ring may cross itself while it is drawn


def by_eye_of(photo: str, wounds: int) -> tuple[ByEye | None, ...]:
    """Return the estimate of each of so many wounds; None where there is none, or none that adds up."""
    return tuple(_estimate(_percent(photo, wound)) for wound in range(wounds))


def _estimate(percent: dict[str, float]) -> ByEye | None:
    return None if off_by(percent) else ByEye(st.session_state.get(BY, ""), percent)


def _percent(photo: str, wound: int) -> dict[str, float]:
    return {name: float(st.session_state.get(_key(photo, wound, name), 0)) for name in LOOKS}


def _key(photo: str, wound: int, tissue: str) -> str:
    return f"eye-{photo}-{wound}-{tissue}"
