"""A day and a time to give: days to tap, a time to type, or one tap for both; and the clock of whoever looks."""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import streamlit as st

from measure.findings.form import FindingError
from measure.pages.findings_answers import Answers
from measure.pages.findings_controls import capitalised, lack

_DAYS_BACK = 7
"""Days that can be tapped before today; what is older was not emptied for a week, and that is no drain in use."""

_WRITTEN = re.compile(r"(\d{1,2})\s*[:.h ]?\s*(\d{2})?\s*(am|pm)?", re.IGNORECASE)


def zone() -> tzinfo:
    """Return the time zone of the browser, or of this machine where the browser doesn't tell."""
    name, offset = st.context.timezone, st.context.timezone_offset
    try:
        if name:
            return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        pass
    if offset is not None:
        return timezone(timedelta(minutes=-offset))
    return datetime.now().astimezone().tzinfo or UTC


def ask_moment(answers: Answers, name: str, label: str, at: datetime, at_once: Mapping[str, datetime]) -> None:
    """Ask for a day and a time.

    Parameters
    ----------
    answers : Answers
    name : str
        What the answers' names begin with.
    label : str
    at : datetime
        Now, in the time zone in which the time is given.
    at_once : mapping of str to datetime
        What one tap answers with, by the words on the button.
    """
    today = at.date()
    offered = {today - timedelta(days=back) for back in range(_DAYS_BACK + 1)}
    days = sorted(offered | _taken(answers[f"{name}-day"]), reverse=True)
    st.pills(
        f"{label}: the day",
        days,
        format_func=lambda day: day_in_words(day, today),
        key=answers.at(f"{name}-day"),
        persist_state="session",
    )
    st.text_input(
        f"{label}: the time, as 6:30 or 18:30", key=answers.at(f"{name}-time"), max_chars=10, persist_state="session"
    )
    for words, moment in at_once.items():
        st.button(
            words,
            key=answers.at(f"{name}-{words}"),
            on_click=put_moment,
            args=(answers, name, moment.astimezone(at.tzinfo)),
            width="stretch",
        )


def _taken(day: date | None) -> set[date]:
    return {day} if day else set()


def day_in_words(day: date, today: date) -> str:
    """Return a day as it is read on a button."""
    names = {0: "today", -1: "yesterday", 1: "tomorrow"}
    return capitalised(names.get((day - today).days, f"{day:%a} {day.day} {day:%b}"))


def put_moment(answers: Answers, name: str, moment: datetime) -> None:
    """Answer with a moment as it is written in its own time zone."""
    answers.put(f"{name}-day", moment.date())
    answers.put(f"{name}-time", f"{moment:%H:%M}")


def moment_said(answers: Answers, name: str, what: str, place: tzinfo) -> datetime | None:
    """Return the moment; None where neither day nor time is given.

    Raises
    ------
    FindingError
        If the time can't be read, or one of the two is missing.
    """
    day, written = answers[f"{name}-day"], (answers[f"{name}-time"] or "").strip()
    if day is None and not written:
        return None
    wanted = {"the day": day, "the time": written}
    lack([words for words, value in wanted.items() if not value], what)
    return datetime.combine(day, time_of(written), place)


def time_of(written: str) -> time:
    """Read a time as people write it: 6:30, 06.30, 1830, 6 pm.

    Raises
    ------
    FindingError
        If it can't be read.
    """
    found = _WRITTEN.fullmatch(written.strip())
    if found:
        hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "pm" else 0)
            half = ""
        if hour < 24 and minute < 60 and not half:
            return time(hour, minute)
    raise FindingError(f"The time '{written}' can't be read: write it as 6:30 or 18:30.")
