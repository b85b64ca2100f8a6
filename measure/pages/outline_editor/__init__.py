"""The outline editor: a photo under a finger, with tools to correct the outlines on it.

`outline_editor` mounts it as a component of the page. The browser holds the outlines while a person draws; every step
goes to Python with a number, ``seq``, and is sent again until that number comes back as ``saved``. Python replaces what
the browser holds only by raising ``rev``, or by answering a request with the request's ``seq``.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import streamlit as st

_ROOM = Path(__file__).parent
_ORDER = (
    *("shapes", "points", "wounds", "regions", "history", "view", "picture", "magnifier", "icons", "drawing"),
    *("legend", "panel", "toolbar"),
    *(
        "changes",
        "burst",
        "dragging",
        "freehand",
        "sweeping",
        "tracing",
        "following",
        "tissue",
        "gestures",
        "keyboard",
        "link",
        "editor",
    ),
)
"""The script's files, each one noun; joined to one module, so that nothing needs a build step or a second request."""

_mount = st.components.v2.component(
    "outline_editor",
    html='<div class="outline-editor"></div>',
    css=(_ROOM / "editor.css").read_text(encoding="utf-8"),
    js="\n".join((_ROOM / f"{name}.js").read_text(encoding="utf-8") for name in _ORDER),
)


def outline_editor(
    key: str,
    data: Mapping[str, Any],
    on_outline: Callable[[Any], None],
    on_request: Callable[[Any], None],
) -> None:
    """Show the editor.

    Parameters
    ----------
    key : str
        Of this photo's editor; as long as it stays the same, the browser keeps zoom and undo.
    data : mapping
        ``key``; ``photo`` and ``full``: addresses of preview and photo; ``width``, ``height`` of the photo in px;
        ``wounds`` and ``proposal``: lists of ``{"outline": [[x, y], ...], "holes": [...]}`` in photo px; ``edits``;
        ``taps``: what is said of tissue, ``{"at", "tissue"}``; ``control``: the place of the skin that a person chose
        to compare with, or None; ``looks``: how tissues are drawn, ``{"tissue", "word", "pattern", "svg", "tile"}``;
        ``tissue``: None where nothing looks for it, else ``{"regions": [{"wound", "tissue", "rings", "byHand"}, ...],
        "percent": [{tissue: number}, ...], "trouble", "controls": [{"at", "radius"}, ...], "controlRadius": px or
        None, "swabs": as controls}``;
        ``rev``; ``saved``: the last ``seq`` that is kept; ``numbers``: a line for each wound; ``lines``: length and
        width, ``{"name", "ends"}``; ``trouble``: a sentence, or empty; ``reply`` to the last request; ``unsaved``:
        whether leaving the page would lose something.
    on_outline, on_request : callable
        Called with what the browser sends, before the page is drawn: ``{"wounds", "edits", "taps", "control", "seq",
        "rev"}``, or
        ``{"kind": "follow", "from", "to", "seq"}`` or ``{"kind": "add" | "remove", "wounds", "stroke", "radius",
        "edits", "taps", "control", "seq"}``.
    """

    def sent(name: str, act: Callable[[Any], None]) -> Callable[[], None]:
        def call() -> None:
            held = st.session_state.get(key)
            value = held.get(name) if held else None
            if value:
                act(value)

        return call

    _mount(
        key=key,
        data=dict(data),
        on_outline_change=sent("outline", on_outline),
        on_request_change=sent("request", on_request),
    )
