"""What a person answered on a page, kept while another page is open: a page's widgets forget it otherwise."""

import streamlit as st

_KEPT = (
    "convention",
    "head",
    "reason-",
    "words-",
    "checked-",
    "eye-",
    "culture-",
    "skin-",
    "visit-",
    "new-wound-",
    "finding-",
)


def keep_answers() -> None:
    """Hold on to answers; call it at every run, whichever page is shown."""
    for key in list(st.session_state):
        if str(key).startswith(_KEPT):
            st.session_state[key] = st.session_state[key]
