"""A page with nothing on it but two pictures laid over one another."""

import base64

import cv2
import numpy as np
import streamlit as st

from measure.pages.laid_over import laid_over


def picture(value: int) -> str:
    """Return the address of a grey picture."""
    file = cv2.imencode(".jpg", np.full((300, 400, 3), value, np.uint8))[1]
    return "data:image/jpeg;base64," + base64.b64encode(file.tobytes()).decode()


def ring(inset: int) -> list[list[list[int]]]:
    """Return a rectangle within the picture."""
    return [[[inset, inset], [400 - inset, inset], [400 - inset, 300 - inset], [inset, 300 - inset]]]


st.set_page_config(layout="centered")
sides = {
    "earlier": {"title": "Earlier · 4 Mar 2026", "picture": picture(90), "rings": ring(60)},
    "later": {"title": "Later · 1 Apr 2026", "picture": picture(200), "rings": ring(90)},
}
laid_over("pair", sides | {"key": "pair", "width": 400, "height": 300, "cm": 50})
st.button("Again")
