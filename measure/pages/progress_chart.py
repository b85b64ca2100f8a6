"""The picture of a series on a page: one drawn for phones and one for wider screens, of which one is seen."""

from base64 import b64encode
from html import escape

import streamlit as st

from measure.trend.chart import WIDE_PX, PHONE_PX, picture
from measure.trend.course import Trend

_KEPT = "progress-chart"
_STYLE = """<style>
.series-wide, .series-narrow { width: 100%; border-radius: 0.5rem; }
.series-narrow { display: none; }
@media (max-width: 640px) { .series-wide { display: none; } .series-narrow { display: block; } }
</style>"""


def show_chart(trend: Trend) -> None:
    """Show the picture; it is drawn anew only where what it shows has changed."""
    state = repr((trend.series.wound, [_state(point) for point in trend.series.points], trend.gaps))
    held: tuple[str, str] | None = st.session_state.get(_KEPT)
    if held is None or held[0] != state:
        held = st.session_state[_KEPT] = (state, _html(trend))
    st.html(held[1])


def _state(point: object) -> str:
    """Return all that is known of a point but the visit, whose name is its place in memory."""
    return repr({name: value for name, value in vars(point).items() if name != "visit"})


def _html(trend: Trend) -> str:
    said = escape(f"Chart: {trend.sentence} The table below holds all its numbers.")
    images = "".join(
        f'<img class="series-{name}" alt="{said}" '
        f'src="data:image/svg+xml;base64,{b64encode(picture(trend, "svg", width)).decode()}">'
        for name, width in (("wide", WIDE_PX), ("narrow", PHONE_PX))
    )
    return _STYLE + images
