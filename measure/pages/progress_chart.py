"""The picture of a series on a page, drawn for the width at which it is shown."""

from base64 import b64encode

import streamlit as st

from measure.pages import fitted
from measure.trend.chart import PHONE_PX, WIDE_PX, picture
from measure.trend.course import Trend

_KEPT, _WIDTH = "progress-chart", "progress-chart-width"


@st.fragment
def show_chart(trend: Trend) -> None:
    """Show the picture; it is drawn anew only where what it shows or its width has changed."""
    above = st.container()
    ellipse = st.toggle("Ellipse estimate too", help="Length x width x π / 4: the area, were the wound an ellipse.")
    width = st.session_state.get(_WIDTH) or _guess()
    state = repr((trend.series.wound, [_state(point) for point in trend.series.points], trend.gaps, width, ellipse))
    held: tuple[str, str] | None = st.session_state.get(_KEPT)
    if held is None or held[0] != state:
        drawn = b64encode(picture(trend, "svg", width, ellipse=ellipse)).decode()
        held = st.session_state[_KEPT] = (state, f"data:image/svg+xml;base64,{drawn}")
    words = f"Chart: {trend.sentence} The table below holds all its numbers."
    data = {"picture": held[1], "words": words, "drawn": width, "least": PHONE_PX, "most": WIDE_PX}
    with above:
        fitted.fitted("progress-chart-shown", data, _fit)


def _fit(width: int) -> None:
    st.session_state[_WIDTH] = min(max(width, PHONE_PX), WIDE_PX)


def _guess() -> int:
    """Return the width that the kind of browser suggests, until it says one."""
    return PHONE_PX if "Mobi" in st.context.headers.get("User-Agent", "") else WIDE_PX


def _state(point: object) -> str:
    """Return all that is known of a point but the visit, whose name is its place in memory."""
    return repr({name: value for name, value in vars(point).items() if name != "visit"})
