"""How large a study must be: what it is to tell, who takes part, and how closely one wants to know, as one sentence."""

from collections.abc import Callable, Iterable

import streamlit as st

from measure.agreement.errors import AgreementError
from measure.agreement.figure_words import counted
from measure.agreement.planning import (
    Causes,
    Design,
    change_closeness,
    correlation_closeness,
    limits_closeness,
    photos_for_change,
    photos_for_correlation,
    photos_for_limits,
    photos_to_show,
)
from measure.pages.plain import plain

LEAST_PHOTOS = 10
"""Fewer can't hold wounds of all sizes and colours, whatever the sum asks for (common practice)."""

GOOD = 0.75
"""Correlations above are called good (Koo and Li, J Chiropr Med 2016;15:155-63)."""

DIFFERENT, SAME = "Different nurses", "The same nurse"

LEANINGS = {
    "Hardly": Causes(rater=0.05, photo=0.25),
    "Somewhat": Causes(rater=0.15, photo=0.30),
    "Much": Causes(rater=0.35, photo=0.30),
}
"""Assumed; no published study of tracings tells these shares apart."""

SHARES = {"A half": 1 / 2, "A third": 1 / 3, "A quarter": 1 / 4, "A fifth": 1 / 5, "A tenth": 1 / 10}
EXPECTED = ("0.7", "0.8", "0.9", "0.95")
MARGINS = ("0.05", "0.1", "0.15")
RATERS = (2, 3, 4, 6, 8, 12)
PHOTOS = (10, 20, 30, 50, 100)


def show_planning() -> None:
    """Ask what a study is to tell, and say how many photos, raters and tracings that takes."""
    plans = {
        "How large a change must be before we believe it": _plan_change,
        "How far two ways of measuring differ": _plan_limits,
        "How well tracings tell large wounds from small ones": _plan_correlation,
    }
    goal = st.radio("What should the study tell?", list(plans), key="plan-goal", persist_state="session")
    plans[goal]()
    st.caption(
        "Choose the photos from those that you will measure later: large and small wounds, all tissues, light and dark "
        f"skin, and never fewer than {LEAST_PHOTOS}."
    )


def _plan_change() -> None:
    """Plan for the smallest detectable change."""
    between = _chosen("Who measures a wound from visit to visit?", (DIFFERENT, SAME), "plan-who") == DIFFERENT
    left, right = st.columns(2)
    with left:
        raters = _number("Raters", 3, 12, f"plan-raters-{between}", least=2 if between else 1)
    with right:
        trials = _number("Tracings of a photo by each", 2, 4, f"plan-trials-{between}", least=1 if between else 2)
    causes = _leaning() if between else None
    wished = _wished("smallest detectable change", "of its value")

    def needed(number: int) -> int:
        return max(photos_for_change(SHARES[wished], number, trials, causes), LEAST_PHOTOS)

    if photos := _reachable(lambda: needed(raters)):
        _say(
            f"With {counted(raters, 'rater')}, {counted(trials, 'tracing')} each, {photos} photos: the smallest "
            f"detectable change will be known to within {wished.lower()} of its value.",
            Design(photos, raters, trials),
        )
    _other_raters(needed, trials, RATERS if between else (1, *RATERS))
    _other_photos(
        counted(raters, "rater"), lambda number: _percent(change_closeness(Design(number, raters, trials), causes))
    )
    if causes:
        st.caption(
            "Hardly, somewhat, much: 5, 15 or 35 % of the variance between two tracings of a photo come from who "
            "traced it. These shares are assumed; a first small study tells your own."
        )
    st.caption("Method: chi-squared interval of a standard deviation, degrees of freedom by Satterthwaite.")


def _leaning() -> Causes:
    """Ask how far raters differ from each other throughout."""
    return LEANINGS[_chosen("Do some nurses draw all wounds larger than others do?", LEANINGS, "plan-leaning", 1)]


def _plan_limits() -> None:
    """Plan for limits of agreement."""
    wished = _wished("limits", "of their distance from the mean difference")
    if photos := _reachable(lambda: max(photos_for_limits(SHARES[wished]), LEAST_PHOTOS)):
        _say(
            f"With {photos} photos, each measured once in both ways: the limits of agreement will be known to within "
            f"{wished.lower()} of their distance from the mean difference.",
            Design(photos, 2, 1),
            "measurements",
        )
    _other_photos("Two ways of measuring", lambda number: _percent(limits_closeness(number)))
    st.caption(
        "Between the limits of agreement lie 95 of 100 differences. Method: standard error of a limit √(3/n) s, by "
        "Bland and Altman 1986."
    )


def _plan_correlation() -> None:
    """Plan for an intraclass correlation."""
    raters = _number("Raters", 3, 12, "plan-correlation-raters", least=2)
    chosen = _chosen("Which correlation do you expect? 1 is the best there is.", EXPECTED, "plan-expected", 2)
    margin = _chosen("To within how much do you want to know it?", MARGINS, "plan-margin")
    expected = float(chosen)

    def needed(number: int) -> int:
        return max(photos_for_correlation(expected, float(margin), number), LEAST_PHOTOS)

    if photos := _reachable(lambda: needed(raters)):
        _say(
            f"With {counted(raters, 'rater')}, 1 tracing each, {photos} photos: an intraclass correlation near "
            f"{chosen} will be known to within {margin} either way.",
            Design(photos, raters, 1),
        )
    if expected > GOOD:
        showing = max(photos_to_show(expected, GOOD, raters), LEAST_PHOTOS)
        st.markdown(f"To show that it is above {GOOD:g}, which is called good, {showing} photos do in 8 of 10 studies.")
    _other_raters(needed, 1, RATERS)
    _other_photos(counted(raters, "rater"), lambda number: f"± {correlation_closeness(expected, number, raters):.2f}")
    st.caption(
        "Nurses who draw all wounds larger than others do are not counted as errors here; plan for the change as well. "
        "Method: Bonett 2002; to show that it is good, Walter, Eliasziw and Donner 1998."
    )


def _reachable(needed: Callable[[], int]) -> int | None:
    """Return how many photos are needed; None, said in a sentence, where no number will do."""
    try:
        return needed()
    except AgreementError as unreachable:
        st.warning(plain(str(unreachable)), icon=":material/warning:")
        return None


def _chosen(question: str, answers: Iterable[str], key: str, first: int = 0) -> str:
    """Ask for one of a few answers, one of which is always given."""
    options = list(answers)
    given = st.pills(question, options, default=options[first], required=True, key=key, persist_state="session")
    return given or options[first]


def _number(label: str, value: int, most: int, key: str, *, least: int) -> int:
    return int(st.number_input(label, least, most, max(value, least), step=1, key=key, persist_state="session"))


def _wished(what: str, of: str) -> str:
    return _chosen(f"How closely do you want to know the {what}? To within this part {of}:", SHARES, "plan-share", 2)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _say(sentence: str, design: Design, word: str = "tracings") -> None:
    """Say the result, and how much work it is."""
    each = f", {design.photos * design.trials} a rater" if word == "tracings" else ""
    st.success(f"**{plain(sentence)}**  \n{design.tracings} {word} in all{each}.", icon=":material/check:")


def _other_raters(needed: Callable[[int], int], trials: int, raters: Iterable[int]) -> None:
    """Show what other numbers of raters ask for."""
    st.markdown("**As closely, with other numbers of raters**")
    rows = [_row(number, needed, trials) for number in raters]
    st.table(rows, hide_index=True)


def _row(raters: int, needed: Callable[[int], int], trials: int) -> dict[str, str]:
    try:
        photos = needed(raters)
    except AgreementError:
        return {"Raters": str(raters), "Photos": "none will do", "Tracings in all": ""}
    return {
        "Raters": str(raters),
        "Photos": str(photos),
        "Tracings in all": str(Design(photos, raters, trials).tracings),
    }


def _other_photos(by: str, closeness: Callable[[int], str]) -> None:
    """Show how closely other numbers of photos tell it."""
    st.markdown(f"**{by} and other numbers of photos**")
    st.table([{"Photos": str(number), "Known to within": closeness(number)} for number in PHOTOS], hide_index=True)
