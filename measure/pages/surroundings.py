"""The skin round a wound, and where to swab if a culture is ordered."""

from collections.abc import Iterable

import streamlit as st

from measure.pages.tissue import Skin, Tissue


def compares_skin(photo: str) -> bool:
    """Whether a person wants the skin round the wounds compared."""
    return bool(st.session_state.get(f"skin-{photo}"))


def skin_section(photo: str, tissue: Tissue, titles: Iterable[str], *, by_hand: bool) -> None:
    """Let a person ask how red the skin round each wound is; then say so, and what to take care of.

    Who chose the skin to compare with has asked: there is no switch then, which would stand on off and switch nothing.
    """
    if not by_hand and not st.toggle("Compare the skin around the wound", key=f"skin-{photo}"):
        return
    for title, skin in zip(titles, tissue.skin, strict=False):
        with st.container(border=True):
            st.markdown(f"**Skin around the wound: {title.lower()}**" if title else "**Skin around the wound**")
            _shown(skin, by_hand=by_hand)


def _shown(skin: Skin, *, by_hand: bool) -> None:
    if skin.rows:
        st.table(dict(skin.rows))
        whose = "that you chose" if by_hand else "that was found; choose another with Tissue"
        st.caption(f"Change of redness (a*) against the circle of skin {whose}. ± for k = 2.")
    for sentence in skin.sentences:
        st.markdown(sentence)


def culture_ordered(photo: str) -> bool:
    """Whether a person says that a culture is ordered."""
    return bool(st.session_state.get(_key(photo)))


def culture_section(photo: str, tissue: Tissue, titles: Iterable[str]) -> None:
    """Let a person say that a culture is ordered; then say where each wound may be swabbed, and what to think of."""
    if not (tissue.swabs or tissue.reminders):
        return
    if st.toggle("A culture is ordered", key=_key(photo)):
        for title, swab in zip(titles, tissue.swabs, strict=False):
            st.markdown(f"**{title}.** {swab.sentence}" if title else swab.sentence)
        st.markdown("**Before you swab**\n" + "".join(f"\n- {reminder}" for reminder in tissue.reminders))


def _key(photo: str) -> str:
    return f"culture-{photo}"
