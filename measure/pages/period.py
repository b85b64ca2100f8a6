"""How far back a page looks."""

from datetime import datetime, timedelta

import streamlit as st

from measure.pages.findings_moment import zone

_DAYS = {"3 months": 91, "6 months": 182, "12 months": 365, "All": None}
_USUAL = "12 months"


def ask_period(key: str) -> tuple[str, datetime | None]:
    """Ask how far back, and return the words with the beginning of that day; None for all."""
    chosen = (
        st.segmented_control("How far back", list(_DAYS), default=_USUAL, key=key, width="stretch", required=True)
        or _USUAL
    )
    days = _DAYS[chosen]
    if days is None:
        return chosen, None
    today = datetime.now(zone()).replace(hour=0, minute=0, second=0, microsecond=0)
    return chosen, today - timedelta(days=days)
