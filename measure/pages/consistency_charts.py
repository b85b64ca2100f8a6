"""The charts of a study on its page, for wide screens and for phones, and its outlines over the photos."""

from base64 import b64encode
from html import escape

import streamlit as st

from calibration.errors import EbblineError
from measure.agreement.chart import Chart
from measure.agreement.outlines_chart import outlines_chart
from measure.outline import Outline
from measure.pages.held import record
from measure.pages.plain import plain
from measure.photo import read_photo
from measure.study.outlines import photo_overlaps
from measure.study.results import Results, names
from measure.trend.chart import PHONE_PX, WIDE_PX

_KEPT, _KEPT_OUTLINES = "study-pictures", "study-outlines"
_STYLE = f"""<style>
.agreement-chart {{ margin: 0; }}
.agreement-chart img {{ width: 100%; max-width: {WIDE_PX}px; border-radius: 0.5rem; }}
.agreement-chart .phone {{ display: none; }}
@media (max-width: 640px) {{
  .agreement-chart .phone {{ display: block; }}
  .agreement-chart .wide {{ display: none; }}
}}
</style>"""


def show_charts(found: Results) -> None:
    """Show all charts, each with its sentence, and why others are missing."""
    st.html(_STYLE)
    held: tuple[Results, list[str]] | None = st.session_state.get(_KEPT)
    if held is None or held[0] is not found:
        held = st.session_state[_KEPT] = (found, [_pictures(chart) for chart in found.charts.drawn])
    for chart, pictures in zip(found.charts.drawn, held[1], strict=True):
        st.html(pictures)
        st.caption(plain(chart.caption))
    for sentence in found.charts.missing:
        st.info(plain(sentence))


def show_outlines(found: Results) -> int | None:
    """Show the outlines of a photo that is chosen, the one on which they agree least first.

    Returns
    -------
    int or None
        Number of the photo that is shown; None where there is none, or the record has lost it.
    """
    overlaps = photo_overlaps(found.study, found.overlaps)
    if not overlaps:
        return None
    st.subheader("Outlines over the photo", anchor=False)
    number = st.selectbox(
        "Photo, those with the least overlap first",
        list(overlaps),
        format_func=lambda number: f"Photo {number} (overlap {overlaps[number]:.2f})",
        key=f"outlines-of-{found.study.id}",
    )
    try:
        chart, pictures = _shown(found, number)
    except EbblineError as error:
        st.error(plain(str(error)), icon=":material/error:")
        return None
    st.html(pictures)
    st.caption(plain(chart.caption))
    return number


def outlines_of(found: Results, number: int) -> Chart:
    """Return the chart of the outlines of a photo.

    Raises
    ------
    EbblineError
        If the record has lost the photo.
    """
    pixels = read_photo(record().photo_bytes(found.study.plan.photo(number).sha256), f"Photo {number}").pixels
    overlap = photo_overlaps(found.study, found.overlaps)[number]
    told = f"Two of them overlap by {overlap:.2f} on average (Dice; 1 is the same outline)."
    return outlines_chart(pixels, _traced(found, number), f"Photo {number}", told)


def _pictures(chart: Chart) -> str:
    """Return a chart for a wide screen and for a phone's, of which one is shown."""
    words = escape(f"{chart.title}: {chart.words}")
    links = {
        name: f"data:image/svg+xml;base64,{b64encode(chart.picture('svg', width)).decode()}"
        for name, width in (("wide", WIDE_PX), ("phone", PHONE_PX))
    }
    images = "".join(f'<img class="{name}" src="{link}" alt="{words}">' for name, link in links.items())
    return f'<figure class="agreement-chart">{images}</figure>'


def _shown(found: Results, number: int) -> tuple[Chart, str]:
    held: tuple[Results, int, Chart, str] | None = st.session_state.get(_KEPT_OUTLINES)
    if held is None or held[0] is not found or held[1] != number:
        chart = outlines_of(found, number)
        held = st.session_state[_KEPT_OUTLINES] = (found, number, chart, _pictures(chart))
    return held[2], held[3]


def _traced(found: Results, number: int) -> dict[str, list[Outline]]:
    called = names(found.study, people=found.people)
    by_rater: dict[str, list[Outline]] = {}
    for each in found.study.tracings:
        if each.photo == number:
            by_rater.setdefault(called[each.rater], []).append(each.outline)
    return dict(sorted(by_rater.items()))
