"""The skin round a wound, and where to swab if a culture is ordered."""

import streamlit as st

from measure.pages.tissue import Skin, Tissue


def skin_section(skin: Skin, title: str, *, by_hand: bool) -> None:
    """Show how red the skin round a wound is, place by place, and what to take care of."""
    with st.expander(f"Skin around the wound: {title.lower()}" if title else "Skin around the wound"):
        st.table(dict(skin.rows))
        whose = "that you chose" if by_hand else "that was found; choose another with Tissue"
        st.caption(f"Change of redness (a*) against the circle of skin {whose}. ± for k = 2.")
        for sentence in skin.sentences:
            st.markdown(sentence)


def culture_ordered(photo: str) -> bool:
    """Whether a person says that a culture is ordered."""
    return bool(st.session_state.get(_key(photo)))


def culture_section(photo: str, tissue: Tissue) -> None:
    """Let a person say that a culture is ordered; then say what to think of, and where the circle lies."""
    if not (tissue.swab or tissue.reminders):
        return
    if st.toggle("A culture is ordered", key=_key(photo)):
        where = "The circle 'Swab' on the photo is a suggestion." if tissue.swab else "No place can be suggested."
        st.markdown(
            f"**If a culture is ordered.** {where}" + "".join(f"\n- {reminder}" for reminder in tissue.reminders)
        )


def _key(photo: str) -> str:
    return f"culture-{photo}"
