"""The series of a wound as files; each is made when it is asked for."""

import json
from collections.abc import Callable

import streamlit as st

from measure.trend.chart import picture
from measure.trend.course import Trend
from measure.trend.report import trend_document
from measure.trend.table import trend_csv

Made = Callable[[], str | bytes]
"""Makes what a file holds."""


def offer_series(trend: Trend) -> None:
    """Offer picture and numbers."""
    name = f"ebbline-{trend.series.wound.key.replace('/', '-')}"
    files: dict[str, tuple[Made, str, str]] = {
        "Picture (PNG)": (lambda: picture(trend, "png"), f"{name}.png", "image/png"),
        "Picture (SVG)": (lambda: picture(trend, "svg"), f"{name}.svg", "image/svg+xml"),
        "Table (CSV)": (lambda: trend_csv(trend), f"{name}.csv", "text/csv"),
        "Numbers (JSON)": (
            lambda: json.dumps(trend_document(trend), indent=2, allow_nan=False),
            f"{name}.json",
            "application/json",
        ),
    }
    with st.expander("Save picture or numbers"):
        for label, (made, file, kind) in files.items():
            st.download_button(label, made, file, kind, on_click="ignore", width="stretch")
