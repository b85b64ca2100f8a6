"""What a wound is made of, as a list to read: words, figures, and bars with the hatches of the editor's legend."""

from collections.abc import Mapping
from html import escape

import streamlit as st

from measure.by_eye import ByEye
from measure.hatching import LOOKS, Look, svg_link
from measure.proportions import Share
from measure.uncertainty import COVERAGE_FACTOR

_LIST = "list-style: none; margin: 0; padding: 0;"
_ROW = "margin: 0 0 0.8rem 0; padding: 0;"
_WORDS = "display: flex; flex-wrap: wrap; justify-content: space-between; gap: 0 1rem; line-height: 1.4;"
_FIGURE = "white-space: nowrap; font-variant-numeric: tabular-nums; font-weight: 600;"
_TRACK = "height: 1.5rem; border-radius: 0.2rem; background: color-mix(in srgb, currentColor 14%, transparent);"
_BAR = "height: 100%; min-width: 3px; border-radius: inherit; background-color: #59626d;"


def tissue_section(shares: Mapping[str, Share], title: str, by_hand: int, by_eye: ByEye | None) -> None:
    """Show the proportions of a wound.

    Parameters
    ----------
    shares : mapping from tissue to Share
        As measured.
    title : str
        Of the wound; empty where there is but one.
    by_hand : int
        Regions that a person said something of.
    by_eye : ByEye, optional
        What a person sees; stands beside what was measured.
    """
    st.subheader(f"Tissue: {title.lower()}" if title else "Tissue", anchor=False)
    st.html(proportions(shares, by_eye))
    said = "1 region set by hand. " if by_hand == 1 else f"{by_hand} regions set by hand. " if by_hand else ""
    st.caption(f"{said}Percent of the wound's area, ± for k = 2. A suggestion from colour; what you see counts.")


def proportions(shares: Mapping[str, Share], by_eye: ByEye | None = None) -> str:
    """Return the list of proportions as HTML; what is 0 % both measured and by eye is left out."""
    rows = "".join(
        _row(look, shares[name], (by_eye.percent[name], by_eye.standard_uncertainty[name]) if by_eye else None)
        for name, look in LOOKS.items()
        if name in shares and (round(shares[name].percent) or (by_eye and by_eye.percent[name]))
    )
    return f'<ul role="list" aria-label="Tissue in the wound" style="{_LIST}">{rows}</ul>'


def _row(look: Look, share: Share, seen: tuple[float, float] | None) -> str:
    figure = _figure(share.percent, share.standard_uncertainty)
    beside = f' <span style="white-space: nowrap">by eye {_figure(*seen)}</span>' if seen else ""
    words = f'<span>{escape(look.word)}</span><span><span style="{_FIGURE}">{figure}</span>{beside}</span>'
    hatch = f"background-image: url('{svg_link(look)}'); width: {share.percent:.1f}%"
    track = f'<div aria-hidden="true" style="{_TRACK}"><div style="{_BAR} {hatch}"></div></div>'
    return f'<li style="{_ROW}"><div style="{_WORDS}">{words}</div>{track}</li>'


def _figure(percent: float, standard_uncertainty: float) -> str:
    return f"{percent:.0f} ± {COVERAGE_FACTOR * standard_uncertainty:.0f} %"
