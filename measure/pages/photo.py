"""The page *Measure*: a photo, whether it will do, the proposed outline, the numbers."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from calibration.errors import EbblineError
from measure.acceptance import MAX_REASON, ReasonError, accepted
from measure.budget import lead, parts
from measure.checks import Check
from measure.flags import Flag, told
from measure.geometry import Convention
from measure.overlay import draw_measurement, draw_prepared, encoded
from measure.pages.bars import bars
from measure.photo import read_photo
from measure.pipeline import Measurement, Prepared, complete, prepare
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

_REASONS = ("No second photo was possible", "Best of several", "Sticker could not lie better")
_OTHER = "Other"
"""Why a photo is kept in spite of a failed check: what a nurse can tap without taking the gloves off."""

_TIPS = """
1. Clean the wound first. Lay the sticker beside it, on the same level; on a limb, smooth on the skin all over.
2. Hold the phone straight above, about 30 cm away, without zoom. Wound and whole sticker in the picture.
3. Let the light come from the side; no glare on the wound or the sticker.
"""


@dataclass(frozen=True)
class _Opened:
    """A photo that was prepared, or the sentence that says why it could not be."""

    digest: str
    prepared: Prepared | None
    trouble: str


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
        opened = _open(upload.getvalue(), upload.name)
        if opened.prepared is None:
            st.error(opened.trouble, icon=":material/photo_camera:")
    if opened.prepared is None:
        _choose(chooser, _AGAIN)
        st.markdown(_TIPS)
        return
    _measured(opened.prepared, verdict, chooser, result)
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
    try:
        measurement = complete(prepared, convention=convention, head_deg=head_deg)
    except EbblineError as error:
        with verdict:
            _verdict(prepared, prepared.checks, found=True)
        _choose(chooser, _AGAIN)
        with result:
            st.error(str(error), icon=":material/error:")
            st.image(draw_prepared(prepared), width="stretch", alt="The photo with the sticker that was found.")
        return
    with verdict:
        _verdict(prepared, measurement.checks, found=bool(measurement.wounds))
    _choose(chooser, _AGAIN if _failed(measurement.checks) else _ANOTHER)
    with result:
        _result(measurement)


def _open(data: bytes, name: str) -> _Opened:
    """Prepare a photo once; the session keeps the last one, for this person only."""
    digest = hashlib.sha256(data).hexdigest()
    kept = st.session_state.get("opened")
    if isinstance(kept, _Opened) and kept.digest == digest:
        return kept
    st.session_state.pop("opened", None)
    with st.spinner("Looking for the sticker and the wound ..."):
        try:
            opened = _Opened(digest, prepare(read_photo(data, name)), "")
        except EbblineError as error:
            opened = _Opened(digest, None, str(error))
    st.session_state["opened"] = opened
    return opened


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


def _result(measurement: Measurement) -> None:
    picture = draw_measurement(measurement, close=True)
    st.image(picture, caption=_caption(measurement), width="stretch", alt="The photo with what was found drawn on it.")
    for wound, title in _titled(measurement.wounds):
        _large_numbers(wound, title)
    _look_twice(told(measurement.flags))
    kept = _kept(measurement) if measurement.wounds else None
    if kept is not None:
        _downloads(kept, encoded(draw_measurement(kept), ".jpg"))
    for wound, title in _titled(measurement.wounds):
        _details(wound, title)


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


def _caption(measurement: Measurement) -> str:
    calibration = measurement.prepared.calibration
    said = "Light blue line: wound edge as proposed. L: length. W: width. " if measurement.wounds else ""
    said += "White line: ruler. " if calibration.ruler else "White line: sticker, dots: points read from it. "
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


def _downloads(measurement: Measurement, picture: bytes) -> None:
    name = f"ebbline-{measurement.prepared.photo.sha256[:8]}"
    text = json.dumps(document(measurement), indent=2, allow_nan=False)
    left, right = st.columns(2)
    how: dict[str, Any] = {"on_click": "ignore", "width": "stretch"}
    left.download_button("Save numbers (JSON)", text, f"{name}.json", "application/json", type="primary", **how)
    right.download_button("Save picture", picture, f"{name}.jpg", "image/jpeg", **how)


def _caution() -> None:
    st.caption(
        "For documentation; it does not diagnose. Spreading redness, fever, new or severe pain, exposed bone, or a "
        "cold, pale or numb foot: contact the provider now, as your facility's policy says."
    )


show()
