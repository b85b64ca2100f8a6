"""Saving a visit: which outline is the wound's, when it was, who was there; then all of it at once or nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import streamlit as st

from calibration.errors import EbblineError
from measure.findings.findings import documents
from measure.pages.adding import MAX_NOTE
from measure.pages.by_eye import earlier_numbers
from measure.pages.dates import moment
from measure.pages.findings import findings_of, forget_findings, troubles_of
from measure.pages.held import record
from measure.pages.measuring import put_away
from measure.pages.numbers import in_a_line, titled
from measure.pages.opened import Opened
from measure.pages.opened import kept as kept_photo
from measure.pages.plain import plain
from measure.pages.visit_saved import remember_saved
from measure.pages.visit_time import ask_when, forget_when
from measure.pages.who import editor, named
from measure.pipeline import Measurement
from measure.record.draft import VisitDraft, drawn
from measure.record.entries import FindingEntry, VisitEntry, WoundEntry

_NOTE = "visit-note-"
_UNIT = "visit-unit"
_SEEN = "visit-seen-"
_OUTLINE = "visit-outline-"


def visit_so_far(wound: WoundEntry, findings: Mapping[str, Any]) -> VisitEntry:
    """Return the visit as it would be saved now, without its photo, for whoever looks at what was found."""
    now = datetime.now().astimezone()
    entries = tuple(FindingEntry(name, value, now, editor()) for name, value in findings.items())
    return VisitEntry(0, wound.id, now, editor(), "", now, findings=entries)


def ask_to_save(
    wound: WoundEntry,
    visits: Sequence[VisitEntry],
    measured: Measurement | None,
    will_do: Measurement | None,
) -> None:
    """Ask for what a visit needs, and save it with its findings.

    Parameters
    ----------
    wound : WoundEntry
    visits : sequence of VisitEntry
        To this wound, oldest first.
    measured : Measurement, optional
        What the photo on the page shows; None without a photo.
    will_do : Measurement, optional
        The same, once its photo will do or is kept for a reason.
    """
    st.subheader("Save", anchor=False)
    seen = _seen(wound, visits)
    number = which_wound(measured)
    note = st.text_area("Note, if any", key=f"{_NOTE}{wound.key}", max_chars=MAX_NOTE, height=80)
    at = ask_when(wound.key, measured)
    unit = _ask_unit()
    _breaks(visits, measured)
    known = named("Saved by", "Who are you?")
    if _photo_shown() and not (measured and measured.wounds):
        st.info("No wound is drawn on the photo: it is saved with the visit, without numbers.")
    missing = _missing(measured, will_do, number, at=at, known=known)
    label = f"Save visit to {wound.person}, wound {wound.number}"
    pressed = st.button(missing or label, type="primary", width="stretch", disabled=bool(missing), key="save-visit")
    if pressed and at:
        found = documents(findings_of(wound.key))  # asked at this moment: answers do not draw the page anew
        if trouble := _trouble(wound, measured, found, note):
            _tell(trouble)
        else:
            draft = VisitDraft(wound.id, at, editor(), unit, findings=found, note=note.strip())
            _save(draft, wound, seen, will_do, number)


def _ask_unit() -> str:
    """Ask for the ward or team: by tapping where the site has named its own; empty where nobody says."""
    if units := [str(unit) for unit in record().setting("units") or ()]:
        return st.pills("Ward or team, if you wish", units, key=f"{_UNIT}-known") or ""
    return st.text_input("Ward or team, if you wish", key=_UNIT, max_chars=40).strip()


def which_wound(measured: Measurement | None) -> int | None:
    """Return which wound of the photo is meant; None where that is not known."""
    wounds = titled(measured.wounds) if measured else []
    if measured:
        _follow_choice(measured)
    if len(wounds) < 2:
        return 0 if wounds else None
    chosen: int | None = st.pills(
        "Which one in the photo is it? The others are not saved.",
        range(len(wounds)),
        format_func=lambda number: in_a_line(*wounds[number]),
        key=f"{_OUTLINE}{measured.prepared.photo.sha256}" if measured else None,
    )
    return chosen


def _follow_choice(measured: Measurement) -> None:
    """Let the choice go with its wound: it is kept by a number, which changes where a wound before it is taken away."""
    key = f"{_OUTLINE}{measured.prepared.photo.sha256}"
    rings = [wound.outline.exterior.tolist() for wound in measured.wounds]
    before = st.session_state.get(f"{key}-rings", rings)
    st.session_state[f"{key}-rings"] = rings
    chosen = st.session_state.get(key)
    if chosen is not None and before != rings:
        earlier = earlier_numbers(before, rings)
        st.session_state[key] = earlier.index(chosen) if chosen in earlier else None


def _seen(wound: WoundEntry, visits: Sequence[VisitEntry]) -> int:
    """Return how many visits there were when this one was begun; say so where somebody has saved one since.

    The newest in the record need not be the newest to the wound: visits are also saved for an earlier time.
    """
    seen: int = st.session_state.setdefault(f"{_SEEN}{wound.key}", len(visits))
    for other in sorted(visits, key=lambda visit: visit.id)[seen:]:
        st.warning(
            f"**{plain(other.by)} saved a visit to this wound** at {moment(other.at)}, since you began. If you save "
            "too, both are kept.",
            icon=":material/group:",
        )
    return seen


def _breaks(visits: Sequence[VisitEntry], measured: Measurement | None) -> None:
    """Say so where length and width are taken in another way than last time."""
    counted = (visit.measurement for visit in reversed(visits) if not visit.left_out)
    before = next(filter(None, counted), None)
    if measured and before and before.convention != str(measured.convention):
        st.warning(
            f"Last time length and width were taken as {before.convention}, now as {measured.convention}: the series "
            "of length x width will be shown in two parts. Change it under the photo if that was not meant.",
            icon=":material/warning:",
        )


def _missing(
    measured: Measurement | None, will_do: Measurement | None, number: int | None, *, at: datetime | None, known: bool
) -> str:
    """Say in a few words what must be said before the visit can be saved; they stand on the button."""
    photo = measured and measured.wounds
    if photo and will_do is None:
        return "To save: say why this photo is kept"
    if photo and number is None:
        return "To save: say which wound it is"
    if at is None:
        return "To save: say when the visit was"
    return "" if known else "To save: say who you are"


def _trouble(wound: WoundEntry, measured: Measurement | None, found: Mapping[str, Any], note: str) -> str:
    """Say why there is nothing that could be saved, or what of it could not."""
    if troubles := troubles_of(wound.key):
        return f"Not saved yet. {' '.join(troubles)}"
    if not (found or note.strip() or (measured and measured.wounds)):
        return "Not saved: a visit holds a photo, a finding or a note, and there is none yet."
    return ""


def _tell(trouble: str) -> None:
    """Say why nothing was saved: at the button, and over the page for whoever has scrolled away."""
    st.error(plain(trouble), icon=":material/error:")
    st.toast(plain(trouble), icon=":material/error:", duration="long")


def _save(draft: VisitDraft, wound: WoundEntry, seen: int, measured: Measurement | None, number: int | None) -> None:
    try:
        with st.spinner("Saving ..."):
            whole = _with_photo(draft, measured, number)
            saved = record().save_visit(whole, seen=seen)
    except EbblineError as error:
        _tell(f"Not saved. {error}")
        return
    if measured and whole.photo and record().setting("convention") is None:
        record().set("convention", str(measured.convention), draft.by)  # the first one taken is the site's
    put_away()
    forget_when()
    forget_findings(wound.key)
    for begun in (_NOTE, _SEEN):
        st.session_state.pop(f"{begun}{wound.key}", None)
    remember_saved(wound, saved)
    st.rerun()


def _with_photo(draft: VisitDraft, measured: Measurement | None, number: int | None) -> VisitDraft:
    """Return the draft with the photo on the page; its file is in the record then."""
    photo = _photo_shown()
    if photo is None:
        return draft
    entry = record().put_photo(photo.data, photo.upload)
    if measured is None or number is None:
        return replace(draft, photo=entry)
    outlines, numbers = drawn(measured, number, draft.by)
    return replace(draft, photo=entry, outlines=outlines, measured=numbers)


def _photo_shown() -> Opened | None:
    """Return the photo on the page; None where there is none, or none that can be measured."""
    photo = kept_photo()
    return photo if photo and photo.prepared else None
