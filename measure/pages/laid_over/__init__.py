"""Two pictures of one wound laid over one another, with a slider between them, or side by side.

Outlines are drawn as lines over the pictures, so that they stay sharp and can be taken away: the earlier one dashed,
the later one solid. Nothing comes back from the browser.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import streamlit as st

_ROOM = Path(__file__).parent

_mount = st.components.v2.component(
    "laid_over",
    html='<div class="laid-over"></div>',
    css=(_ROOM / "laid_over.css").read_text(encoding="utf-8"),
    js=(_ROOM / "laid_over.js").read_text(encoding="utf-8"),
)


def laid_over(key: str, data: Mapping[str, Any]) -> None:
    """Show two pictures.

    Parameters
    ----------
    key : str
        Of this pair; as long as it stays the same, the browser keeps where the slider stands.
    data : mapping
        ``key``; ``earlier`` and ``later``: ``{"picture": address, "title": text, "rings": [[[x, y], ...], ...]}``,
        rings in px of the pictures; ``width`` and ``height`` in px; ``cm``: px of one cm.
    """
    _mount(key=key, data=dict(data))
