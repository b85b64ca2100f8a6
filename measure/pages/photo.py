"""The page *Measure*: a photo, whether it will do, the proposed outline, the numbers."""

import hashlib
import json
from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from calibration.errors import EbblineError
from measure.flags import Flag
from measure.geometry import Convention
from measure.overlay import draw_measurement, draw_prepared, encoded
from measure.photo import read_photo
from measure.pipeline import Measurement, Prepared, complete, prepare
from measure.report import document, rows, shown
from measure.wound import Wound

_CONVENTIONS = {
    Convention.LONGEST_PERPENDICULAR: "Longest length, width at right angles to it",
    Convention.HEAD_TO_TOE: "Head to toe, width from side to side",
}
_HEADS = {0: "Top of the photo", 90: "Right", 180: "Bottom", 270: "Left"}

_TYPES = ["image", "heic", "heif", "avif"]
"""``image`` lets a phone offer its camera; browsers that don't know the others by name need their endings."""

_TIPS = """
1. Clean the wound first. Lay the sticker flat beside it, on the same level, not over the edge.
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
    """Draw the page."""
    st.title("Measure a wound", anchor=False)
    upload = st.file_uploader(
        "Take a photo or choose one", type=_TYPES, key="photo", max_upload_size=200, help="Wound and sticker together."
    )
    if upload is None:
        st.markdown(_TIPS)
        st.page_link("measure/pages/stickers.py", label="No sticker yet? Print some", icon=":material/print:")
        _caution()
        return
    opened = _open(upload.getvalue(), upload.name)
    if opened.prepared is None:
        st.error(opened.trouble, icon=":material/photo_camera:")
        st.markdown(_TIPS)
        return
    _verdict(opened.prepared)
    above = st.container()
    convention, head_deg = _convention()
    with above:
        try:
            _result(complete(opened.prepared, convention=convention, head_deg=head_deg))
        except EbblineError as error:
            st.error(str(error), icon=":material/error:")
            st.image(draw_prepared(opened.prepared), width="stretch", alt="The photo with the sticker that was found.")
    _caution()


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


def _verdict(prepared: Prepared) -> None:
    """Say at once whether the photo will do."""
    failed = [check.sentence for check in prepared.checks if not check.ok]
    if not prepared.calibration.stickers:
        st.warning(
            "No sticker found, but a ruler. Lay a sticker beside the wound if you can.", icon=":material/warning:"
        )
        return
    layout = prepared.calibration.stickers[0].layout.name
    if failed:
        st.warning("Take the photo again if you can.\n\n" + "\n\n".join(failed), icon=":material/warning:")
    else:
        tilt = prepared.calibration.plane.tilt_deg
        found = f"Sticker found ({layout}). Tilt {tilt:.0f}°, corrected. Sharp and well lit."
        st.success(found, icon=":material/check_circle:")


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
    for number, wound in enumerate(measurement.wounds, 1):
        _large_numbers(wound, f"Wound {number}" if len(measurement.wounds) > 1 else "")
    failed = [check.sentence for check in measurement.checks[len(measurement.prepared.checks) :] if not check.ok]
    _look_twice(failed, measurement.flags)
    for wound in measurement.wounds:
        st.table({name.capitalize(): _typeset(shown(quantity)) for name, quantity in rows(wound)})
    _downloads(measurement, encoded(draw_measurement(measurement), ".jpg"))


def _caption(measurement: Measurement) -> str:
    found = "Blue: wound edge as proposed. L: length. W: width. " if measurement.wounds else ""
    return found + "White: sticker or ruler, and the points read from a sticker."


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


def _look_twice(failed: list[str], flags: tuple[Flag, ...]) -> None:
    sentences = [*failed, *(flag.sentence for flag in flags)]
    if sentences:
        st.markdown("**Look twice**\n" + "".join(f"\n- {sentence}" for sentence in sentences))


def _downloads(measurement: Measurement, picture: bytes) -> None:
    name = f"ebbline-{measurement.prepared.photo.sha256[:8]}"
    text = json.dumps(document(measurement), indent=2, allow_nan=False)
    left, right = st.columns(2)
    left.download_button(
        "Save numbers (JSON)", text, f"{name}.json", "application/json", on_click="ignore", width="stretch"
    )
    right.download_button("Save picture", picture, f"{name}.jpg", "image/jpeg", on_click="ignore", width="stretch")


def _caution() -> None:
    st.caption(
        "For documentation; it does not diagnose. Spreading redness, fever, new or severe pain, exposed bone, or a "
        "cold, pale or numb foot: contact the provider now, as your facility's policy says."
    )


show()
