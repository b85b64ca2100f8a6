"""A photo on a page: whether it will do, the outline to correct, the numbers; what comes of them is up to the page."""

from collections.abc import Callable, Iterable
from typing import TypeAlias

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from measure.by_network import open_network
from measure.checks import Check
from measure.flags import Flag, told
from measure.geometry import Convention
from measure.pages.by_eye import ask_by_eye, by_eye_of, follow_wounds
from measure.pages.correction import Said, correct, measured, remembered
from measure.pages.edited import Edited, edited
from measure.pages.numbers import details, large_numbers, titled
from measure.pages.opened import forget, kept, opened
from measure.pages.plain import plain
from measure.pages.saving import ask_whether_checked, chosen_reason, forget_outdated_reason, is_checked
from measure.pages.surroundings import compares_skin, culture_ordered, culture_section, skin_section
from measure.pages.tissue import Tissue, tissue_of
from measure.pages.tissue_numbers import tissue_section
from measure.pages.who import editor
from measure.pipeline import Measurement, Prepared

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
_CHOOSERS = "photos-finished"
_ABOVE = "chooser-above"
_FIRST = "Take a photo or choose one"
_AGAIN = "Take it again"
_ANOTHER = "Take or choose another photo"
_LOST = "The connection was lost: choose the photo again"

Finish: TypeAlias = Callable[[Measurement, Edited, Callable[[], Measurement | None]], None]
"""What a page does with a measured photo: the measurement, what is drawn, and how to measure what is drawn by then."""

_TIPS = """
1. Clean the wound first. Lay the sticker beside it, on the same level; on a limb, smooth on the skin all over.
2. Hold the phone straight above, about 30 cm away, without zoom. Wound and whole sticker in the picture.
3. Let the light come from the side; no glare on the wound or the sticker.
"""


def measure_photo(finish: Finish, *, brief: bool = False, chooser: bool = True) -> Measurement | None:
    """Draw a photo's part of a page: verdict, what to do next, numbers, in this order whatever is known first.

    Next is another photo where this one will not do, so that the chooser stands below the verdict; where it will, the
    outline is next, and the chooser stands at the end. Without a photo it stays where it last was: it empties itself
    before it sends the next photo, and a chooser that moves while it sends loses what it sends.

    Parameters
    ----------
    finish : callable
        Draws what comes of the numbers.
    brief : bool
        Whether all but the large numbers is folded away.
    chooser : bool
        Whether another photo may be taken.

    Returns
    -------
    Measurement or None
        None where there is no photo that can be measured.
    """
    verdict, above, result, below = st.container(), st.container(), st.container(), st.container()
    upload = st.session_state.get(_key())  # known before the chooser is drawn
    with verdict:
        photo = opened(upload.file_id, upload.getvalue(), upload.name) if upload else kept()
        if photo and photo.prepared is None:
            st.error(plain(photo.trouble), icon=":material/photo_camera:")
    if photo is None or photo.prepared is None:
        _choose(above if st.session_state.get(_ABOVE) else below, _AGAIN if photo else _FIRST)
        st.markdown(_TIPS)
        return None
    measurement, failed = _measured(photo.prepared, verdict, result, finish, brief=brief)
    if chooser:
        st.session_state[_ABOVE] = failed
        _choose(*((above, _AGAIN) if failed else (below, _ANOTHER)))
    with st.expander("What was read from the photo"):
        st.image(photo.picture, width="stretch", alt="The photo with the sticker as found.")
        st.caption(_caption(photo.prepared))
    return measurement


def put_away() -> None:
    """Finish with the photo: the next run of a page begins without one."""
    forget()
    st.session_state[_CHOOSERS] = st.session_state.get(_CHOOSERS, 0) + 1


def _key() -> str:
    """Return the chooser's key; a chooser can't be emptied, so each finished photo is followed by a new one."""
    finished = st.session_state.get(_CHOOSERS, 0)
    return f"{_PHOTO}-{finished}" if finished else _PHOTO


def _choose(place: DeltaGenerator, label: str) -> None:
    """Draw the chooser; beside a photo it has but a small plus, of which the page makes a large button with words."""
    first = label == _FIRST
    place.file_uploader(
        label,
        type=_TYPES,
        key=_key(),
        max_upload_size=200,
        on_change=forget,
        help="Wound and sticker together." if first else None,
        label_visibility="visible" if first or not st.session_state.get(_key()) else "collapsed",
    )
    look = _URGENT if label == _AGAIN else ""
    words = _LOST if first else label  # at first there is no button to label, unless the connection was lost
    place.html(f'<style>{_PLUS}::after {{ content: "{words}"; }} {_PLUS} {{ {look} }}</style>')


def _measured(
    prepared: Prepared, verdict: DeltaGenerator, result: DeltaGenerator, finish: Finish, *, brief: bool
) -> tuple[Measurement | None, bool]:
    """Measure a photo, fill the places of the page with what is said about it, and tell whether a check failed."""
    convention, head_deg = _convention()
    drawn = edited(prepared)
    photo = prepared.photo.sha256
    skin = compares_skin(photo) or drawn.control is not None
    follow_wounds(photo, [wound["outline"] for wound in drawn.wounds])
    estimates = by_eye_of(photo, len(drawn.wounds))
    said = Said(convention, head_deg, editor(), is_checked(photo), skin, culture_ordered(photo), estimates)
    measurement, trouble = remembered(prepared, drawn, said)
    checks = measurement.checks if measurement else prepared.checks
    forget_outdated_reason(photo, checks)
    with verdict:
        _verdict(prepared, checks, drawn)
    with result:
        wounds, tissue = (measurement.wounds, tissue_of(measurement)) if measurement else ((), None)
        correct(prepared, drawn, wounds, trouble, tissue, culture=said.culture)
        if measurement:
            _numbers(measurement, drawn, tissue, brief=brief)
            finish(measurement, drawn, lambda: measured(prepared, drawn, said)[0])
            _details(measurement, brief=brief)
        else:
            st.error(trouble, icon=":material/error:")
    return measurement, any(not check.ok for check in checks)


def _numbers(measurement: Measurement, drawn: Edited, tissue: Tissue | None, *, brief: bool) -> None:
    ask_whether_checked(measurement)
    for wound, title in titled(measurement.wounds):
        large_numbers(wound, title)
    if tissue:
        with st.expander("Tissue, skin around it, swab") if brief else st.container():
            _tissue(measurement, drawn, tissue)
    _look_twice([flag for flag in told(measurement.flags) if not (tissue and flag.sentence == tissue.trouble)])


def _details(measurement: Measurement, *, brief: bool) -> None:
    place = st.expander("All numbers of this photo") if brief and measurement.wounds else st.container()
    with place:
        for wound, title in titled(measurement.wounds):
            details(wound, title)


def _tissue(measurement: Measurement, drawn: Edited, tissue: Tissue) -> None:
    """Show what each wound is made of and what the skin round it is like, and ask what a person sees."""
    photo, several = measurement.prepared.photo.sha256, titled(measurement.wounds)
    if tissue.trouble:
        st.subheader("Tissue", anchor=False)
        st.markdown(tissue.trouble)
    estimates = measurement.notes.by_eye
    for number, (_, title) in enumerate(several):
        if number < len(tissue.shares):
            by_hand = sum(region.by_hand for region in tissue.regions[number])
            tissue_section(tissue.shares[number], title, by_hand, estimates[number])
        ask_by_eye(photo, number, title)
    if not tissue.trouble and several:
        skin_section(photo, tissue, [title for _, title in several], by_hand=drawn.control is not None)
        culture_section(photo, tissue, [title for _, title in several])


def _look_twice(flags: list[Flag]) -> None:
    if flags:
        st.markdown("**Look twice**\n" + "".join(f"\n- {flag.sentence}" for flag in flags))


def _verdict(prepared: Prepared, checks: Iterable[Check], drawn: Edited) -> None:
    """Say at once whether the photo will do, and if not, what to do."""
    failed = [check for check in checks if not check.ok]
    sentences = "\n\n".join(dict.fromkeys(check.sentence for check in failed))
    reason = chosen_reason(prepared.photo.sha256)
    if not prepared.calibration.stickers:
        said = "**No sticker found, but a ruler.** Lay a sticker beside the wound if you can."
        st.warning("\n\n".join(filter(None, (said, sentences))), icon=":material/warning:")
    elif failed and reason:
        st.info(f"**Kept: {plain(reason)}.** Save it below the numbers.\n\n{sentences}", icon=":material/task_alt:")
    elif failed:
        said = f"**Take the photo again if you can.**\n\n{sentences}\n\nOr keep it, with a reason, below the numbers."
        st.warning(said, icon=":material/warning:")
    elif not drawn.wounds and drawn.edits:
        st.warning(
            "**No wound is drawn any more.** Draw its edge on the photo, or tap Undo.", icon=":material/warning:"
        )
    elif not drawn.wounds:
        st.warning(
            "**No wound was found.** Draw its edge on the photo, or take the photo again.", icon=":material/warning:"
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
        return convention, ask_head("head")


def ask_head(key: str, *, ahead: bool = True) -> float | None:
    """Ask where the head is in the photo; return its direction in degrees clockwise from the top.

    Parameters
    ----------
    key : str
        Of the answer.
    ahead : bool
        Whether the top of the photo is taken until a person answers; else None is returned.
    """
    head = st.radio(
        "Where is the head? (On a foot: the heel.)",
        list(_HEADS),
        index=0 if ahead else None,
        format_func=_HEADS.__getitem__,
        key=key,
        horizontal=True,
    )
    return None if head is None else float(head)


def _caption(prepared: Prepared) -> str:
    calibration = prepared.calibration
    said = ["White line: ruler." if calibration.ruler else "White line: sticker, dots: points read from it."]
    if len(calibration.plane.rejected_px):
        said.append("Crosses: points left out.")
    said.append(f"Outline proposed by: {prepared.method}.")
    if prepared.method == open_network().name:
        said.append("Its weights are under CC BY-NC 4.0, not for commercial use.")
    return " ".join(said)
