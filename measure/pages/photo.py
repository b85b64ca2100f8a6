"""The page *Measure*: a photo, whether it will do, the outline to correct, the numbers; nothing goes into a record."""

import streamlit as st

from measure.pages.caution import caution
from measure.pages.measuring import measure_photo
from measure.pages.opened import kept
from measure.pages.saving import offer_files


def show() -> None:
    """Draw the page."""
    st.title("Measure a wound", anchor=False)
    measure_photo(offer_files)
    if kept() is None:
        st.page_link("measure/pages/stickers.py", label="No sticker yet? Print some", icon=":material/print:")
    caution()


show()
