"""Two visits side by side as one picture to keep: dates, both outlines, and a scale bar."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from calibration.sticker import Points
from measure.canvas import EDGE, INK, Canvas, Pixels
from measure.compare import Pictures

_GAP = 0.02  # of a picture's width
_DASH_MM = 0.5  # a quarter of one dash and its gap
_EDGE = 0.04  # of a picture's size, from its sides to what is written
_SMALLEST_PX = 700  # of a picture's longer side: words would fill a smaller one


def side_by_side(
    pictures: Pictures, earlier: Polygon, later: Polygon | MultiPolygon, titles: tuple[str, str], lines: Sequence[str]
) -> Pixels:
    """Draw both pictures beside each other, each with both outlines, and words below.

    Parameters
    ----------
    pictures : Pictures
    earlier, later : Polygon or MultiPolygon
        The wounds in the pictures' mm.
    titles : tuple of two str
        Written into the pictures: which visit, and when.
    lines : sequence of str
        Below them.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        RGB.
    """
    panels = [
        _panel(pixels, pictures, earlier, later, title)
        for pixels, title in zip((pictures.earlier, pictures.later), titles, strict=True)
    ]
    height, width = panels[0].shape[:2]
    gap = np.full((height, max(4, round(_GAP * width)), 3), 255, np.uint8)
    both = np.hstack([panels[0], gap, panels[1]])
    return np.vstack([both, _written(lines, both.shape[1])])


def _panel(pixels: Pixels, pictures: Pictures, earlier: Polygon, later: Polygon | MultiPolygon, title: str) -> Pixels:
    times = max(1, -(-_SMALLEST_PX // max(pixels.shape[:2])))
    canvas = Canvas(np.repeat(np.repeat(pixels, times, axis=0), times, axis=1), (0, 0, *_size(pixels, times)))
    for ring in _rings(earlier):
        canvas.dashes(_scaled(pictures.from_mm(_stepped(ring)), times), INK)
    for ring in _rings(later):
        canvas.ring(_scaled(pictures.from_mm(ring), times), EDGE)
    width, height = _size(pixels, times)
    canvas.text(title, np.array([width / 2, _EDGE * height + 8 * canvas.line]))
    long = 10 / pictures.step_mm * times
    start = np.array([_EDGE * width, (1 - _EDGE) * height])
    canvas.ring(np.array([start, start + np.array([long, 0])]), INK, closed=False)
    canvas.text("1 cm", start + np.array([long / 2, -12 * canvas.line]))
    return canvas.pixels


def _size(pixels: Pixels, times: int) -> tuple[int, int]:
    return pixels.shape[1] * times, pixels.shape[0] * times


def _scaled(points: Points, times: int) -> Points:
    return np.asarray((points + 0.5) * times - 0.5)


def _rings(shape: Polygon | MultiPolygon) -> list[Points]:
    parts = shapely.get_parts(shape)
    return [shapely.get_coordinates(ring)[:-1] for part in parts for ring in (part.exterior, *part.interiors)]


def _stepped(ring: Points) -> Points:
    """Return points evenly along a ring, of a number that makes whole dashes."""
    line = shapely.linearrings(ring)
    count = 4 * max(6, round(float(shapely.length(line)) / _DASH_MM / 4))
    places = np.arange(count) * shapely.length(line) / count
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(line, places)))


def _written(lines: Sequence[str], width: int) -> Pixels:
    """Write lines on a strip as wide as the pictures."""
    strip = Canvas(np.full((8, width, 3), 32, np.uint8), (0, 0, width, 8))
    room = round(30 * strip.line)
    strip = Canvas(
        np.full((room * len(lines) + room // 3, width, 3), 32, np.uint8), (0, 0, width, room * len(lines) + room // 3)
    )
    for number, line in enumerate(lines):
        strip.text(line, np.array([width / 2, (number + 0.65) * room]))
    return strip.pixels
