"""The numbers of a series on a page: a table on wide screens, on phones the same as a list that fits."""

from collections.abc import Mapping, Sequence
from html import escape

import streamlit as st

_COLUMNS = ("Date", "Area", "What changed", "Length x width", "Perimeter", "Tissue", "Depth")
_WIDE, _NARROW = "series-table", "series-list"
_STYLE = f"""<style>
.st-key-{_NARROW} {{ display: none; }}
@media (max-width: 640px) {{ .st-key-{_WIDE} {{ display: none; }} .st-key-{_NARROW} {{ display: flex; }} }}
.st-key-{_NARROW} ul {{ list-style: none; margin: 0; padding: 0; }}
.st-key-{_NARROW} li {{ margin: 0; padding: 0.6rem 0; border-top: 1px solid #8a929b; }}
.st-key-{_NARROW} b {{ display: flex; justify-content: space-between; gap: 1rem; flex-wrap: wrap; }}
</style>"""


def show_table(rows: Sequence[Mapping[str, str]]) -> None:
    """Show the rows of `measure.trend.table.table`."""
    st.html(_STYLE)
    with st.container(key=_WIDE):
        st.dataframe(list(rows), hide_index=True, width="stretch", column_order=_COLUMNS)
        st.caption("Length x width, perimeter, tissue and depth follow to the right: scroll sideways.")
    with st.container(key=_NARROW):
        st.html(f'<ul role="list">{"".join(map(_item, rows))}</ul>')


def _item(row: Mapping[str, str]) -> str:
    """Return a visit as an item: its day and area, below them whatever else is known."""
    rest = [f"{name}: {row[name]}" for name in _COLUMNS[3:] if row[name]]
    lines = "<br>".join(map(escape, [text for text in (row["What changed"], *rest) if text]))
    return f"<li><b><span>{escape(row['Date'])}</span><span>{escape(row['Area'])}</span></b>{lines}</li>"
