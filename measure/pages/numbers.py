"""The numbers on the page *Measure*: large, in a line beside the finger, and each with its uncertainty."""

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from measure.budget import lead, parts
from measure.pages.bars import bars
from measure.report import rows, shown
from measure.wound import Wound


def titled(wounds: tuple[Wound, ...]) -> list[tuple[Wound, str]]:
    """Return each wound with its title: its number where there are several."""
    return [(wound, f"Wound {number}" if len(wounds) > 1 else "") for number, wound in enumerate(wounds, 1)]


def in_a_line(wound: Wound, title: str) -> str:
    """Say the numbers of a wound in one line, to be read beside the finger."""
    named = dict(rows(wound))
    area, length, width = named["area"], named["length"], named["width"]
    said = f"{area.value:.2f} ± {area.expanded_uncertainty:.2f} cm², {length.value:.1f} x {width.value:.1f} cm"
    return f"{title}: {said}" if title else said


def large_numbers(wound: Wound, title: str) -> None:
    """Show the two numbers that charts ask for."""
    if title:
        st.subheader(title, anchor=False)
    named = dict(rows(wound))
    area, length, width = named["area"], named["length"], named["width"]
    extents = f"± {length.expanded_uncertainty:.1f} and {width.expanded_uncertainty:.1f} cm (k = 2)"
    left, right = st.columns(2)
    _card(left, "Area", f"{area.value:.2f} cm²", f"± {area.expanded_uncertainty:.2f} cm² (k = 2)")
    _card(right, "Length x width", f"{length.value:.1f} x {width.value:.1f} cm", extents)


def _card(column: DeltaGenerator, label: str, value: str, interval: str) -> None:
    column.metric(label, value, interval, delta_color="off", delta_arrow="off", border=True)


def details(wound: Wound, title: str) -> None:
    """Show every number with its uncertainty, and what the uncertainty of the area is made of."""
    if title:
        st.subheader(title, anchor=False)
    st.table({name.capitalize(): _typeset(shown(quantity)) for name, quantity in rows(wound)})
    found = parts(wound.area)
    if not found:
        return
    st.markdown(f"**{lead(found)}** {found[0].remedy}")
    st.html(bars(found, "What the uncertainty of the area is made of"))
    st.caption("Each cause's share of the area's uncertainty (of its variance); together 100 %.")


def _typeset(text: str) -> str:
    return text.replace("+-", "±").replace("cm2", "cm²")
