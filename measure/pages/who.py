"""Who works at this device: initials or a staff code, asked once in a session and shown wherever they are recorded."""

import streamlit as st

from measure.editing import MAX_BY, EditingError, usable_by
from measure.pages.by_eye import BY
from measure.pages.plain import plain


def editor() -> str:
    """Return initials or staff code of who works in this session; empty until they are given."""
    by: str = st.session_state.get(BY, "")
    return by


def named(said: str, question: str) -> bool:
    """Show who it is with a way to change that, or ask; tell whether it is known.

    Parameters
    ----------
    said : str
        What stands before the initials, as "Outline edited or checked by".
    question : str
        What is asked while nobody is named.
    """
    if by := editor():
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"{said} **{plain(by)}**.")
            if st.button("Someone else"):
                st.session_state.pop(BY)
                st.rerun()
        return True
    with st.form("who", border=True):
        st.markdown(f"**{question}**")
        answer = st.text_input("Your initials or staff code, no name", max_chars=MAX_BY, key="who-edits")
        pressed = st.form_submit_button("Use these initials", type="primary", width="stretch")
    if pressed:
        try:
            st.session_state[BY] = usable_by(answer)
        except EditingError as error:
            st.error(str(error), icon=":material/error:")
        else:
            st.rerun()
    return False
