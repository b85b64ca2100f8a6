"""Counts out of numbers as a small table that also fits a phone: name, count, share with its interval."""

from collections.abc import Mapping
from html import escape

import streamlit as st

from measure.pages.findings_controls import capitalised
from measure.practice.share import Share

_CLASS = "share-table"
_STYLE = f"""<style>
.{_CLASS} {{ width: 100%; border-collapse: collapse; }}
.{_CLASS} caption {{ text-align: left; font-weight: 600; padding: 0.4rem 0; }}
.{_CLASS} th, .{_CLASS} td {{
  text-align: left; vertical-align: top; padding: 0.5rem 0.6rem 0.5rem 0; border-top: 1px solid #8a929b;
  font-weight: normal; overflow-wrap: break-word;
}}
.{_CLASS} thead th {{ font-weight: 600; border-top: none; }}
.{_CLASS} td {{ font-variant-numeric: tabular-nums; }}
.{_CLASS} td:nth-child(2) {{ white-space: nowrap; }}
.{_CLASS} tbody th {{ width: 44%; }}
</style>"""


def show_shares(title: str, name: str, shares: Mapping[str, Share]) -> None:
    """Show a table.

    Parameters
    ----------
    title : str
        What is counted.
    name : str
        What the rows are, as "Unit".
    shares : mapping of str to Share
    """
    head = "".join(f'<th scope="col">{escape(word)}</th>' for word in (name, "Count", "Share (95 % interval)"))
    rows = "".join(map(_row, shares, shares.values()))
    table = f"<caption>{escape(title)}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody>"
    st.html(f'{_STYLE}<table class="{_CLASS}">{table}</table>')


def _row(name: str, share: Share) -> str:
    cells = "".join(f"<td>{escape(text)}</td>" for text in (str(share), share.words))
    return f'<tr><th scope="row">{escape(capitalised(name))}</th>{cells}</tr>'
