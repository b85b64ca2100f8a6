"""The page *Measure*: a photo, whether it will do, the outline to correct, the numbers."""

import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from calibration.errors import EbblineError
from measure.acceptance import MAX_REASON, ReasonError, accepted
from measure.budget import lead, parts
from measure.checks import Check
from measure.editing import MAX_BY, EditingError, usable_by
from measure.flags import Flag, told
from measure.geometry import Convention
from measure.overlay import draw_measurement, encoded
from measure.pages.bars import bars
from measure.pages.edited import Edited, edited, proposal
from measure.pages.opened import opened
from measure.pages.outline_editor import outline_editor
from measure.pages.photo_link import photo_links
from measure.pipeline import Measurement, Prepared, complete
from measure.report import document, rows, shown
from measure.wound import Wound

_CONVENTIONS = {
    Convention.LONGEST_PERPENDICULAR: "Longest length, width at right angles to it",
    Convention.HEAD_TO_TOE: "Head to toe, width from side to side",
}
_HEADS = {0: "Top of the photo", 90: "Right", 180: "Bottom", 270: "Left"}

_PLUS = '[data-testid="stFileUploader"] [data-testid="stBaseButton-borderlessIcon"]'
_URGENT = "background: #0b6e75; color: white; border-color: #0b6e75;"
"""Of the button that takes a photo again: white on the theme's own colour, a contrast of 6 to 1."""

_TYPES = ["image", "heic", "heif", "avif"]
"""``image`` lets a phone offer its camera; browsers that don't know the others by name need their endings."""

_PHOTO = "photo"
_FIRST = "Take a photo or choose one"
_AGAIN = "Take it again"
_ANOTHER = "Take or choose another photo"

_BY = "by"

_REASONS = ("No second photo was possible", "Best of several", "Sticker could not lie better")
_OTHER = "Other"
"""Why a photo is kept in spite of a failed check: what a nurse can tap without taking the gloves off."""

_TIPS = """
1. Clean the wound first. Lay the sticker beside it, on the same level; on a limb, smooth on the skin all over.
2. Hold the phone straight above, about 30 cm away, without zoom. Wound and whole sticker in the picture.
3. Let the light come from the side; no glare on the wound or the sticker.
"""


def show() -> None:
    """Draw the page: verdict, upload, numbers, step to take, in this order whatever is known first."""
    st.title("Measure a wound", anchor=False)
    verdict, chooser, result = st.container(), st.container(), st.container()
    upload = st.session_state.get(_PHOTO)  # known before the chooser is drawn, which stands below the verdict
    if upload is None:
        _choose(chooser, _FIRST)
        st.markdown(_TIPS)
        st.page_link("measure/pages/stickers.py", label="No sticker yet? Print some", icon=":material/print:")
        _caution()
        return
    with verdict:
        photo = opened(upload.file_id, upload.getvalue(), upload.name)
        if photo.prepared is None:
            st.error(photo.trouble, icon=":material/photo_camera:")
    if photo.prepared is None:
        _choose(chooser, _AGAIN)
        st.markdown(_TIPS)
        return
    _measured(photo.prepared, verdict, chooser, result)
    with st.expander("What was read from the photo"):
        st.image(photo.picture, width="stretch", alt="The photo with the sticker as found.")
        st.caption(_caption(photo.prepared))
    _caution()


def _choose(place: DeltaGenerator, label: str) -> None:
    """Draw the chooser; beside a photo it has but a small plus, of which the page makes a large button with words."""
    first = label == _FIRST
    place.file_uploader(
        label,
        type=_TYPES,
        key=_PHOTO,
        max_upload_size=200,
        help="Wound and sticker together." if first else None,
        label_visibility="visible" if first else "collapsed",
    )
    if not first:
        look = _URGENT if label == _AGAIN else ""
        place.html(f'<style>{_PLUS}::after {{ content: "{label}"; }} {_PLUS} {{ {look} }}</style>')


def _measured(prepared: Prepared, verdict: DeltaGenerator, chooser: DeltaGenerator, result: DeltaGenerator) -> None:
    """Measure a photo, and fill the places of the page with what is said about it."""
    convention, head_deg = _convention()
    drawn = edited(prepared)
    measurement, trouble = _measurement(drawn, convention, head_deg)
    checks = measurement.checks if measurement else prepared.checks
    with verdict:
        _verdict(prepared, checks, found=bool(drawn.wounds))
    _choose(chooser, _AGAIN if _failed(checks) else _ANOTHER)
    with result:
        _editor(drawn, measurement, trouble)
        if measurement:
            _result(measurement, drawn)
        else:
            st.error(trouble, icon=":material/error:")


def _measurement(drawn: Edited, convention: Convention, head_deg: float | None) -> tuple[Measurement | None, str]:
    """Measure what is drawn; where it can't be measured, say why."""
    try:
        editing = drawn.editing(st.session_state.get(_BY, ""))
        how: dict[str, Any] = {"convention": convention, "head_deg": head_deg, "editing": editing}
        return complete(drawn.prepared, drawn.outlines, **how), ""
    except EbblineError as error:
        return None, str(error)


def _editor(drawn: Edited, measurement: Measurement | None, trouble: str) -> None:
    """Show the photo with the outlines, to be corrected by a finger."""
    photo, wounds = drawn.prepared.photo, measurement.wounds if measurement else ()
    to_px = drawn.prepared.calibration.plane.to_px
    links = photo_links(photo)
    data = {
        "key": photo.sha256,
        "photo": links.preview,
        "full": links.full,
        "width": photo.width,
        "height": photo.height,
        "wounds": drawn.wounds,
        "proposal": proposal(drawn.prepared),
        "edits": drawn.edits,
        "rev": 1,
        "saved": drawn.seq,
        "numbers": [_line(wound, title) for wound, title in _titled(wounds)],
        "lines": [
            {"name": name, "ends": to_px(line).tolist()}
            for wound in wounds
            for name, line in (("L", wound.extents.length_line), ("W", wound.extents.width_line))
        ],
        "trouble": trouble,
        "reply": drawn.reply,
        "unsaved": _state(drawn) != drawn.filed,
    }
    outline_editor(f"outline-{photo.sha256}", data, drawn.take, drawn.answer)


def _state(drawn: Edited) -> tuple[int, str | None]:
    """Return what would be lost with the page: the last step, if anything is edited, and why the photo is kept."""
    reason = st.session_state.get(f"reason-{drawn.prepared.photo.sha256}")
    return drawn.seq if drawn.edits else 0, reason


def _line(wound: Wound, title: str) -> str:
    """Say the numbers of a wound in one line, to be read beside the finger."""
    named = dict(rows(wound))
    area, length, width = named["area"], named["length"], named["width"]
    said = f"{area.value:.2f} ± {area.expanded_uncertainty:.2f} cm², {length.value:.1f} x {width.value:.1f} cm"
    return f"{title}: {said}" if title else said


def _failed(checks: Iterable[Check]) -> list[Check]:
    return [check for check in checks if not check.ok]


def _verdict(prepared: Prepared, checks: Iterable[Check], *, found: bool) -> None:
    """Say at once whether the photo will do, and if not, what to do."""
    failed = _failed(checks)
    sentences = "\n\n".join(dict.fromkeys(check.sentence for check in failed))
    reason = st.session_state.get(f"reason-{prepared.photo.sha256}")
    if not prepared.calibration.stickers:
        said = "**No sticker found, but a ruler.** Lay a sticker beside the wound if you can."
        st.warning("\n\n".join(filter(None, (said, sentences))), icon=":material/warning:")
    elif failed and reason and reason != _OTHER:
        st.info(f"**Kept: {reason}.** Save it below the numbers.\n\n{sentences}", icon=":material/task_alt:")
    elif failed:
        said = f"**Take the photo again if you can.**\n\n{sentences}\n\nOr keep it, with a reason, below the numbers."
        st.warning(said, icon=":material/warning:")
    elif not found:
        st.warning(
            "**No wound was found.** Let it fill more of the picture, or take it again.", icon=":material/warning:"
        )
    else:
        tilt = prepared.calibration.plane.tilt_deg
        layout = prepared.calibration.stickers[0].layout.name
        said = f"Sticker found ({layout}). Tilt {tilt:.0f}°, corrected. Sharp and well lit."
        st.success(said, icon=":material/check_circle:")


def _convention() -> tuple[Convention, float | None]:
    """Ask how length and width are taken."""
    with st.expander("How length and width are taken"):
        convention = st.radio(
            "Use the one that your facility has chosen, always the same.",
            list(_CONVENTIONS),
            format_func=_CONVENTIONS.__getitem__,
            key="convention",
        )
        if convention is not Convention.HEAD_TO_TOE:
            return convention, None
        head = st.radio(
            "Where is the head? (On a foot: the heel.)",
            list(_HEADS),
            format_func=_HEADS.__getitem__,
            key="head",
            horizontal=True,
        )
        return convention, float(head)


def _result(measurement: Measurement, drawn: Edited) -> None:
    for wound, title in _titled(measurement.wounds):
        _large_numbers(wound, title)
    _look_twice(told(measurement.flags))
    if measurement.wounds and (not drawn.edits or _named()):
        kept = _kept(measurement)
        if kept is not None:
            _downloads(kept, drawn)
    for wound, title in _titled(measurement.wounds):
        _details(wound, title)


def _named() -> bool:
    """Ask once in a session who edits; edits are saved with it."""
    by = st.session_state.get(_BY, "")
    if by:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(f"Outline edited by **{_plain(by)}**.")
            if st.button("Someone else"):
                st.session_state.pop(_BY)
                st.rerun()
        return True
    with st.form("who", border=True):
        said = st.text_input("Your initials or staff code, no name", max_chars=MAX_BY, key="who-edits")
        pressed = st.form_submit_button("Save with these initials", type="primary", width="stretch")
    if pressed:
        try:
            st.session_state[_BY] = usable_by(said)
        except EditingError as error:
            st.error(str(error), icon=":material/error:")
        else:
            st.rerun()
    return False


def _plain(text: str) -> str:
    """Return text that means nothing to Markdown."""
    return "".join(f"\\{sign}" if not sign.isalnum() and sign != " " else sign for sign in text)


def _titled(wounds: tuple[Wound, ...]) -> list[tuple[Wound, str]]:
    """Return each wound with its title: its number where there are several."""
    return [(wound, f"Wound {number}" if len(wounds) > 1 else "") for number, wound in enumerate(wounds, 1)]


def _kept(measurement: Measurement) -> Measurement | None:
    """Return what may be saved: a good photo at once, any other once a person says why it is kept."""
    failed = _failed(measurement.checks)
    if not failed:
        return measurement
    with st.container(border=True):
        st.subheader("Take it again, or keep it all the same?", anchor=False)
        reason = _reason(measurement.prepared.photo.sha256)
        try:
            acceptance = None if reason is None else accepted(reason, failed)
        except ReasonError as error:
            st.error(str(error), icon=":material/error:")
            return None
        if acceptance is None:
            return None
        st.markdown("Kept. The reason is saved with the numbers.")
    return replace(measurement, acceptance=acceptance)


def _reason(photo: str) -> str | None:
    """Ask why a photo is kept; what is answered belongs to this photo and to no other."""
    chosen = st.pills("Why is this photo kept?", [*_REASONS, _OTHER], key=f"reason-{photo}", width="stretch")
    if chosen != _OTHER:
        return chosen
    with st.form(f"other-{photo}", border=False):
        said = st.text_input("In a few words", max_chars=MAX_REASON, key=f"words-{photo}")
        pressed = st.form_submit_button("Keep it for this reason", type="primary", width="stretch")
    return said if said or pressed else None


def _caption(prepared: Prepared) -> str:
    calibration = prepared.calibration
    said = "White line: ruler. " if calibration.ruler else "White line: sticker, dots: points read from it. "
    return said + ("Crosses: points left out." if len(calibration.plane.rejected_px) else "")


def _large_numbers(wound: Wound, title: str) -> None:
    """Show the two numbers that charts ask for."""
    if title:
        st.subheader(title, anchor=False)
    named = dict(rows(wound))
    area, length, width = named["area"], named["length"], named["width"]
    extents = f"± {length.expanded_uncertainty:.1f} and {width.expanded_uncertainty:.1f} cm (k = 2)"
    left, right = st.columns(2)
    _card(left, "Area", f"{area.value:.2f} cm²", f"± {area.expanded_uncertainty:.2f} cm² (k = 2)")
    _card(right, "Length x width", f"{length.value:.1f} x {width.value:.1f} cm", extents)


def _card(column: DeltaGenerator, label: str, value: str, interval: str) -> None:
    column.metric(label, value, interval, delta_color="off", delta_arrow="off", border=True)


def _typeset(text: str) -> str:
    return text.replace("+-", "±").replace("cm2", "cm²")


def _look_twice(flags: list[Flag]) -> None:
    if flags:
        st.markdown("**Look twice**\n" + "".join(f"\n- {flag.sentence}" for flag in flags))


def _details(wound: Wound, title: str) -> None:
    """Show every number with its uncertainty, and what the uncertainty of the area is made of."""
    if title:
        st.subheader(title, anchor=False)
    st.table({name.capitalize(): _typeset(shown(quantity)) for name, quantity in rows(wound)})
    found = parts(wound.area)
    if not found:
        return
    st.markdown(f"**{lead(found)}** {found[0].remedy}")
    st.html(bars(found, "What the uncertainty of the area is made of"))
    st.caption("Each cause's share of the area's uncertainty (of its variance); together 100 %.")


def _downloads(measurement: Measurement, drawn: Edited) -> None:
    name = f"ebbline-{measurement.prepared.photo.sha256[:8]}"
    text = json.dumps(document(measurement), indent=2, allow_nan=False)
    state = _state(drawn)

    def filed() -> None:
        drawn.filed = state

    def picture() -> bytes:
        return encoded(draw_measurement(measurement), ".jpg")

    left, right = st.columns(2)
    how: dict[str, Any] = {"width": "stretch"}
    left.download_button(
        "Save numbers (JSON)", text, f"{name}.json", "application/json", type="primary", on_click=filed, **how
    )
    right.download_button("Save picture", picture, f"{name}.jpg", "image/jpeg", on_click="ignore", **how)


def _caution() -> None:
    st.caption(
        "For documentation; it does not diagnose. Spreading redness, fever, new or severe pain, exposed bone, or a "
        "cold, pale or numb foot: contact the provider now, as your facility's policy says."
    )


show()
