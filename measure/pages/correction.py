"""The outline editor with what it has to know of a photo and its numbers."""

from dataclasses import dataclass
from functools import partial
from typing import Any

import streamlit as st

from calibration.errors import EbblineError
from measure.by_eye import ByEye
from measure.geometry import Convention
from measure.pages.edited import Edited, proposal
from measure.pages.numbers import in_a_line, titled
from measure.pages.opened import MEASURED
from measure.pages.outline_editor import outline_editor
from measure.pages.photo_link import photo_links
from measure.pages.saving import unsaved
from measure.pages.tissue import Tissue, heard, looks, shown_in_editor
from measure.pipeline import Measurement, Prepared, complete
from measure.wound import Wound


@dataclass(frozen=True)
class Said:
    """What a person said on the page that numbers depend on, beside the outline.

    Attributes
    ----------
    convention : Convention
    head_deg : float, optional
        Direction of the head in the photo.
    by : str
        Initials or staff code; empty until they are given.
    checked : bool
        Whether the whole outline is said to be right.
    skin : bool
        Whether the skin round the wounds is to be compared.
    culture : bool
        Whether a culture is ordered.
    by_eye : tuple of ByEye or None
        What the person sees of each wound's tissue.
    """

    convention: Convention
    head_deg: float | None
    by: str
    checked: bool
    skin: bool = False
    culture: bool = False
    by_eye: tuple[ByEye | None, ...] = ()


def measured(prepared: Prepared, drawn: Edited, said: Said) -> tuple[Measurement | None, str]:
    """Measure what is drawn; where it can't be measured, say why instead."""
    try:
        editing = drawn.editing(said.by, prepared, checked=said.checked)
        how: dict[str, Any] = {"convention": said.convention, "head_deg": said.head_deg, "editing": editing}
        how |= {"notes": heard(drawn, said.by, said.by_eye), "skin": said.skin, "culture": said.culture}
        return complete(prepared, drawn.outlines(checked=said.checked), **how), ""
    except EbblineError as error:
        return None, str(error)


def remembered(prepared: Prepared, drawn: Edited, said: Said) -> tuple[Measurement | None, str]:
    """Measure what is drawn, or return what the last run of the page measured where nothing has changed since."""
    asked = (prepared.photo.sha256, drawn.seq, said)
    held = st.session_state.get(MEASURED)
    if held is None or held[0] != asked:
        held = st.session_state[MEASURED] = (asked, measured(prepared, drawn, said))
    answer: tuple[Measurement | None, str] = held[1]
    return answer


def correct(  # noqa: PLR0913 - all that is drawn over the photo
    prepared: Prepared,
    drawn: Edited,
    wounds: tuple[Wound, ...],
    trouble: str,
    tissue: Tissue | None = None,
    *,
    culture: bool = False,
) -> None:
    """Show the photo with outlines and tissue, to be corrected by a finger, and the numbers of the wounds measured."""
    photo = prepared.photo
    data = {
        **_begun(prepared, drawn, photo.sha256),
        "looks": looks(),
        "tissue": shown_in_editor(tissue, culture=culture),
        "numbers": [in_a_line(wound, title) for wound, title in titled(wounds)],
        "lines": [line for wound in wounds for line in _lines(wound, prepared)],
        "trouble": trouble,
        "unsaved": unsaved(photo.sha256, drawn),
    }
    outline_editor(f"outline-{photo.sha256}", data, drawn.take, partial(drawn.answer, photo))


def trace(prepared: Prepared, drawn: Edited, key: str) -> None:
    """Show the photo with what is drawn on it and nothing else: no numbers, no tissue, nothing of another end.

    Parameters
    ----------
    prepared : Prepared
    drawn : Edited
    key : str
        As of `measure.pages.edited.edited`.
    """
    nothing: dict[str, Any] = {"looks": [], "tissue": None, "numbers": [], "lines": [], "trouble": ""}
    data = {**_begun(prepared, drawn, key), **nothing, "unsaved": False, "next": True}
    outline_editor(f"outline-{key}", data, drawn.take, partial(drawn.answer, prepared.photo))


def _begun(prepared: Prepared, drawn: Edited, key: str) -> dict[str, Any]:
    """Return what the editor has to know of the photo, and of what is drawn on it."""
    photo, links = prepared.photo, photo_links(prepared.photo)
    return {
        "key": key,
        "photo": links.preview,
        "full": links.full,
        "width": photo.width,
        "height": photo.height,
        "wounds": drawn.wounds,
        "proposal": proposal(prepared),
        "edits": drawn.edits,
        "taps": drawn.taps,
        "control": drawn.control,
        "rev": 1,
        "saved": drawn.seq,
        "reply": drawn.reply,
    }


def _lines(wound: Wound, prepared: Prepared) -> list[dict[str, Any]]:
    """Return where length and width were taken, in photo px."""
    named = {"L": wound.extents.length_line, "W": wound.extents.width_line}
    to_px = prepared.calibration.plane.to_px
    return [{"name": name, "ends": to_px(line).tolist()} for name, line in named.items()]
