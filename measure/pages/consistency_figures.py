"""The figures of a study on its page: each with interval, method and source, as a table, on phones as a list."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from measure.agreement.figure_words import interval_words, value_words
from measure.agreement.paper.contents import COLUMNS
from measure.agreement.section import Figure, Section
from measure.pages.plain import plain

_STYLE = """<style>
.agreement-figures { border-collapse: collapse; width: 100%; }
.agreement-figures caption { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
.agreement-figures th, .agreement-figures td {
  text-align: left; vertical-align: top; padding: 0.5rem 0.6rem 0.5rem 0; border: 0; border-top: 1px solid #8a929b;
}
.agreement-figures thead th { border-top: 0; border-bottom: 2px solid; }
.agreement-figures .number { white-space: nowrap; font-variant-numeric: tabular-nums; }
.agreement-figures details > summary { cursor: pointer; min-height: 2.75rem; align-content: center; }
@media (max-width: 640px) {
  .agreement-figures, .agreement-figures tbody, .agreement-figures tr, .agreement-figures th,
  .agreement-figures td { display: block; }
  .agreement-figures thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
  .agreement-figures tbody tr { border-top: 1px solid #8a929b; padding: 0.5rem 0; }
  .agreement-figures tbody th, .agreement-figures tbody td { border: 0; padding: 0.1rem 0; }
  .agreement-figures .number { white-space: normal; }
  .agreement-figures .number::before { content: attr(data-name) ": "; }
}
</style>"""


def show_sections(sections: Sequence[Section]) -> None:
    """Show all sections, the first one open."""
    st.html(_STYLE)
    for number, section in enumerate(sections):
        with st.expander(plain(section.title), expanded=number == 0):
            if section.figures:
                st.html(_table(section))
            for sentence in section.sentences:
                st.markdown(plain(sentence))


def _table(section: Section) -> str:
    """Return a table; roles keep it one where a phone stacks its cells."""
    heads = "".join(f'<th role="columnheader" scope="col">{escape(name)}</th>' for name in COLUMNS)
    head = f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>'
    rows = "".join(map(_row, section.figures))
    caption = f"<caption>{escape(section.title)}</caption>"
    body = f'<tbody role="rowgroup">{rows}</tbody>'
    return f'<table class="agreement-figures" role="table">{caption}{head}{body}</table>'


def _row(figure: Figure) -> str:
    """Return a row; its method is long, and opens when it is asked for."""
    told = figure.shown
    numbers = zip(COLUMNS[1:3], (value_words(told), interval_words(told) or "none"), strict=True)
    cells = "".join(
        f'<td role="cell" class="number" data-name="{escape(name)}">{escape(said)}</td>' for name, said in numbers
    )
    how = f"<details><summary>How it was found</summary>{escape(told.method)}<br>{escape(told.source)}</details>"
    name = f'<th role="rowheader" scope="row">{escape(figure.label)}</th>'
    return f'<tr role="row">{name}{cells}<td role="cell">{how}</td></tr>'
