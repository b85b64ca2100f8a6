"""A picture that is drawn for the width at which it is shown, one at a time: the browser says where another fits."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import streamlit as st

_ROOM = Path(__file__).parent

_mount = st.components.v2.component(
    "fitted",
    html='<div class="room"></div>',
    css=".fitted { display: block; width: 100%; margin: 0 auto; border-radius: 0.5rem; }",
    js=(_ROOM / "fitted.js").read_text(encoding="utf-8"),
)


def fitted(key: str, data: Mapping[str, Any], on_width: Callable[[int], None]) -> None:
    """Show a picture.

    Parameters
    ----------
    key : str
    data : mapping
        ``picture``: its address; ``words``: what it shows, for those who don't see it; ``drawn``: the width for which
        it is drawn, ``least`` and ``most``: those for which one may be asked, in px.
    on_width : callable
        Called with the width in px for which another one should be drawn, before the page is drawn.
    """

    def call() -> None:
        held = st.session_state.get(key)
        if held and held.get("width"):
            on_width(int(held["width"]))

    _mount(key=key, data=dict(data), on_width_change=call)
