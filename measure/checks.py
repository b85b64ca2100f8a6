"""Is this photo good enough to measure? One function a check; each has one limit and the reason for it."""

from dataclasses import dataclass

MAX_TILT_DEG = 30.0
"""The accuracy figures were measured up to this tilt; far beyond it the far edge of a wound has few pixels."""

MAX_MM_PER_PX = 0.25
"""A wound edge is drawn to about 0.2 mm at best; coarser pixels would decide the number instead of the person."""

MIN_SHARE_SEEN = 0.7
"""A sticker of which less can be read is covered, dirty or in glare; the plane follows from what is left of it."""


@dataclass(frozen=True)
class Check:
    """The outcome of one check: its value against its limit, and what to do in one sentence."""

    name: str
    ok: bool
    value: float
    limit: float
    sentence: str


def check_tilt(tilt_deg: float) -> Check:
    """Check that the camera looked straight enough at the wound."""
    ok = tilt_deg <= MAX_TILT_DEG
    sentence = (
        f"The camera was tilted by {tilt_deg:.0f} degrees: fine, the tilt is corrected."
        if ok
        else f"The camera was tilted by {tilt_deg:.0f} degrees: hold it straight above the wound and take it again."
    )
    return Check("tilt", ok, tilt_deg, MAX_TILT_DEG, sentence)


def check_distance(mm_per_px: float) -> Check:
    """Check that the camera was close enough: millimetres a pixel at the wound."""
    ok = mm_per_px <= MAX_MM_PER_PX
    sentence = (
        f"One pixel covers {mm_per_px:.2f} mm at the wound: close enough."
        if ok
        else f"One pixel covers {mm_per_px:.2f} mm at the wound: move closer, or use the photo in full size."
    )
    return Check("distance", ok, mm_per_px, MAX_MM_PER_PX, sentence)


def check_sticker(share_seen: float, *, cut_off: bool) -> Check:
    """Check that the whole sticker could be read; ``share_seen`` is the share of its saddle points."""
    ok = share_seen >= MIN_SHARE_SEEN and not cut_off
    percent = f"{100 * share_seen:.0f} %"
    if ok:
        sentence = f"The sticker was found, {percent} of it readable."
    elif cut_off:
        sentence = "Part of the sticker is outside the photo: step back or move it, and take it again."
    else:
        sentence = f"Only {percent} of the sticker can be read: uncover it or avoid glare, and take it again."
    return Check("sticker", ok, share_seen, MIN_SHARE_SEEN, sentence)
