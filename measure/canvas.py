"""What pictures are drawn on: a reduced part of the photo, with lines and words that are seen on any skin."""

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
        self.scale = min(1.0, MAX_SIDE_PX / max(part.shape[:2]))
        size = (max(1, round(part.shape[1] * self.scale)), max(1, round(part.shape[0] * self.scale)))
        self.pixels: Pixels = np.array(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        self.line = max(2, round(max(size) / 640))
        self._font = ImageFont.load_default(15.0 * self.line)

    def place(self, points: Points) -> Points:
        """Move photo points (N, 2) to the canvas."""
        return np.asarray((points - self._corner + 0.5) * self.scale - 0.5)

    def ring(self, points: Points, colour: Colour, *, closed: bool = True) -> None:
        """Draw a line through photo points (N, 2)."""
        places = np.rint(self.place(points) * 2**_SHIFT).astype(np.int32)
        for ink, width in ((RIM, 2 * self.line + 1), (colour, self.line)):
            cv2.polylines(self.pixels, [places], closed, ink, width, cv2.LINE_AA, _SHIFT)

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

    def text(self, text: str, at: Points) -> None:
        """Write text centred at a photo point (2,), kept inside the canvas."""
        picture = Image.fromarray(self.pixels)
        draw = ImageDraw.Draw(picture)
        left, top, right, bottom = draw.textbbox((0, 0), text, self._font, anchor="mm", stroke_width=self.line)
        x, y = self.place(at[None])[0]
        x = float(np.clip(x, -left, max(-left, picture.width - right)))
        y = float(np.clip(y, -top, max(-top, picture.height - bottom)))
        draw.text((x, y), text, INK, self._font, anchor="mm", stroke_width=self.line, stroke_fill=RIM)
        self.pixels = np.array(picture)
