"""The page *Wounds*: whose turn it is, and a new wound."""

from collections.abc import Sequence
from datetime import date, datetime

import streamlit as st

from measure.pages.caution import caution
from measure.pages.dates import day, due_in_words
from measure.pages.findings_moment import zone
from measure.pages.held import choose, record
from measure.pages.new_wound import ask_new_wound
from measure.pages.plain import plain
from measure.pages.who import named
from measure.record.entries import Status, WoundEntry
from measure.record.reading import LastVisit

_AT_ONCE = 25
"""Wounds that are listed before a person has to say whose: a list that is longer is not read."""


def show() -> None:
    """Draw the page."""
    st.title("Wounds", anchor=False)
    named("You are", "Who are you?")
    standings = record().last_visits()
    sought = st.text_input("Find a person by code", key="sought-person", placeholder="as P014").strip().casefold()
    found = [each for each in standings if sought in each.wound.person.casefold()]
    still_open = [each for each in found if each.wound.status is Status.OPEN]
    if not standings:
        st.info("No wound is in the record yet. Open the first one here.")
    elif not found:
        st.info(f"No wound of a person whose code holds '{plain(sought)}'.")
    today = datetime.now(zone()).date()
    still_open.sort(key=lambda each: each.next_due or date.max)  # keeps the order of people among those alike
    late = [each for each in still_open if each.next_due and each.next_due < today]
    due = [each for each in still_open if each.next_due == today]
    rest = [each for each in still_open if each not in late and each not in due]
    _listed(f"Overdue ({len(late)})", late, today)
    _listed(f"Due today ({len(due)})", due, today)
    _listed("Other open wounds" if late or due else "Open wounds", rest, today)
    with st.expander("New wound", expanded=not standings):
        if wound := ask_new_wound():
            _open(wound)
    if closed := [each for each in found if each.wound.status is not Status.OPEN]:
        with st.expander(f"Healed, merged or split ({len(closed)})"):
            _listed("", closed, today)
    caution()


def _listed(title: str, standings: Sequence[LastVisit], today: date) -> None:
    if not standings:
        return
    if title:
        st.subheader(title, anchor=False)
    for each in standings[:_AT_ONCE]:
        with st.container(border=True, gap="xsmall", key=f"listed-{each.wound.id}"):
            label = f"**{plain(each.wound.person)}** · {plain(str(each.wound))}"
            if st.button(label, key=f"open-{each.wound.id}", width="stretch"):
                _open(each.wound)
            st.caption(_said(each, today))
    if len(standings) > _AT_ONCE:
        st.caption(f"{len(standings) - _AT_ONCE} more: find them by the person's code.")


def _said(standing: LastVisit, today: date) -> str:
    status = standing.wound.status
    parts = [] if status is Status.OPEN else [f"{status} {day(standing.wound.events[-1].at)}"]
    if standing.next_due and status is Status.OPEN:
        due = f"dressing change {due_in_words(standing.next_due, today)}"
        parts.append(f":material/schedule: **{due}**" if standing.next_due <= today else due)
    parts.append(f"last visit {day(standing.at)}" if standing.at else "no visit yet")
    parts.append(str(standing.wound.kind))
    return " · ".join(parts)


def _open(wound: WoundEntry) -> None:
    choose(wound)
    st.switch_page("measure/pages/visit.py")


show()
