"""What a wound's series says on a page, by the change that the site holds to be more than noise."""

from collections.abc import Sequence

import streamlit as st

from measure.pages import held
from measure.pages.plain import plain
from measure.record.entries import VisitEntry, WoundEntry
from measure.trend.change import SiteChangeError
from measure.trend.course import Trend
from measure.trend.series import series_of
from measure.trend.trend import trend


def judged(wound: WoundEntry, visits: Sequence[VisitEntry]) -> Trend:
    """Return what a series says; where the site's setting can't be used, say so and judge without it."""
    series = series_of(wound, visits)
    try:
        return trend(series, sdc=held.record().setting("smallest_detectable_change"))
    except SiteChangeError as error:
        st.warning(f"{plain(str(error))} Until then changes are judged by the uncertainty of each area.")
        return trend(series)
