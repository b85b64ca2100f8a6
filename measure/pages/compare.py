"""The page *Compare*: two visits of a wound over one another, and how far its edge advanced."""

import streamlit as st

from calibration.errors import EbblineError
from measure.compare.advance import Advance
from measure.compare.advance_words import advance_words, at_clock, fit_words
from measure.compare.fitting import Fit
from measure.compare.picture import side_by_side
from measure.overlay import encoded
from measure.pages.caution import caution
from measure.pages.compared import Compared, chart, compared
from measure.pages.dates import day, moment
from measure.pages.held import visits_that_count
from measure.pages.laid_over import laid_over
from measure.pages.photo_link import picture_link
from measure.pages.plain import plain
from measure.pages.wound_head import wound_head
from measure.record.entries import VisitEntry, WoundEntry

_NOON = {"Not known": 0.0, "Top": 0.0, "Right": 90.0, "Bottom": 180.0, "Left": 270.0}
_SAME_DEG = 0.06  # the field shows tenths
_CHART_PX = 520


def show() -> None:
    """Draw the page."""
    wound = wound_head("Compare")
    if wound is None:
        return
    visits = [visit for visit in visits_that_count(wound) if visit.measurement and visit.photos]
    if len(visits) < 2:
        st.info("Two measured visits with photos are needed to compare; measure the wound at its next visit too.")
        return
    earlier, later = _chosen(wound, visits)
    try:
        with st.spinner("Laying both photos over one another ..."):
            found = compared(earlier, later)
            pair = f"{wound.key}-{earlier.id}-{later.id}"
            turn = _turned_by_hand(pair, found.fit)
            shown = found if turn is None else compared(earlier, later, turn)
    except EbblineError as error:
        st.error(plain(str(error)))
        return
    _show_pair(wound, (earlier, later), shown, turn)
    _ask_turn(found.fit, pair)
    caution()


def _chosen(wound: WoundEntry, visits: list[VisitEntry]) -> tuple[VisitEntry, VisitEntry]:
    """Let a person choose two visits; the first and the last one until then."""
    left, right = st.columns(2)
    by_number = {visit.id: visit for visit in visits}

    def named(number: int) -> str:
        return moment(by_number[number].at)

    first = left.selectbox(
        "Earlier visit", [visit.id for visit in visits[:-1]], format_func=named, key=f"compare-earlier-{wound.id}"
    )
    after = visits[visits.index(by_number[first]) + 1 :]
    second = right.selectbox(
        "Later visit",
        [visit.id for visit in after],
        index=len(after) - 1,
        format_func=named,
        key=f"compare-later-{wound.id}-{first}",
    )
    return by_number[first], by_number[second]


def _turned_by_hand(pair: str, fit: Fit) -> float | None:
    """Return the turn that a person set; None while it is the one that was found."""
    turn = st.session_state.get(f"compare-turn-{pair}")
    return None if turn is None or abs(turn - round(fit.turn_deg, 1)) < _SAME_DEG else float(turn)


def _show_pair(
    wound: WoundEntry, visits: tuple[VisitEntry, VisitEntry], shown: Compared, turn_deg: float | None
) -> None:
    titles = f"Earlier · {day(visits[0].at)}", f"Later · {day(visits[1].at)}"
    _pictures(shown, titles, f"{visits[0].id}-{visits[1].id}")
    noon_deg = _noon_deg(wound)
    found = shown.advance(noon_deg)
    words = advance_words(found, (visits[1].at - visits[0].at).total_seconds() / 86_400)
    st.subheader("How far the edge advanced", anchor=False)
    st.markdown(f"**{words[0]}** {' '.join(words[1:])}")
    picture = chart(*visits, turn_deg, noon_deg)
    st.image(picture, width=_CHART_PX, alt="Both outlines and the advance by the clock; the same as the table.")
    _table(found)
    _offer_picture(wound, shown, titles, found)
    st.subheader("How they were laid over one another", anchor=False)
    for sentence in fit_words(shown.fit):
        st.markdown(sentence)


def _pictures(shown: Compared, titles: tuple[str, str], pair: str) -> None:
    height, width = shown.pictures.earlier.shape[:2]
    sides = zip(("earlier", "later"), titles, shown.files, (shown.earlier_mm, shown.later_mm), strict=True)
    data = {
        name: {"title": title, "picture": picture_link(file), "rings": shown.rings(shape)}
        for name, title, file, shape in sides
    }
    laid_over(
        f"laid-over-{pair}",
        data | {"key": pair, "width": width, "height": height, "cm": 10 / shown.pictures.step_mm},
    )
    st.caption(
        "Both are shown from straight above at one scale, as the earlier photo was held; colours are as each camera "
        "took them."
    )


def _noon_deg(wound: WoundEntry) -> float:
    """Ask where 12 o'clock lies in the pictures."""
    part = "heel" if wound.site.on_foot else "head"
    side = st.segmented_control(
        f"Where is the {part} in these pictures? It is at 12 o'clock.",
        list(_NOON),
        default="Not known",
        key=f"compare-noon-{wound.id}",
    )
    if side in {None, "Not known"}:
        st.caption("Until that is known, 12 o'clock is the top of the pictures.")
    return _NOON[side or "Not known"]


def _table(found: Advance) -> None:
    with st.expander("The same as a table"):
        st.table({f"{at.hour} o'clock": at_clock(at) for at in found.by_clock})
        st.caption(
            "Each point of the earlier edge, about one a mm, is compared with the nearest point of the later edge; + "
            f"is into the wound, - outward. Area lost over the mean perimeter gives {found.gilman_mm:+.1f} mm (Gilman, "
            "Wounds 1990;2:95-101)."
        )


def _ask_turn(fit: Fit, pair: str) -> None:
    """Let a person turn the later photo away from where it was found to lie."""
    key = f"compare-turn-{pair}"
    with st.expander("Turn the later photo by hand"):
        st.markdown("Turn it until marks in the skin meet: a sticker may have been laid another way.")
        st.number_input(
            "Turn in degrees, clockwise, from where both stickers lie alike",
            -180.0,
            180.0,
            value=round(fit.turn_deg, 1),
            step=1.0,
            format="%.1f",
            key=key,
        )
        st.button("As it was found", key=f"{key}-back", on_click=_forget, args=(key,))


def _forget(key: str) -> None:
    st.session_state.pop(key, None)


def _offer_picture(wound: WoundEntry, shown: Compared, titles: tuple[str, str], found: Advance) -> None:
    lines = (
        f"{wound.key}, {wound.site}",
        f"Mean advance of the edge: {found.mean_mm:+.1f} ± {found.mean_expanded_mm:.1f} mm (k = 2)",
        "Dashed: earlier edge. Solid: later edge.",
    )

    def picture() -> bytes:
        return encoded(side_by_side(shown.pictures, shown.earlier_mm, shown.later_mm, titles, lines), ".jpg")

    name = plain(wound.key).replace("/", "-")
    st.download_button(
        "Save both side by side (JPEG)",
        picture,
        f"{name}-compared.jpg",
        "image/jpeg",
        on_click="ignore",
        width="stretch",
    )


show()
