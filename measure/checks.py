"""Is this photo good enough to measure? One function a check; each has one limit and the reason for it."""

import math
from dataclasses import dataclass

MAX_TILT_DEG = 30.0
"""The accuracy figures were measured up to this tilt; far beyond it the far edge of a wound has few pixels."""

MAX_MM_PER_PX = 0.25
"""A wound edge is drawn to about 0.2 mm at best; coarser pixels would decide the number instead of the person."""

MIN_SHARE_SEEN = 0.7
"""A sticker of which less can be read is covered, dirty or in glare; the plane follows from what is left of it."""

MAX_EDGE_MM = 0.9
"""Where an edge rises from black to white over this width, a line can be placed within a quarter of it on either side
(an estimate; no published figure), which is the 0.2 mm to which a wound edge is drawn at best. A 12-megapixel photo
with a blur of 2 px stays below it as far away as 45 cm."""

MAX_SMEAR_MM = 0.9
"""A smear of this length makes edges 0.7 mm wide, from 10 to 90 %, and the blur of the lens comes on top; see
`MAX_EDGE_MM`."""

MIN_PAPER_LIGHT = 0.15
"""Of the most that the photo can hold. Necrosis and dark skin reflect a twentieth of what paper does: below this they
share the lowest 21 of 255 steps, where noise and compression hide an edge."""

MAX_GREY_LIGHT = 0.97
"""Of the most that the photo can hold, encoded as 251 of 255. The lightest grey of a sticker is as light as the palest
skin: once it is clipped, so are skin and slough. White paper alone may be clipped."""

MAX_GLARE_SHARE = 0.02
"""Glare hides tissue and edge. The glints of a moist wound cover less: under 1 % in 98 % of 467 photographs of foot
ulcers, within their traced outlines. So more comes from a lamp or a flash."""

MIN_FRAME_MM = 2.0
"""An edge is seen by the skin beside it, and the search for outlines has pixels of half a millimetre, smoothed."""

MAX_STICKER_MM = 30.0
"""On a lower leg of 60 mm radius, skin 30 mm farther round lies 7 mm lower and turned by 29 degrees; that is 5 % of an
area seen from 30 cm. Errors of the lens and of the tilt grow with the distance too."""

MAX_PRINT_MISFIT = 0.01
"""Relative. The sheet asks to throw away prints more than 0.5 % off; twice that is 2 % of an area."""

MAX_ROUGHNESS_MM = 0.1
"""Twice the root-mean-square by which a sticker's points miss plane or limb: half of how exactly an edge is drawn."""

MAX_TURN_DEG = 40.0
"""Skin that has turned by more from the sticker's middle is seen at a slant, and no limb is a cylinder that far."""


@dataclass(frozen=True)
class Check:
    """The outcome of one check: its value against its limit, and what to do in one sentence."""

    name: str
    ok: bool
    value: float
    limit: float
    sentence: str


def _untold(name: str, limit: float) -> Check:
    sentence = (
        "Too little of the sticker can be read to tell: uncover it, bring it all into a well-lit photo, and try again."
    )
    return Check(name, ok=False, value=math.nan, limit=limit, sentence=sentence)


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
        else f"The camera was too far away, one pixel covers {mm_per_px:.3f} mm: move closer, or use the full photo."
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
        sentence = (
            f"Only {percent} of the sticker can be read: uncover it, avoid glare, or lay it along a limb rather than "
            "round it, and take it again."
        )
    return Check("sticker", ok, share_seen, MIN_SHARE_SEEN, sentence)


def check_print_scale(misfit: float, *, against_another: bool = False) -> Check:
    """Check the sticker's print: how much it is stretched in one direction, or two stickers differ in size, relative.

    A print that is too large in both directions can't be seen in a photo.
    """
    ok = misfit <= MAX_PRINT_MISFIT
    percent = f"{100 * misfit:.1f} %"
    if ok:
        sentence = "The sticker's print is as wide as it is high, as far as a photo tells."
    elif against_another:
        sentence = (
            f"Two stickers differ in size by {percent}: lay them on the same level; if they were, check both lines on "
            "their sheets with a ruler, and take the photo again."
        )
    else:
        sentence = (
            f"The sticker's print is stretched by {percent} in one direction: check both lines on its sheet, "
            "print it again at 100 %, and take the photo again."
        )
    return Check("print-scale", ok, misfit, MAX_PRINT_MISFIT, sentence)


def check_flatness(off_mm: float) -> Check:
    """Check that the sticker lies smooth: twice the root-mean-square by which its points miss plane or limb, in mm."""
    ok = off_mm <= MAX_ROUGHNESS_MM
    sentence = (
        "The sticker lies smooth."
        if ok
        else f"The sticker does not lie smooth: its points are off by up to {off_mm:.1f} mm. "
        "Press it down or smooth it, and take the photo again."
    )
    return Check("sticker-flat", ok, off_mm, MAX_ROUGHNESS_MM, sentence)


def check_sticker_plane(turn_deg: float) -> Check:
    """Check that the wound lies about level with the sticker: by how much a limb turns from its middle to the wound."""
    ok = turn_deg <= MAX_TURN_DEG
    degrees = f"{turn_deg:.0f} degrees"
    sentence = (
        f"Between sticker and wound the skin turns by {degrees}: little enough."
        if ok
        else f"Between sticker and wound the skin turns by {degrees}: lay the sticker closer, along the limb rather "
        "than round it, and take the photo again."
    )
    return Check("sticker-plane", ok, turn_deg, MAX_TURN_DEG, sentence)


def check_sharpness(edge_mm: float) -> Check:
    """Check the focus beside the wound: the width of the sticker's edges there, from 10 to 90 %, in mm.

    A wound that lies nearer to the camera than the sticker, or farther away, may be less sharp than this says.
    """
    if math.isnan(edge_mm):
        return _untold("sharpness", MAX_EDGE_MM)
    ok = edge_mm <= MAX_EDGE_MM
    sentence = (
        f"Beside the wound, edges are {edge_mm:.1f} mm wide: sharp enough."
        if ok
        else f"The photo is blurred: edges are {edge_mm:.1f} mm wide. Tap on the wound to focus, and take it again."
    )
    return Check("sharpness", ok, edge_mm, MAX_EDGE_MM, sentence)


def check_motion(smear_mm: float) -> Check:
    """Check that the camera was held still: by how much edges are smeared in one direction, in mm."""
    if math.isnan(smear_mm):
        return _untold("motion", MAX_SMEAR_MM)
    ok = smear_mm <= MAX_SMEAR_MM
    sentence = (
        "The camera was held still."
        if ok
        else f"The photo is smeared over {smear_mm:.1f} mm: hold the camera with both hands, and take it again."
    )
    return Check("motion", ok, smear_mm, MAX_SMEAR_MM, sentence)


def check_light(paper: float) -> Check:
    """Check that the photo is not too dark: linear light of the sticker's white paper beside the wound, 0 to 1."""
    ok = paper >= MIN_PAPER_LIGHT
    percent = f"{100 * paper:.0f} %"
    sentence = (
        f"The sticker's white reaches {percent} of full brightness: light enough."
        if ok
        else f"The photo is too dark: the sticker's white reaches only {percent} of full brightness. "
        "Turn on a light, and take it again."
    )
    return Check("light", ok, paper, MIN_PAPER_LIGHT, sentence)


def check_overexposure(grey: float) -> Check:
    """Check that the photo is not too bright: linear light of the sticker's lightest grey, 0 to 1."""
    if math.isnan(grey):
        return _untold("overexposure", MAX_GREY_LIGHT)
    ok = grey <= MAX_GREY_LIGHT
    sentence = (
        f"The sticker's lightest grey reaches {100 * grey:.0f} % of full brightness: not too bright."
        if ok
        else "The photo is too bright: pale skin and slough turn white. Dim the light or turn off the flash, "
        "tap on the sticker, and take it again."
    )
    return Check("overexposure", ok, grey, MAX_GREY_LIGHT, sentence)


def check_glare(share: float) -> Check:
    """Check that little of the wound is hidden by glare; ``share`` is the share of its pixels that are nearly white."""
    ok = share <= MAX_GLARE_SHARE
    percent = f"{100 * share:.0f} %"
    sentence = (
        f"Glare hides {percent} of the wound: little enough."
        if ok
        else f"Glare hides {percent} of the wound: dab it dry or let the light come from the side, and take it again."
    )
    return Check("glare", ok, share, MAX_GLARE_SHARE, sentence)


def check_frame(distance_mm: float) -> Check:
    """Check that the whole wound is in the photo: the least distance of its outline from the frame, in mm."""
    ok = distance_mm >= MIN_FRAME_MM
    sentence = (
        f"The wound ends {distance_mm:.0f} mm inside the photo."
        if ok
        else "The wound reaches the edge of the photo: step back or move the camera, and take it again."
    )
    return Check("frame", ok, distance_mm, MIN_FRAME_MM, sentence)


def check_sticker_distance(distance_mm: float) -> Check:
    """Check that the sticker lies close to the wound: the least distance between their outlines, in mm."""
    ok = distance_mm <= MAX_STICKER_MM
    distance = f"{distance_mm:.0f} mm"
    sentence = (
        f"The sticker lies {distance} from the wound: close enough."
        if ok
        else f"The sticker lies {distance} from the wound: move it closer on the same level, and take the photo again."
    )
    return Check("sticker-distance", ok, distance_mm, MAX_STICKER_MM, sentence)
