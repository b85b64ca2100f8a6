"""What a person answered on a page, kept while another page is open: a page's widgets forget it otherwise."""

import streamlit as st

_OF_A_PHOTO = ("convention", "head", "reason-", "words-", "checked-", "eye-", "culture-", "skin-")
_OF_A_VISIT = ("visit-", "new-wound-")
_OF_A_STUDY = tuple(
    f"study-{name}-"
    for name in ("name", "raters", "count", "drawn", "trials", "proposal", "convention", "seed", "head")
)
_KEPT = _OF_A_PHOTO + _OF_A_VISIT + _OF_A_STUDY


def keep_answers() -> None:
    """Hold on to answers; call it at every run, whichever page is shown."""
    for key in list(st.session_state):
        if str(key).startswith(_KEPT):
            st.session_state[key] = st.session_state[key]
