"""The record behind the pages, and the wound that a person works on."""

import os

import streamlit as st

from measure.record.entries import VisitEntry, WoundEntry
from measure.record.errors import UnknownWoundError
from measure.record.store import Record, open_record
from measure.server import DATA_VARIABLE

_WOUND = "wound"
_VISITS = "visits-read"


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


def forget_visits() -> None:
    """Read visits anew the next time: something was added to an old one."""
    st.session_state.pop(_VISITS, None)


def visits_read(wound: WoundEntry) -> list[VisitEntry]:
    """Return the visits to a wound, read anew only where one has come since: a page is drawn at every tap.

    What other people add to an old visit is not looked for here; whoever adds to one calls `forget_visits`.
    """
    count = record().visit_count(wound.id)
    known = (wound.id, count)
    held: tuple[tuple[int, int], list[VisitEntry]] | None = st.session_state.get(_VISITS)
    if held is None or held[0] != known:
        held = st.session_state[_VISITS] = (known, record().visits(wound.id))
    return held[1]
