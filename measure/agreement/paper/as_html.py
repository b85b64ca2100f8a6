"""A report as one HTML file that stands alone: pictures in it, no script, and nothing fetched from anywhere."""

from base64 import b64encode
from collections.abc import Iterator
from functools import singledispatch
from html import escape

from measure.agreement.chart import Chart
from measure.agreement.figure_words import interval_words, value_words
from measure.agreement.paper.blocks import Block, Facts, Figures, Heading, Notes, Picture, Points, Text
from measure.agreement.paper.contents import COLUMNS, contents
from measure.agreement.paper.paper import Paper
from measure.trend.chart import PHONE_PX, WIDE_PX

_NARROW = "640px"
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
_STYLE = f"""
:root {{ color-scheme: light; }}
body {{ font: 1rem/1.5 system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif; color: #1b2733; background: #fff;
  max-width: 60rem; margin: 0 auto; padding: 1rem; overflow-wrap: break-word; }}
h1 {{ font-size: 1.7rem; line-height: 1.25; margin: 0.5rem 0; }}
h2 {{ font-size: 1.3rem; margin: 2rem 0 0.5rem; border-bottom: 2px solid #1b2733; }}
h3 {{ font-size: 1.05rem; margin: 1.5rem 0 0.25rem; }}
.lead {{ font-size: 1.2rem; font-weight: 600; }}
figure {{ margin: 1rem 0 1.5rem; break-inside: avoid; }}
figure img {{ width: 100%; max-width: {WIDE_PX}px; height: auto; }}
figcaption {{ max-width: {WIDE_PX}px; }}
table {{ border-collapse: collapse; width: 100%; margin: 0.5rem 0; }}
caption {{ text-align: left; color: #566373; }}
.figures caption {{ position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }}
th, td {{ text-align: left; vertical-align: top; padding: 0.4rem 0.6rem 0.4rem 0; border-top: 1px solid #8a929b; }}
thead th {{ border-top: 0; border-bottom: 2px solid #1b2733; }}
td.number {{ white-space: nowrap; font-variant-numeric: tabular-nums; }}
.source {{ color: #566373; }}
.notes li {{ margin-bottom: 0.5rem; }}
a {{ color: #0b5c8a; }}
@media (max-width: {_NARROW}) {{
  .figures, .figures tbody, .figures tr, .figures th, .figures td {{ display: block; }}
  .figures thead {{ position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }}
  .figures tr {{ border-top: 1px solid #8a929b; padding: 0.5rem 0; }}
  .figures th, .figures td {{ border: 0; padding: 0.1rem 0; }}
  .figures td.number {{ white-space: normal; }}
  .figures td.number::before {{ content: attr(data-name) ": "; color: #566373; }}
}}
@media print {{ body {{ max-width: none; padding: 0; font-size: 10pt; }} tr {{ break-inside: avoid; }} }}
"""


def agreement_html(paper: Paper, *, people: bool = False) -> str:
    """Return the report as an HTML document.

    Parameters
    ----------
    paper : Paper
    people : bool
        Whether it tells about single raters; its charts must have been drawn alike.
    """
    body = "\n".join(_html(block) for block in contents(paper, people=people))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(paper.title)}</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


@singledispatch
def _html(block: Block) -> str:
    raise TypeError(block)


@_html.register
def _(block: Heading) -> str:
    return f"<h{block.level}>{escape(block.words)}</h{block.level}>"


@_html.register
def _(block: Text) -> str:
    return f'<p class="lead">{escape(block.words)}</p>' if block.leads else f"<p>{escape(block.words)}</p>"


@_html.register
def _(block: Points) -> str:
    return f"<ul>{''.join(f'<li>{escape(sentence)}</li>' for sentence in block.sentences)}</ul>"


@_html.register
def _(block: Facts) -> str:
    rows = "".join(f'<tr><th scope="row">{escape(name)}</th><td>{escape(said)}</td></tr>' for name, said in block.rows)
    return f"<table><caption>{escape(block.caption)}</caption><tbody>{rows}</tbody></table>"


@_html.register
def _(block: Figures) -> str:
    heads = "".join(f'<th role="columnheader" scope="col">{escape(name)}</th>' for name in COLUMNS)
    head = f'<thead role="rowgroup"><tr role="row">{heads}</tr></thead>'
    body = f'<tbody role="rowgroup">{"".join(_rows(block))}</tbody>'
    return f'<table class="figures" role="table"><caption>{escape(block.caption)}</caption>{head}{body}</table>'


@_html.register
def _(block: Notes) -> str:
    notes = "".join(
        f'<li id="note-{number}">{escape(method)} <span class="source">{escape(source)}</span></li>'
        for number, (method, source) in enumerate(block.found, 1)
    )
    return f'<ol class="notes">{notes}</ol>'


@_html.register
def _(block: Picture) -> str:
    chart = block.chart
    wide, phone = (_link(chart, width) for width in (WIDE_PX, PHONE_PX))
    words = escape(f"{chart.title}: {chart.words}")
    picture = (
        f'<picture><source media="screen and (max-width: {_NARROW})" srcset="{phone}">'
        f'<img src="{wide}" alt="{words}"></picture>'
    )
    return f"<figure>{picture}<figcaption>{escape(chart.caption)}</figcaption></figure>"


def _rows(block: Figures) -> Iterator[str]:
    """Yield the rows; roles keep them a table where a narrow screen stacks their cells."""
    for figure, note in zip(block.rows, block.notes, strict=True):
        told = figure.shown
        numbers = zip(COLUMNS[1:3], (value_words(told), interval_words(told) or "none"), strict=True)
        cells = "".join(
            f'<td role="cell" class="number" data-name="{escape(column)}">{escape(words)}</td>'
            for column, words in numbers
        )
        how = f'<a href="#note-{note}">note {note}</a>'
        name = f'<th role="rowheader" scope="row">{escape(figure.label)}</th>'
        yield f'<tr role="row">{name}{cells}<td role="cell">{how}</td></tr>'


def _link(chart: Chart, width: int) -> str:
    return f"data:image/svg+xml;base64,{b64encode(chart.picture('svg', width)).decode()}"
