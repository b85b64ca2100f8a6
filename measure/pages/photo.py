"""The page *Measure*: a photo, whether it will do, the outline to correct, the numbers; nothing goes into a record."""

import streamlit as st

from measure.pages.caution import caution
from measure.pages.measuring import measure_photo, put_away
from measure.pages.opened import is_anothers, kept
from measure.pages.saving import offer_files

_HERE = "measure"


def show() -> None:
    """Draw the page."""
    st.title("Measure a wound", anchor=False)
    notice = st.container()  # there in every run, so that what is below stays where it is
    if is_anothers(_HERE):  # nor does a photo of this page ever go into somebody's visit
        put_away()
        notice.info("The photo that was open belongs to a visit, and was put away here: choose it again there.")
    measure_photo(offer_files)
    if kept() is None:
        st.page_link("measure/pages/stickers.py", label="No sticker yet? Print some", icon=":material/print:")
    caution()


show()
