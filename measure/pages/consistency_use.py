"""Lets the quality team judge changes on the page *Progress* by a study of its own."""

from collections.abc import Mapping

import streamlit as st

from calibration.errors import EbblineError
from measure.agreement.errors import AgreementError
from measure.pages.held import record
from measure.pages.plain import plain
from measure.pages.who import editor
from measure.study.results import Results, usable_change

SETTING = "smallest_detectable_change"
"""Of the site: what `measure.trend.change.parse_site_change` reads."""

_SAVED = "study-used"
_ROUGH = 2.0  # times the figure: an upper end farther off is said before anybody uses it


def ask_use(found: Results) -> None:
    """Say what the study would change on *Progress*, set it when that is asked for, and take it back."""
    st.subheader("Use it for single wounds", anchor=False)
    if told := st.session_state.pop(_SAVED, ""):
        st.success(told, icon=":material/check:")
    _ask_study(found)
    _ask_back()


def _ask_study(found: Results) -> None:
    try:
        wanted = dict(usable_change(found))
    except AgreementError as error:
        st.info(plain(str(error)))
        return
    st.markdown(
        f"*Progress* would call a change of an area larger than the measurement noise from "
        f"**{100 * float(wanted['area_relative']):.0f} %** of the mean of both areas on, and somewhat more for what "
        "taking the photos adds."
    )
    share = found.analysis.relative_sdc()
    if share.high > _ROUGH * share.value:
        st.info(
            f"This study knows the figure only roughly: it may be {100 * share.low:.0f} to {100 * share.high:.0f} % "
            "(95 % interval). More raters would tell it better."
        )
    now = record().setting(SETTING)
    st.caption(plain(_now(now)))
    if now == wanted:
        return
    if len(found.study.tracings) < found.study.plan.tracings and not found.study.closed:
        st.info("The study is not complete. Finish or close it first; its figures can still change.")
        return
    if st.button("Use this in Progress", type="primary", width="stretch", disabled=not editor()):
        _set(wanted, "Saved: Progress judges changes by this study from now on.")


def _ask_back() -> None:
    """Offer to judge changes as without any study."""
    if record().setting(SETTING) is None:
        return
    if st.button("Use no study in Progress", width="stretch", disabled=not editor()):
        _set(None, "Saved: Progress judges changes by the uncertainty of both measurements again.")
    st.caption("Without a study, changes are judged by the uncertainty of both measurements.")


def _set(wanted: Mapping[str, float | str] | None, said: str) -> None:
    try:
        record().set(SETTING, wanted, editor())
    except EbblineError as error:
        st.error(plain(str(error)), icon=":material/error:")
        return
    st.session_state[_SAVED] = said
    st.rerun()


def _now(setting: object) -> str:
    """Say by what changes are judged now."""
    if not isinstance(setting, dict):
        return "Now changes are judged by the uncertainty of both measurements."
    share, source = setting.get("area_relative"), setting.get("source")
    if not isinstance(share, int | float):
        return "Now changes are judged by a setting that can't be read; this study would take its place."
    return f"Now changes are judged by: {100 * share:.0f} %, {source}. Every earlier setting stays in the record."
