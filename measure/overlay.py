"""The photo with what was found drawn on it: sticker, outline, length and width, numbers."""

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.canvas import EDGE, INK, Canvas, Pixels
from measure.pipeline import Measurement, Prepared
from measure.wound import Wound

CLOSE_MARGIN = 0.35
"""Margin of the close view round sticker and wounds, as a share of their size."""


class PictureError(EbblineError):
    """A picture can't be written as asked."""

    code = "unusable-picture"


def draw_prepared(prepared: Prepared) -> Pixels:
    """Draw where the sticker was found; uint8 RGB, at most `measure.canvas.MAX_SIDE_PX` on a side."""
    canvas = Canvas(prepared.photo.pixels, (0, 0, prepared.photo.width, prepared.photo.height))
    _draw_stickers(canvas, prepared)
    return canvas.pixels


def draw_measurement(measurement: Measurement, *, close: bool = False) -> Pixels:
    """Draw the sticker, each wound's outline, its length and width, and its area.

    Parameters
    ----------
    measurement : Measurement
        What was found.
    close : bool
        Show only the part round sticker and wounds.

    Returns
    -------
    ndarray of shape (H, W, 3)
        8-bit RGB, at most `measure.canvas.MAX_SIDE_PX` on a side.
    """
    photo = measurement.prepared.photo
    whole = (0, 0, photo.width, photo.height)
    canvas = Canvas(photo.pixels, _close_window(measurement, whole) if close else whole)
    _draw_stickers(canvas, measurement.prepared)
    for number, wound in enumerate(measurement.wounds, 1):
        _draw_wound(canvas, wound, measurement.prepared.calibration.plane.to_px)
        _write_area(canvas, wound, f"{number}: " if len(measurement.wounds) > 1 else "")
    return canvas.pixels


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
    points = wound.outline.exterior
    below = np.array([points[:, 0].mean(), points[:, 1].max() + 32 * canvas.line / canvas.scale])
    canvas.text(f"{label}{area.value:.2f} \u00b1 {area.expanded_uncertainty:.2f} cm2", below)


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


def _draw_wound(canvas: Canvas, wound: Wound, to_px: Callable[[Points], Points]) -> None:
    for ring in (wound.outline.exterior, *wound.outline.holes):
        canvas.ring(ring, EDGE)
    for line, name in ((wound.extents.length_line, "L"), (wound.extents.width_line, "W")):
        ends = to_px(line)
        canvas.ring(ends, INK, closed=False)
        beyond = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        canvas.text(name, ends[1] + beyond * 10 * canvas.line / canvas.scale)
