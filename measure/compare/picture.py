"""Two visits side by side as one picture to keep: dates, both outlines, and a scale bar."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from calibration.sticker import Points
from measure.canvas import EDGE, INK, Canvas, Pixels
from measure.compare.pair import Pictures

_GAP = 0.02  # of a picture's width
_DASH_MM = 0.5  # a quarter of one dash and its gap
_EDGE = 0.04  # of a picture's size, from its sides to what is written
_DARK = 32  # grey of what words stand on
_LINE = 24  # of words, in line widths
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
        Written above the pictures: which visit, and when.
    lines : sequence of str
        Below them.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        RGB.
    """
    panels = [_panel(pixels, pictures, earlier, later) for pixels in (pictures.earlier, pictures.later)]
    height, width = panels[0].shape[:2]
    gap = np.full((height, max(4, round(_GAP * width)), 3), 255, np.uint8)
    heads = [_written([title], width) for title in titles]
    between = np.full((len(heads[0]), gap.shape[1], 3), 255, np.uint8)
    both = np.vstack([np.hstack([heads[0], between, heads[1]]), np.hstack([panels[0], gap, panels[1]])])
    return np.vstack([both, _written(lines, both.shape[1])])


def _panel(pixels: Pixels, pictures: Pictures, earlier: Polygon, later: Polygon | MultiPolygon) -> Pixels:
    times = max(1, -(-_SMALLEST_PX // max(pixels.shape[:2])))
    canvas = Canvas(np.repeat(np.repeat(pixels, times, axis=0), times, axis=1), (0, 0, *_size(pixels, times)))
    for ring in _rings(earlier):
        canvas.dashes(_scaled(pictures.from_mm(_stepped(ring)), times), INK)
    for ring in _rings(later):
        canvas.ring(_scaled(pictures.from_mm(ring), times), EDGE)
    width, height = _size(pixels, times)
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
    """Write lines on a strip of a width."""
    empty = np.full((1, width, 3), _DARK, np.uint8)
    room = round(_LINE * Canvas(empty, (0, 0, width, 1)).line)
    strip = Canvas(
        np.repeat(empty, room * len(lines) + room // 4, axis=0), (0, 0, width, room * len(lines) + room // 4)
    )
    for number, line in enumerate(lines):
        strip.text(line, np.array([width / 2, (number + 0.62) * room]))
    return strip.pixels
