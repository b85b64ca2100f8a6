"""The photo with what was found drawn on it: sticker, outline, length and width, numbers."""

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.pipeline import Measurement, Prepared
from measure.wound import Wound

Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]

MAX_SIDE_PX = 2048
"""An overlay is looked at, not measured: this fills any screen."""

CLOSE_MARGIN = 0.35
"""Margin of the close view round sticker and wounds, as a share of their size."""

_INK: Colour = (255, 255, 255)
_RIM: Colour = (16, 24, 32)  # dark rim under every line, so that it is seen on light and on dark skin
_EDGE: Colour = (64, 224, 255)  # light blue: no tissue and no skin has it
_CROSS = 2.5  # arms of a cross in line widths
_SHIFT = 4  # fractional bits of OpenCV's drawing coordinates


class PictureError(EbblineError):
    """A picture can't be written as asked."""

    code = "unusable-picture"


class _Sheet:
    """A reduced cut-out of the photo to draw on, in coordinates of the full photo."""

    def __init__(self, pixels: Pixels, window: tuple[int, int, int, int]) -> None:
        left, top, right, bottom = window
        self._corner = np.array([left, top], dtype=np.float64)
        part = pixels[top:bottom, left:right]
        self.scale = min(1.0, MAX_SIDE_PX / max(part.shape[:2]))
        size = (max(1, round(part.shape[1] * self.scale)), max(1, round(part.shape[0] * self.scale)))
        self.pixels: Pixels = np.array(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        self.line = max(2, round(max(size) / 640))
        self._font = ImageFont.load_default(15.0 * self.line)

    def place(self, points: Points) -> Points:
        """Move photo points (N, 2) to the sheet."""
        return np.asarray((points - self._corner + 0.5) * self.scale - 0.5)

    def ring(self, points: Points, colour: Colour, *, closed: bool = True) -> None:
        places = np.rint(self.place(points) * 2**_SHIFT).astype(np.int32)
        for ink, width in ((_RIM, 2 * self.line + 1), (colour, self.line)):
            cv2.polylines(self.pixels, [places], closed, ink, width, cv2.LINE_AA, _SHIFT)

    def dot(self, point: Points, colour: Colour) -> None:
        centre = np.rint(self.place(point[None])[0] * 2**_SHIFT).astype(int).tolist()
        for ink, radius in ((_RIM, self.line + 1), (colour, self.line)):
            cv2.circle(self.pixels, centre, radius << _SHIFT, ink, -1, cv2.LINE_AA, _SHIFT)

    def cross(self, point: Points) -> None:
        """Cross a photo point (2,) out."""
        arm = _CROSS * self.line / self.scale
        for way in (np.array((arm, arm)), np.array((arm, -arm))):
            self.ring(np.array([point - way, point + way]), _INK, closed=False)

    def text(self, text: str, at: Points) -> None:
        """Write text centred at a photo point (2,), kept inside the sheet."""
        picture = Image.fromarray(self.pixels)
        draw = ImageDraw.Draw(picture)
        left, top, right, bottom = draw.textbbox((0, 0), text, self._font, anchor="mm", stroke_width=self.line)
        x, y = self.place(at[None])[0]
        x = float(np.clip(x, -left, max(-left, picture.width - right)))
        y = float(np.clip(y, -top, max(-top, picture.height - bottom)))
        draw.text((x, y), text, _INK, self._font, anchor="mm", stroke_width=self.line, stroke_fill=_RIM)
        self.pixels = np.array(picture)


def draw_prepared(prepared: Prepared) -> Pixels:
    """Draw where the sticker was found; uint8 RGB, at most `MAX_SIDE_PX` on a side."""
    sheet = _Sheet(prepared.photo.pixels, (0, 0, prepared.photo.width, prepared.photo.height))
    _draw_stickers(sheet, prepared)
    return sheet.pixels


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
        8-bit RGB, at most `MAX_SIDE_PX` on a side.
    """
    photo = measurement.prepared.photo
    whole = (0, 0, photo.width, photo.height)
    sheet = _Sheet(photo.pixels, _close_window(measurement, whole) if close else whole)
    _draw_stickers(sheet, measurement.prepared)
    for number, wound in enumerate(measurement.wounds, 1):
        _draw_wound(sheet, wound, measurement.prepared.calibration.plane.to_px)
        _write_area(sheet, wound, f"{number}: " if len(measurement.wounds) > 1 else "")
    return sheet.pixels


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


def _write_area(sheet: _Sheet, wound: Wound, label: str) -> None:
    """Write the area below the wound."""
    area = wound.area.scaled(0.01, "cm2")
    points = wound.outline.exterior
    below = np.array([points[:, 0].mean(), points[:, 1].max() + 32 * sheet.line / sheet.scale])
    sheet.text(f"{label}{area.value:.2f} \u00b1 {area.expanded_uncertainty:.2f} cm2", below)


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


def _draw_stickers(sheet: _Sheet, prepared: Prepared) -> None:
    for outline in prepared.calibration.sticker_outlines_px:
        sheet.ring(outline, _INK)
    for sticker in prepared.calibration.stickers:
        for point in sticker.points_px[: sticker.saddles]:
            sheet.dot(point, _EDGE)
    for point in prepared.calibration.plane.rejected_px:
        sheet.cross(point)


def _draw_wound(sheet: _Sheet, wound: Wound, to_px: Callable[[Points], Points]) -> None:
    for ring in (wound.outline.exterior, *wound.outline.holes):
        sheet.ring(ring, _EDGE)
    for line, name in ((wound.extents.length_line, "L"), (wound.extents.width_line, "W")):
        ends = to_px(line)
        sheet.ring(ends, _INK, closed=False)
        beyond = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        sheet.text(name, ends[1] + beyond * 10 * sheet.line / sheet.scale)
