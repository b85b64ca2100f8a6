"""The page *Stickers*: sheets to print."""

import streamlit as st

from calibration.sheet import sheet_pdf, sticker_png
from calibration.sticker import LAYOUTS, Layout

_USES = {
    "corner": "For most wounds: lay the wound in the angle. The most exact of the three.",
    "strip": "For long wounds and narrow places: lay it along the wound.",
    "tile": "For toes and tight places. The smallest, and the least exact.",
}
_PAPERS = {"a4": "A4", "letter": "Letter"}


def show() -> None:
    """Draw the page."""
    st.title("Print stickers", anchor=False)
    st.markdown(
        "Print at 100 % ('actual size') on plain matt paper or label sheets, then check both lines on the sheet "
        "with a ruler. A grey printer will do. Use each sticker for one person only, then throw it away."
    )
    paper = st.radio("Paper", list(_PAPERS), format_func=_PAPERS.__getitem__, horizontal=True, key="paper")
    for layout in LAYOUTS.values():
        _offer(layout, paper)


def _offer(layout: Layout, paper: str) -> None:
    width, height = layout.size_mm
    with st.container(border=True):
        st.subheader(f"{layout.name.capitalize()}, {width:g} x {height:g} mm", anchor=False)
        st.write(_USES[layout.name])
        st.image(sticker_png(layout, 150), alt=f"The {layout.name} sticker.")
        name = f"ebbline-{layout.name}-{paper}.pdf"
        st.download_button(
            f"Sheet of {layout.name} stickers (PDF)",
            sheet_pdf(layout, paper),
            name,
            "application/pdf",
            on_click="ignore",
        )


show()
