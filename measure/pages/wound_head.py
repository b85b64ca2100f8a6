"""The head of every page about one wound: which wound it is, how it stands, and the way to the other pages."""

import streamlit as st

from measure.pages.dates import day
from measure.pages.held import chosen_wound
from measure.pages.plain import plain
from measure.record.entries import Status, WoundEntry

_PAGES = {"Visit": "visit", "Progress": "progress", "Compare": "compare", "History": "history"}


def wound_head(here: str) -> WoundEntry | None:
    """Draw the head of a page; where no wound is chosen, say so with the way to the wounds, and return None.

    Parameters
    ----------
    here : str
        The page's own name.
    """
    wound = chosen_wound()
    if wound is None:
        st.title(here, anchor=False)
        st.info("Choose a wound first.")
        st.page_link("measure/pages/wounds.py", label="To the wounds", icon=":material/list:")
        return None
    st.title(f"{plain(wound.person)} · wound {wound.number}", anchor=False)
    st.markdown(f"**{plain(str(wound.site)).capitalize()}** · {wound.kind}")
    if wound.status is not Status.OPEN:
        last = wound.events[-1]
        st.info(f"This wound was marked {wound.status} on {day(last.at)} by {plain(last.by)}.")
    with st.container(horizontal=True):
        for title, name in _PAGES.items():
            if title != here:
                st.page_link(f"measure/pages/{name}.py", label=title)
        st.page_link("measure/pages/wounds.py", label="Other wound")
    return wound
