"""What pictures are drawn on: a reduced part of the photo, with lines and words that are seen on any skin."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from calibration.sticker import Points

Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]

MAX_SIDE_PX = 2048
"""An overlay is looked at, not measured: this fills any screen."""

INK: Colour = (255, 255, 255)
RIM: Colour = (16, 24, 32)  # dark rim under every line, so that it is seen on light and on dark skin
EDGE: Colour = (64, 224, 255)  # light blue: no tissue and no skin has it
_CROSS = 2.5  # arms of a cross in line widths
_SHIFT = 4  # fractional bits of OpenCV's drawing coordinates


class Canvas:
    """A reduced cut-out of the photo to draw on, in coordinates of the full photo."""

    def __init__(self, pixels: Pixels, window: tuple[int, int, int, int]) -> None:
        left, top, right, bottom = window
        self._corner = np.array([left, top], dtype=np.float64)
        part = pixels[top:bottom, left:right]
        self.scale: float = min(1.0, MAX_SIDE_PX / max(part.shape[:2]))
        size = (max(1, round(part.shape[1] * self.scale)), max(1, round(part.shape[0] * self.scale)))
        self.pixels: Pixels = np.array(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        self.line: int = max(2, round(max(size) / 640))
        self.font = ImageFont.load_default(15.0 * self.line)

    def place(self, points: Points) -> Points:
        """Move photo points (N, 2) to the canvas."""
        return np.asarray((points - self._corner + 0.5) * self.scale - 0.5)

    def ring(self, points: Points, colour: Colour, *, closed: bool = True, thin: bool = False) -> None:
        """Draw a line through photo points (N, 2)."""
        line = max(1, self.line // 2) if thin else self.line
        for ink, width in ((RIM, 2 * line + 1), (colour, line)):
            cv2.polylines(self.pixels, [self._exactly(points)], closed, ink, width, cv2.LINE_AA, _SHIFT)

    def dashes(self, points: Points, colour: Colour) -> None:
        """Draw a broken closed line through photo points (N, 2), of N a multiple of 4: half of each four steps."""
        for piece in points.reshape(-1, 4, 2):
            self.ring(piece[:3], colour, closed=False, thin=True)

    def fill(self, mask: Pixels, rings: Sequence[Points], value: int) -> None:
        """Give what lies between rings of photo points (N, 2) each a value, in a mask of the canvas's size."""
        cv2.fillPoly(mask, [self._exactly(ring) for ring in rings], value, cv2.LINE_8, _SHIFT)

    def _exactly(self, points: Points) -> NDArray[np.int32]:
        return np.asarray(np.rint(self.place(points) * 2**_SHIFT), np.int32)

    def dot(self, point: Points, colour: Colour) -> None:
        """Mark a photo point (2,)."""
        centre = np.rint(self.place(point[None])[0] * 2**_SHIFT).astype(int).tolist()
        for ink, radius in ((RIM, self.line + 1), (colour, self.line)):
            cv2.circle(self.pixels, centre, radius << _SHIFT, ink, -1, cv2.LINE_AA, _SHIFT)

    def cross(self, point: Points) -> None:
        """Cross a photo point (2,) out."""
        arm = _CROSS * self.line / self.scale
        for way in (np.array((arm, arm)), np.array((arm, -arm))):
            self.ring(np.array([point - way, point + way]), INK, closed=False)

    def width(self, text: str) -> float:
        """Return how wide a text is, in px of the photo."""
        return self.font.getlength(text) / self.scale

    def holds(self, points: Points) -> bool:
        """Tell whether photo points (N, 2) lie on the canvas."""
        places = self.place(points)
        return bool((places >= 0).all() and (places < self.pixels.shape[1::-1]).all())

    def text(self, text: str, at: Points) -> None:
        """Write text centred at a photo point (2,), kept inside the canvas."""
        height, width = self.pixels.shape[:2]
        left, top, right, bottom = self.font.getbbox(text, anchor="mm", stroke_width=self.line)
        x, y = self.place(at[None])[0]
        x = float(np.clip(x, -left, max(-left, width - right)))
        y = float(np.clip(y, -top, max(-top, height - bottom)))
        first, last = (
            (max(0, math.floor(x + left) - 1), max(0, math.floor(y + top) - 1)),
            (x + right + 2, y + bottom + 2),
        )
        part = self.pixels[first[1] : math.ceil(last[1]), first[0] : math.ceil(last[0])]
        picture = Image.fromarray(part)
        draw = ImageDraw.Draw(picture)
        place = (x - first[0], y - first[1])
        draw.text(place, text, INK, self.font, anchor="mm", stroke_width=self.line, stroke_fill=RIM)
        part[:] = np.asarray(picture)
