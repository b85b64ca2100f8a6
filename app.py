"""Starts the pages; run it with ``ebbline app``."""

from pathlib import Path

import streamlit as st

import measure
from calibration.errors import EbblineError
from measure.pages.answers import keep_answers
from measure.pages.held import has_record

PAGES = Path(measure.__file__).parent / "pages"

WITH_RECORD = {
    "Wounds": "wounds",
    "Visit": "visit",
    "Progress": "progress",
    "Compare": "compare",
    "History": "history",
    "Consistency": "consistency",
}
WITHOUT = {"Measure": "photo", "Stickers": "stickers"}

# targets that a gloved finger hits: at least 44 px high
STYLE = """
<style>
  .stMainBlockContainer { padding-top: 4rem; }
  h1 { font-size: 1.9rem !important; }
  .stButton button p { font-size: 1.1rem; }
  .st-key-save-visit { position: sticky; bottom: 0.5rem; z-index: 60; }
  .stButton button, .stDownloadButton button, [data-testid="stFileUploader"] button {
    min-height: 3.5rem; font-size: 1.15rem;
  }
  [data-testid="stFileUploaderDropzone"] > span button { width: 100%; }
  [data-testid="stFileUploaderDropzone"] > div:has([data-testid="stFileChips"]) { width: 100%; max-width: none; }
  [data-testid="stFileChips"] { flex-flow: row wrap !important; width: 100%; max-width: none; }
  [data-testid="stFileChips"] > div { flex: 1 1 14rem; min-width: 0; }
  [data-testid="stFileChips"] > [data-testid="stBaseButton-borderlessIcon"] {
    flex: 1 1 16rem; min-width: 0; min-height: 3.5rem; font-size: 1.15rem; border: 1px solid; border-radius: 0.5rem;
  }
  [data-testid="stFileChips"] > [data-testid="stBaseButton-borderlessIcon"] > div { display: none; }
  [data-testid="stFileChipDeleteBtn"] button { min-width: 2.9rem; min-height: 2.9rem; justify-content: center; }
  .stFormSubmitButton button { min-height: 3.5rem; font-size: 1.15rem; }
  [data-testid="stButtonGroup"] button { min-height: 3.2rem; font-size: 1.05rem; }
  [data-testid="stTextInput"] input { min-height: 3.2rem; font-size: 1.1rem; }
  [data-testid="stNumberInputContainer"] { min-height: 3.2rem; }
  [data-testid="stNumberInput"] input { min-height: 3.2rem; font-size: 1.1rem; }
  [data-testid="stNumberInput"] button { min-width: 3.2rem; min-height: 3.2rem; }
  [role="radiogroup"] label { min-height: 2.9rem; align-items: center; }
  [data-testid="stExpander"] summary { min-height: 3rem; }
  [data-testid="stPageLink"] a, [data-testid="stTopNavLink"], [data-testid="stSidebarNavLink"] { min-height: 3rem; }
  .stMainBlockContainer [data-testid="stPageLink"] a { border: 1px solid #c9ccd1; border-radius: 0.5rem; }
  [data-testid="stExpandSidebarButton"] { min-width: 3rem; min-height: 3rem; }
  [data-testid="stCaptionContainer"] { color: inherit; opacity: 1; font-size: 1rem; }
  [data-testid="stException"] { display: none; }
  [data-testid="stSelectbox"] input, [data-testid="stSelectbox"] button { min-height: 3.2rem; }
  [data-testid="stSelectbox"] button { min-width: 3rem; }
  [data-testid="stPageLink"] a:focus-visible { outline: 3px solid; outline-offset: 2px; }
  [class*="st-key-open-"] button { justify-content: flex-start; text-align: left; }
  [class*="st-key-open-"] button > div { justify-content: flex-start; }
  [data-testid="stCheckbox"] label { min-height: 3rem; align-items: center; }
  [data-testid="stCheckbox"] p { font-size: 1.1rem; }
</style>
"""


def pages() -> list[st.Page]:
    """Return the pages in order; the first one opens."""
    named = {**(WITH_RECORD if has_record() else {}), **WITHOUT}
    first = next(iter(named))
    return [st.Page(PAGES / f"{name}.py", title=title, default=title == first) for title, name in named.items()]


st.set_page_config(
    page_title="Ebbline", page_icon=PAGES / "icon.png", layout="centered", initial_sidebar_state="collapsed"
)
st.html(STYLE)
keep_answers()
page = st.navigation(pages(), position="top")
try:
    page.run()
except EbblineError as error:  # the record could not be reached: a sentence, as everywhere
    st.error(str(error), icon=":material/error:")
except Exception:  # its details go to the log; on the page stands what a person can do
    st.error(
        "This page could not be shown because of a fault in the program. What was saved is safe. Reload the page; if "
        "that does not help, tell the person who looks after this program here, with the time of day.",
        icon=":material/error:",
    )
    raise
