"""Draws what an uncertainty is made of: a horizontal bar for each part, as plain HTML.

No script, no font, no request; words and figures say everything that the lengths say, and the colours are those of the
text, so that it reads in a light theme, in a dark one, and aloud.
"""

from collections.abc import Iterable
from html import escape

from measure.budget import Part

_LIST = "list-style: none; margin: 0; padding: 0;"
_ROW = "margin: 0 0 0.9rem 0; padding: 0;"
_WORDS = "display: flex; justify-content: space-between; gap: 1rem; line-height: 1.4;"
_SHARE = "white-space: nowrap; font-variant-numeric: tabular-nums; font-weight: 600;"
_TRACK = "height: 0.9rem; border-radius: 0.2rem; background: color-mix(in srgb, currentColor 14%, transparent);"
_BAR = "height: 100%; min-width: 3px; border-radius: inherit; background: currentColor; opacity: 0.75;"


def bars(found: Iterable[Part], title: str) -> str:
    """Return a list of parts with their bars; ``title`` is read aloud before it."""
    rows = "".join(_row(part) for part in found)
    return f'<ul role="list" aria-label="{escape(title)}" style="{_LIST}">{rows}</ul>'


def _row(part: Part) -> str:
    words = f'<span>{escape(part.label)}</span><span style="{_SHARE}">{part.percent}</span>'
    bar = f'<div style="{_BAR} width: {100 * part.share:.1f}%"></div>'
    track = f'<div aria-hidden="true" style="{_TRACK}">{bar}</div>'
    return f'<li style="{_ROW}"><div style="{_WORDS}">{words}</div>{track}</li>'
