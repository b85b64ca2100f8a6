"""Which checks and flags a photo, its scale and its outlines call for, and the values that they are told."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

from calibration.correction import FLAGGED_ABOVE, REFUSED_ABOVE, Correction
from calibration.prints import is_grey
from calibration.sticker import Points
from measure.authorship import Author
from measure.checks import (
    MAX_PRINT_MISFIT,
    MIN_SHARE_SEEN,
    Check,
    check_flatness,
    check_frame,
    check_glare,
    check_light,
    check_motion,
    check_overexposure,
    check_print_scale,
    check_sharpness,
    check_sticker,
    check_sticker_distance,
    check_sticker_plane,
    check_tilt,
)
from measure.exposure import glare_share, grey_light, paper_light
from measure.flags import Flag, flag
from measure.geometry import Convention
from measure.outline import Outline, polygon
from measure.photo import Photo
from measure.scale import Calibration
from measure.sharpness import crossings, measure_blur
from measure.tissue import TissueMap
from measure.uncertainty import COVERAGE_FACTOR
from measure.wound import GIVEN, Wound

_LEAST_DOUBT = 0.3  # of the limit: what is known worse says nothing about a print
_FEW_LEFT_OUT = 0.05  # of the saddle points: so many are always at the edge of something
_WIDEST_LIMB_MM = 200.0  # a thigh's; what is flatter is a back, a belly, or a sticker that does not lie quite flat
_UNSEEN_CURVE = 0.03  # relative standard uncertainty of an area, as much as the drawing of the edge adds
_UNSURE_EDGE = 0.075  # of the area: two labels of one photograph differ by 3.6 % (median), the worst tenth by 19 %
_MUCH_UNCHECKED = 0.05  # of an edge: less is what fingers leave between two corrections

_MUCH_UNCLEAR = 20.0  # percent: as much as the smallest change between two nurses' estimates (Landa 2016)

MIN_POINTS = 24
"""A curved edge drawn with fewer points loses more than 1 % of its area."""


def sticker_checks(photo: Photo, calibration: Calibration, outlines: Sequence[Outline]) -> Iterator[Check]:
    """Yield what the sticker says about the photo: nothing without one."""
    if not calibration.stickers:
        return
    first, plane = calibration.stickers[0], calibration.plane
    yield check_sticker(first.share_seen, cut_off=first.cut_off)
    yield check_tilt(plane.tilt_deg)
    place_mm = plane.to_mm(place_px(photo, calibration, outlines)[np.newaxis])[0]
    nearest = crossings(photo.pixels, first, plane, place_mm)
    blur = measure_blur(nearest, plane)
    yield check_sharpness(blur.edge_mm)
    yield check_motion(blur.smear_mm)
    yield check_light(paper_light(nearest))
    yield check_overexposure(grey_light(photo.pixels, first.layout, plane))
    stretched = _misfit([(plane.stretch, plane.stretch_uncertainty)])
    apart = _misfit([(other.size, other.size_uncertainty) for other in plane.neighbours])
    if stretched is not None or apart is not None:
        yield check_print_scale(
            max(stretched or 0.0, apart or 0.0), against_another=(apart or 0.0) > (stretched or 0.0)
        )
    yield check_flatness(COVERAGE_FACTOR * plane.residual_px * plane.mm_per_px(first.points_px.mean(axis=0)))


def _misfit(told: Sequence[tuple[float, float]]) -> float | None:
    """Return how far prints are off, less what the fit leaves open; None where that is more than would matter."""
    return max(
        (max(0.0, abs(off) - COVERAGE_FACTOR * doubt) for off, doubt in told if _proven(off, doubt)), default=None
    )


def _proven(off: float, doubt: float) -> bool:
    """Tell whether a misfit is known well enough to speak of, or so large that it must be real."""
    return doubt <= _LEAST_DOUBT * MAX_PRINT_MISFIT or abs(off) - COVERAGE_FACTOR * doubt > MAX_PRINT_MISFIT


def wound_checks(photo: Photo, calibration: Calibration, outlines: Sequence[Outline]) -> Iterator[Check]:
    """Yield what the outlines say about the photo: nothing without any."""
    if not outlines:
        return
    yield check_glare(glare_share(photo.pixels, outlines))
    yield check_frame(min(_frame_mm(outline, photo, calibration) for outline in outlines))
    if calibration.stickers:
        yield check_sticker_distance(max(_sticker_mm(outline, calibration) for outline in outlines))
    bend = calibration.plane.projection.bend
    if bend is not None:
        points = np.concatenate([calibration.plane.to_mm(outline.exterior) for outline in outlines])
        yield check_sticker_plane(float(np.abs(bend.turn_deg(points)).max()))


def _frame_mm(outline: Outline, photo: Photo, calibration: Calibration) -> float:
    """Least distance of an outline from the edge of the photo, in mm."""
    points = outline.exterior
    last = np.array((photo.width, photo.height)) - 0.5
    away_px = np.minimum(points + 0.5, last - points).min(axis=1)
    nearest = int(away_px.argmin())
    return float(away_px[nearest]) * calibration.plane.mm_per_px(points[nearest])


def _sticker_mm(outline: Outline, calibration: Calibration) -> float:
    """Distance of an outline from the sticker that set the plane, in mm."""
    sticker = Polygon(calibration.stickers[0].layout.outline)
    return float(sticker.distance(Polygon(calibration.plane.to_mm(outline.exterior))))


def photo_flags(photo: Photo) -> Iterator[Flag]:
    """Yield what another photo by the same camera would not change."""
    if photo.taken_at is None:
        yield flag("no-capture-time")
    if photo.camera_size and photo.resized:
        noted = "{} x {}".format(*photo.camera_size)
        yield flag("photo-resized", width=photo.width, height=photo.height, noted=noted)


def scale_flags(calibration: Calibration) -> list[Flag]:
    """Flag what should be known of the scale: where it comes from, and how the stickers were seen."""
    if not calibration.stickers:
        flags = [flag("scale-by-ruler" if calibration.ruler else "scale-by-hand")]
        return [*flags, flag("sticker-not-used")] if calibration.sticker_unused else flags
    first = calibration.stickers[0]
    names = ", ".join(sticker.layout.name for sticker in calibration.stickers)
    count = len(calibration.stickers)
    flags = [flag("several-stickers", count=count, layouts=names, used=_used(calibration))] if count > 1 else []
    if first.cut_off:
        flags.append(flag("sticker-cut-off", layout=first.layout.name))
    elif first.share_seen < MIN_SHARE_SEEN:
        percent = round(100 * first.share_seen)
        flags.append(flag("sticker-covered", percent=percent, layout=first.layout.name))
    return [*flags, *_surface_flags(calibration)]


def _used(calibration: Calibration) -> str:
    """Say which of several stickers set the scale."""
    joined = sum(other.joined for other in calibration.plane.neighbours)
    if joined == len(calibration.stickers) - 1:
        return "Together they set the scale."
    name = calibration.stickers[0].layout.name
    return f"{1 + joined} of them, '{name}' first, set the scale; the rest lie on another level or differ in size."


def _surface_flags(calibration: Calibration) -> Iterator[Flag]:
    """Yield what the points of the stickers say about the surface that they lie on."""
    plane = calibration.plane
    every, left_out = sum(sticker.saddles for sticker in calibration.stickers), len(plane.rejected_px)
    if left_out > _FEW_LEFT_OUT * every:
        yield flag("sticker-points-left-out", count=left_out, all=every)
    bend = plane.projection.bend
    if bend is not None:
        radius_mm = 1 / bend.curvature
        limb = f"bent round a limb with a radius of about {radius_mm / 10:.0f} cm"
        yield flag("limb-corrected", shape=limb if radius_mm < _WIDEST_LIMB_MM else "slightly bent")


def outline_flags(
    outlines: Sequence[Outline], drew: Sequence[Author], stickers: Sequence[Points], *, taken_away: bool
) -> Iterator[Flag]:
    """Yield what should be known of the outlines.

    Parameters
    ----------
    outlines : sequence of Outline
    drew : sequence of Author
        Who drew each.
    stickers : sequence of ndarray of shape (N, 2)
        Outlines in the photo, where no wound can be.
    taken_away : bool
        Whether a person had the outlines: then that there are none is no failure of the proposal.
    """
    if not outlines and not taken_away:
        yield flag("no-wound-proposed")
    if any(author.method != GIVEN for author in drew):
        yield flag("outline-proposed")
    by_hand = [
        (n, outline) for n, (outline, author) in enumerate(zip(outlines, drew, strict=True), 1) if _is_given(author)
    ]
    for number, author in enumerate(drew, 1):
        if _is_given(author) and author.as_proposed > _MUCH_UNCHECKED:
            yield flag("outline-not-checked", wound=number, percent=f"{100 * author.as_proposed:.0f}")
    yield from _coarse(by_hand)
    yield from _on_sticker(by_hand, stickers)


def _is_given(author: Author) -> bool:
    return author.method == GIVEN


def convention_flags(outlines: Sequence[Outline], convention: Convention, head_deg: float | None) -> Iterator[Flag]:
    """Flag that nobody said where the head is, if that matters."""
    if outlines and convention is Convention.HEAD_TO_TOE and head_deg is None:
        yield flag("head-assumed")


def _coarse(numbered: Sequence[tuple[int, Outline]]) -> Iterator[Flag]:
    """Flag outlines that a person drew with few points."""
    for number, outline in numbered:
        if (count := len(outline.exterior)) < MIN_POINTS:
            yield flag("few-points", wound=number, count=count)


def _on_sticker(numbered: Sequence[tuple[int, Outline]], stickers: Sequence[Points]) -> Iterator[Flag]:
    """Flag outlines of which more than a fiftieth lies on a sticker."""
    paper = unary_union([Polygon(sticker) for sticker in stickers])
    for number, outline in numbered:
        shape = polygon(outline)
        if shape.intersection(paper).area > 0.02 * shape.area:
            yield flag("outline-on-sticker", wound=number)


def curve_flags(wounds: Sequence[Wound]) -> Iterator[Flag]:
    """Flag wounds whose area an unseen curve of the skin makes doubtful."""
    for number, wound in enumerate(wounds, 1):
        share = wound.area.components.get("curvature", 0.0)
        if not share <= _UNSEEN_CURVE:
            percent = "more than 50" if math.isnan(share) else f"{100 * COVERAGE_FACTOR * share:.0f}"
            yield flag("curve-unseen", wound=number, percent=percent)


def doubt_flags(wounds: Sequence[Wound]) -> Iterator[Flag]:
    """Flag proposed wounds whose edge the method hesitates to place."""
    for number, wound in enumerate(wounds, 1):
        share = wound.area.components["outline placement"]
        if not share <= _UNSURE_EDGE and wound.source == "proposed":
            percent = "more than 50" if math.isnan(share) else f"{100 * COVERAGE_FACTOR * share:.0f}"
            yield flag("outline-unsure", wound=number, percent=percent)


def colour_flags(colour: Correction | None) -> Iterator[Flag]:
    """Yield what limits what may be said of colour."""
    if colour is None or colour.source == "none":
        yield flag("colour-unknown")
    elif not colour.trusted:
        yield flag("colour-refused", residual=f"{colour.residual:.0f}", limit=f"{REFUSED_ABOVE:.0f}")
    elif math.isnan(colour.residual):
        yield flag("colour-from-paper")
    elif all(is_grey(reading.name) or reading.unused for reading in colour.readings):
        yield flag("colour-from-greys")
    elif colour.residual > FLAGGED_ABOVE:
        yield flag("colour-unsure", residual=f"{colour.residual:.1f}", limit=f"{FLAGGED_ABOVE:.0f}")


def tissue_flags(found: Sequence[TissueMap]) -> Iterator[Flag]:
    """Flag wounds of which much can't be told."""
    for number, tissue in enumerate(found, 1):
        percent = tissue.shares["unclear"].percent
        if percent > _MUCH_UNCLEAR:
            yield flag("tissue-unclear", wound=number, percent=f"{percent:.0f}")


def place_px(photo: Photo, calibration: Calibration, outlines: Sequence[Outline]) -> Points:
    """Return where the scale is stated, in px: at the largest wound, or where one is expected."""
    if outlines:
        largest = max((Polygon(outline.exterior) for outline in outlines), key=lambda shape: shape.area)
        return np.array(largest.centroid.coords[0])
    aim = calibration.aim_px
    return _middle(photo) if aim is None else aim


def _middle(photo: Photo) -> Points:
    return np.array([(photo.width - 1) / 2, (photo.height - 1) / 2])
