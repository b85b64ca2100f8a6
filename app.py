"""Starts the pages; run it with ``ebbline app``."""

from pathlib import Path

import streamlit as st

import measure

PAGES = Path(measure.__file__).parent / "pages"

st.set_page_config(page_title="Ebbline", layout="centered", initial_sidebar_state="collapsed")
st.navigation(
    [
        st.Page(PAGES / "photo.py", title="Measure", icon=":material/straighten:", default=True),
        st.Page(PAGES / "stickers.py", title="Stickers", icon=":material/print:"),
    ],
    position="top",
).run()
