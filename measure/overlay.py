"""The photo with what was found drawn on it: sticker, outline, length and width, numbers."""

from collections.abc import Callable, Sequence
from pathlib import Path

import cv2
import numpy as np

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.canvas import EDGE, INK, Canvas, Pixels
from measure.culture import SwabSite
from measure.pipeline import Measurement, Prepared
from measure.redness import Redness
from measure.scale import Calibration
from measure.tissue_overlay import NO_COLOUR, draw_tissue, legend, with_legend
from measure.wound import Wound

CLOSE_MARGIN = 0.35
"""Margin of the close view round sticker and wounds, as a share of their size."""

_BELOW, _NEAR = 32, 14  # from a wound, and from a small mark, to the middle of the word at it, in line widths
_FITS = 0.85  # of a circle's width, for the word in it
_SPACE = 4  # from the end of a line to its word, in line widths
_CORNERS = 48  # of what is drawn as a circle


class PictureError(EbblineError):
    """A picture can't be written as asked."""

    code = "unusable-picture"


def draw_prepared(prepared: Prepared) -> Pixels:
    """Draw where the sticker was found; uint8 RGB, at most `measure.canvas.MAX_SIDE_PX` on a side."""
    canvas = Canvas(prepared.photo.pixels, (0, 0, prepared.photo.width, prepared.photo.height))
    _draw_stickers(canvas, prepared)
    return canvas.pixels


def draw_measurement(measurement: Measurement, *, close: bool = False, tissue: bool = False) -> Pixels:
    """Draw the sticker, each wound's outline, its length and width, its area, and where to swab.

    Parameters
    ----------
    measurement : Measurement
        What was found.
    close : bool
        Show only the part round sticker and wounds.
    tissue : bool
        Show each wound's tissue and the control patch of skin in place of length and width, and a legend below. Where
        no tissue is known, a line says so.

    Returns
    -------
    ndarray of shape (H, W, 3)
        8-bit RGB, at most `measure.canvas.MAX_SIDE_PX` on a side.
    """
    photo = measurement.prepared.photo
    whole = (0, 0, photo.width, photo.height)
    canvas = Canvas(photo.pixels, _close_window(measurement, whole) if close else whole)
    _draw_stickers(canvas, measurement.prepared)
    to_px = measurement.prepared.calibration.plane.to_px
    if tissue and measurement.tissue:
        _draw_all_tissue(canvas, measurement)
    else:
        for wound in measurement.wounds:
            _draw_outline(canvas, wound)
            _draw_extents(canvas, wound, to_px)
    _draw_swabs(canvas, measurement)
    for number, wound in enumerate(measurement.wounds, 1):
        _write_area(canvas, wound, f"{number}: " if len(measurement.wounds) > 1 else "")
    if not tissue or not measurement.wounds:
        return canvas.pixels
    return with_legend(canvas, legend(measurement.tissue) if measurement.tissue else [(None, NO_COLOUR)])


def _close_window(measurement: Measurement, whole: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom round everything found, within the photo."""
    found = [wound.outline.exterior for wound in measurement.wounds]
    found += measurement.prepared.calibration.sticker_outlines_px
    if not found:
        return whole
    points = np.concatenate(found)
    low, high = points.min(axis=0), points.max(axis=0)
    margin = CLOSE_MARGIN * float((high - low).max())
    (left, top), (right, bottom) = (low - margin).astype(int).tolist(), (high + margin).astype(int).tolist()
    return max(0, left), max(0, top), min(whole[2], right), min(whole[3], bottom)


def _write_area(canvas: Canvas, wound: Wound, label: str) -> None:
    """Write the area below the wound."""
    area = wound.area.scaled(0.01, "cm2")
    _write_below(canvas, wound.outline.exterior, f"{label}{area.value:.2f} \u00b1 {area.expanded_uncertainty:.2f} cm2")


def _write_below(canvas: Canvas, ring: Points, text: str, away: int = _BELOW) -> None:
    canvas.text(text, np.array([ring[:, 0].mean(), ring[:, 1].max() + away * canvas.line / canvas.scale]))


def write_picture(pixels: Pixels, path: Path) -> None:
    """Write an RGB picture as .png or .jpg.

    Raises
    ------
    PictureError
        If the ending is another one, or the file can't be written.
    """
    suffix = path.suffix.lower()
    if suffix not in {".png", ".jpg", ".jpeg"}:
        raise PictureError(f"'{path.name}' does not end in .png or .jpg: give the picture one of these endings.")
    try:
        path.write_bytes(encoded(pixels, suffix))
    except OSError as error:
        reason = error.strerror or error
        raise PictureError(f"'{path}' can't be written ({reason}): choose another folder or name.") from error


def encoded(pixels: Pixels, suffix: str = ".png") -> bytes:
    """Return an RGB picture as the bytes of a .png or .jpg file."""
    return bytes(cv2.imencode(suffix, cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))[1])


def _draw_stickers(canvas: Canvas, prepared: Prepared) -> None:
    for outline in prepared.calibration.sticker_outlines_px:
        canvas.ring(outline, INK)
    for sticker in prepared.calibration.stickers:
        for point in sticker.points_px[: sticker.saddles]:
            canvas.dot(point, EDGE)
    for point in prepared.calibration.plane.rejected_px:
        canvas.cross(point)


def _draw_all_tissue(canvas: Canvas, measurement: Measurement) -> None:
    for wound, tissue in zip(measurement.wounds, measurement.tissue, strict=True):
        draw_tissue(canvas, tissue, wound.outline)
        _draw_outline(canvas, wound)
    for redness in measurement.redness:
        if isinstance(redness, Redness):
            patch = _circle(measurement.prepared.calibration, redness.control_px, redness.control_radius_mm)
            if canvas.holds(patch):
                canvas.dashes(patch, INK)
                _write_below(canvas, patch, "Skin", _NEAR)


def _draw_outline(canvas: Canvas, wound: Wound) -> None:
    for ring in (wound.outline.exterior, *wound.outline.holes):
        canvas.ring(ring, EDGE)


def _draw_extents(canvas: Canvas, wound: Wound, to_px: Callable[[Points], Points]) -> None:
    for line, name in ((wound.extents.length_line, "L"), (wound.extents.width_line, "W")):
        ends = to_px(line)
        canvas.ring(ends, INK, closed=False)
        beyond = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        canvas.text(name, ends[1] + beyond * 10 * canvas.line / canvas.scale)


def _draw_swabs(canvas: Canvas, measurement: Measurement) -> None:
    for wound, site in zip(measurement.wounds, measurement.swabs, strict=False):
        if isinstance(site, SwabSite):
            circle = _circle(measurement.prepared.calibration, site.place_px, site.diameter_mm / 2)
            canvas.ring(circle, INK)
            others = (other.outline.exterior for other in measurement.wounds if other is not wound)
            taken = [*measurement.prepared.calibration.sticker_outlines_px, *others]
            _name_swab(canvas, circle, wound.outline.exterior, taken)


def _name_swab(canvas: Canvas, circle: Points, edge: Points, taken: Sequence[Points]) -> None:
    """Write the word in the circle where it fits, else beside the wound at the end of a line: it would hide tissue.

    Of the two sides of the wound it is the nearer one, or the other where the word would lie on something else.
    """
    word, middle = "Swab", circle.mean(axis=0)
    wide, radius = canvas.width(word), float(np.ptp(circle[:, 0]) / 2)
    if wide < _FITS * 2 * radius:
        canvas.text(word, middle)
        return
    sides = [(way, edge[:, 0].min() if way < 0 else edge[:, 0].max()) for way in (-1, 1)]
    sides.sort(key=lambda side: abs(side[1] - middle[0]))
    unit = canvas.line / canvas.scale
    ends = [(way, stop + way * _NEAR * unit, stop + way * ((_NEAR + _SPACE) * unit + wide / 2)) for way, stop in sides]
    free = [
        end for end in ends if not _covers(taken, np.array([(end[2] + x * wide, middle[1]) for x in (-0.5, 0, 0.5)]))
    ]
    way, stop, place = (free or ends)[0]
    canvas.ring(np.array([(middle[0] + way * radius, middle[1]), (stop, middle[1])]), INK, closed=False, thin=True)
    canvas.text(word, np.array((place, middle[1])))


def _covers(rings: Sequence[Points], points: Points) -> bool:
    """Tell whether any of some rings holds any of some points (N, 2)."""
    return any(
        cv2.pointPolygonTest(ring.astype(np.float32), point.tolist(), measureDist=False) >= 0
        for ring in rings
        for point in points
    )


def _circle(calibration: Calibration, place_px: tuple[float, float], radius_mm: float) -> Points:
    """Return a circle on the wound plane as photo points (N, 2)."""
    angle = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)
    middle = calibration.plane.to_mm(np.array([place_px]))
    return calibration.plane.to_px(middle + radius_mm * np.column_stack((np.cos(angle), np.sin(angle))))
