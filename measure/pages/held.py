"""The record behind the pages, and the wound that a person works on."""

import os

import streamlit as st

from measure.record.entries import WoundEntry
from measure.record.store import Record, UnknownWoundError, open_record
from measure.server import DATA_VARIABLE

_WOUND = "wound"


def has_record() -> bool:
    """Whether the pages were started with a record."""
    return bool(os.environ.get(DATA_VARIABLE))


def record() -> Record:
    """Return the record, opened once for all pages.

    Raises
    ------
    RecordError
        If it can't be opened.
    """
    return _opened(os.environ[DATA_VARIABLE])


@st.cache_resource(show_spinner=False)
def _opened(where: str) -> Record:
    return open_record(where)


def chosen_wound() -> WoundEntry | None:
    """Return the wound that is worked on, as it stands in the record now; None where none is chosen."""
    key = st.session_state.get(_WOUND)
    if key is None:
        return None
    try:
        return record().wound(key)
    except UnknownWoundError:
        st.session_state.pop(_WOUND)
        return None


def choose(wound: WoundEntry) -> None:
    """Work on this wound from now on."""
    st.session_state[_WOUND] = wound.key
