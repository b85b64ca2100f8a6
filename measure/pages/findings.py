"""Bedside findings of a visit: groups of large controls, each optional, and what they say.

The questions are a fragment: a tap draws them anew, and the rest of the page only where that depends on what was said.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

import streamlit as st

from measure.findings.findings import Findings, anything_said, parse_findings
from measure.findings.form import FindingError
from measure.pages.findings_answers import Answers
from measure.pages.findings_bedside import Bedside
from measure.pages.findings_cautions import cautions_of, show_cautions
from measure.pages.findings_groups import GROUPS, Group, Reader
from measure.pages.findings_last import offer_last, taken
from measure.pages.findings_look import LOOK
from measure.pages.findings_moment import zone
from measure.pages.plain import plain
from measure.record.entries import WoundEntry

_NOT_SAID = "not said"
_MORE = "more"
_DRAWN = "drawn"


def matters(findings: Findings) -> object:
    """Return what a page may say something about: whether there is anything to save, and what a provider is told."""
    told = (findings.pain, findings.closures, findings.drains, findings.foot)
    return (anything_said(findings), dict(findings.signs), *told)


def ask_findings(  # noqa: PLR0913 - all that the questions depend on
    wound: WoundEntry,
    key: str,
    earlier: Findings | None = None,
    *,
    before: Sequence[Findings] = (),
    at: datetime | None = None,
    watched: Callable[[Findings], object] = matters,
) -> Findings:
    """Draw the questions, and return what was said.

    Parameters
    ----------
    wound : WoundEntry
    key : str
        What tells this visit from others; answers are kept under it until `forget_findings`.
    earlier : Findings, optional
        Of the last visit.
    before : sequence of Findings
        Of all earlier visits that may tell how much drains gave, oldest first; ``earlier`` alone where left out.
    at : datetime, optional
        When the wound is seen, with a time zone; now where left out.
    watched : callable
        Returns what else on the page depends on; the whole page is drawn anew when that changes.

    Returns
    -------
    Findings
        As of the last run of the page: a tap since then is in what `findings_of` returns at the next.
    """
    st.html(LOOK)
    told = tuple(before or filter(None, (earlier,)))
    found = findings_of(key)
    Answers(key).put(_DRAWN, watched(found))
    _ask(Bedside(wound, Answers(key), earlier or Findings(), _moment(at), told), watched)
    return found


def findings_of(key: str) -> Findings:
    """Return what was said; what can't be recorded is left out, and told by `troubles_of`."""
    answers = Answers(key)
    return parse_findings({name: _read(read, answers) for name, read in _readers()})


def troubles_of(key: str) -> tuple[str, ...]:
    """Return a sentence for each answer that can't be recorded, or not yet; ask before a visit is saved."""
    return tuple(filter(None, (_trouble(read, Answers(key)) for _, read in _readers())))


def forget_findings(key: str) -> None:
    """Forget all answers; call it when the visit is saved or given up."""
    Answers(key).forget()


def _readers() -> Iterator[tuple[str, Reader]]:
    for group in GROUPS:
        yield from group.said.items()


def _read(read: Reader, answers: Answers) -> object:
    try:
        return read(answers)
    except FindingError:
        return None


def _trouble(read: Reader, answers: Answers) -> str:
    try:
        read(answers)
    except FindingError as trouble:
        return str(trouble)
    return ""


def _moment(at: datetime | None) -> datetime:
    return (at or datetime.now(zone())).astimezone(zone())


@st.fragment
def _ask(bedside: Bedside, watched: Callable[[Findings], object]) -> None:
    found = findings_of(bedside.answers.visit)
    offer_last(bedside, found)
    for group in GROUPS:
        if _is_asked(group, bedside):
            _ask_group(group, bedside, found)
    _offer_more(bedside)
    if watched(found) != bedside.answers[_DRAWN]:
        st.rerun()  # once all is drawn: what is not would be gone for a moment, and groups come back closed


def _is_asked(group: Group, bedside: Bedside) -> bool:
    """Whether a group is shown: it suits the wound, was opened, or was told of last time."""
    opened = group.title in (bedside.answers[_MORE] or ())
    return group.asked_of(bedside.wound) or opened or bool(group.words(bedside.earlier))


def _offer_more(bedside: Bedside) -> None:
    """Let a person open groups that wounds of this kind are not asked about."""
    hidden = [group.title for group in GROUPS if not _is_asked(group, bedside)]
    opened = bedside.answers[_MORE] or ()
    for title in hidden:
        st.button(
            f"Also record: {title.lower()}",
            key=bedside.answers.at(f"open-{title}"),
            on_click=bedside.answers.put,
            args=(_MORE, (*opened, title)),
            icon=":material/add:",
            width="stretch",
        )


def _ask_group(group: Group, bedside: Bedside, found: Findings) -> None:
    said, troubles = group.words(found), [_trouble(read, bedside.answers) for read in group.said.values()]
    marked = " (as last time)" if set(group.said) & set(taken(bedside, found)) else ""
    words = said + marked if said or not any(troubles) else ""
    told = "; ".join(filter(None, (words, "not complete" if any(troubles) else ""))) or _NOT_SAID
    icon = ":material/pending:" if any(troubles) else ":material/check:" if said else None
    with st.expander(f"**{group.title}:** {plain(told)}", key=bedside.answers.at(f"group-{group.title}"), icon=icon):
        group.ask(bedside)
        for name in group.said:
            show_cautions(cautions_of(name, found, bedside))
