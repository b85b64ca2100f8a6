"""Plain rulers as objects: drawn true to size and laid into a photo through a camera's homography, with their truth."""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .field import smooth
from .raster import Picture
from .sensor import Sensor, decoded

INCH_MM = 25.4

_FINEST = 30  # px a mm of the drawing
_FINER = 3  # samples a px of the photo, each way
_FONT = cv2.FONT_HERSHEY_SIMPLEX

MM_LENGTHS = (5.0, 4.0, 3.0)
"""Of the graduations at a centimetre, at half of it and at a millimetre, in mm."""

INCH_LENGTHS = (8.5, 7.0, 5.6, 4.2, 3.0)
"""At an inch, and at 1/2, 1/4, 1/8 and 1/16 of it, in mm."""

Scheme = tuple[float, Callable[[int], int], tuple[float, ...], int]
"""Step in mm, which length graduation k has, the lengths, and how many steps a number has."""


@dataclass(frozen=True)
class PlainRuler:
    """A ruler without markers.

    Attributes
    ----------
    edges : tuple of str
        What the upper and the lower edge carry: "mm", "half mm", "cm", "inch/8", "inch/10", "inch/16", "inch/32",
        "comb" (a mm comb of equal lines) or "".
    length_mm, width_mm : float
        Size.
    paper, ink : tuple of float
        Reflectance in linear red, green and blue.
    opacity : float
        Of the ruler's body; ink is always opaque.
    mm_lengths, inch_lengths : tuple of float
        Lengths of the graduations, the longest first.
    thickness_mm : float
        Of a graduation.
    inset_mm : float
        Room between the ruler's edge and its graduations.
    numbers : bool
        Whether centimetres and inches are numbered.
    """

    edges: tuple[str, str] = ("mm", "")
    length_mm: float = 150.0
    width_mm: float = 28.0
    paper: tuple[float, float, float] = (0.85, 0.85, 0.82)
    ink: tuple[float, float, float] = (0.03, 0.03, 0.03)
    opacity: float = 1.0
    mm_lengths: tuple[float, float, float] = MM_LENGTHS
    inch_lengths: tuple[float, float, float, float, float] = INCH_LENGTHS
    thickness_mm: float = 0.2
    inset_mm: float = 0.0
    numbers: bool = True

    @property
    def corners(self) -> NDArray[np.float64]:
        """Corners in mm of the ruler, origin in its middle, shape (4, 2)."""
        x, y = self.length_mm / 2, self.width_mm / 2
        return np.array([(-x, -y), (x, -y), (x, y), (-x, y)])

    def drawing(self) -> NDArray[np.uint8]:
        """Return how much of each pixel is ink, 0 to 255, at `_FINEST` px a mm."""
        size = round(self.width_mm * _FINEST), round(self.length_mm * _FINEST)
        halves = []
        for kind in self.edges:
            half = np.zeros(size, np.uint8)
            if kind:
                self._graduate(half, kind)
            halves.append(half)
        return np.maximum(halves[0], halves[1][::-1, ::-1])

    def _graduate(self, half: NDArray[np.uint8], kind: str) -> None:
        step, level, lengths, every = _scheme(kind, self)
        count = int((self.length_mm - 10.0) / step)
        for k in range(count + 1):
            x, top = 5.0 + k * step, self.inset_mm
            long = lengths[level(k)]
            left, right = (round((x + side * self.thickness_mm / 2) * _FINEST) for side in (-1, 1))
            half[round(top * _FINEST) : round((top + long) * _FINEST), left:right] = 255
            if self.numbers and k % every == 0:
                _number(half, k // every, (x, top + lengths[0] + 3.2))


def _scheme(kind: str, ruler: PlainRuler) -> Scheme:
    """Return the step in mm, which length the graduation k has, the lengths, and how many steps a number has."""
    mm, inch = ruler.mm_lengths, ruler.inch_lengths
    if kind == "mm":
        return 1.0, lambda k: 0 if k % 10 == 0 else 1 if k % 5 == 0 else 2, mm, 10
    if kind == "half mm":
        halves = (*mm, mm[2] - (mm[1] - mm[2]))
        return 0.5, lambda k: 0 if k % 20 == 0 else 1 if k % 10 == 0 else 2 if k % 2 == 0 else 3, halves, 20
    if kind == "cm":
        return 10.0, lambda _: 0, mm, 1
    if kind == "comb":
        return 1.0, lambda _: 0, mm, 10
    parts = int(kind.removeprefix("inch/"))
    if parts == 10:
        return INCH_MM / 10, lambda k: 0 if k % 10 == 0 else 1 if k % 5 == 0 else 2, (inch[0], inch[2], inch[4]), 10
    highest = parts.bit_length() - 1
    lengths = (*inch, inch[4] - 1.0) if parts == 32 else inch

    def level(k: int) -> int:
        return highest - min(highest, (k & -k).bit_length() - 1 if k else highest)

    return INCH_MM / parts, level, lengths, parts


def _number(half: NDArray[np.uint8], number: int, at: tuple[float, float]) -> None:
    text = str(number)
    scale = 2.2 * _FINEST / 21
    (width, _), _ = cv2.getTextSize(text, _FONT, scale, 1)
    place = round(at[0] * _FINEST - width / 2), round(at[1] * _FINEST)
    cv2.putText(half, text, place, _FONT, scale, 255, round(0.3 * _FINEST), cv2.LINE_AA)


@dataclass(frozen=True, eq=False)
class RulerPhoto:
    """A photo with a ruler in it, and the matrix (3, 3) from mm on the ruler's plane to px of the photo."""

    pixels: NDArray[np.uint8]
    homography: NDArray[np.float64]
    pose: NDArray[np.float64]

    def mm_of(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (N, 2) of the photo in mm on the plane."""
        seen = np.column_stack([points_px, np.ones(len(points_px))]) @ np.linalg.inv(self.homography).T
        return np.asarray(seen[:, :2] / seen[:, 2:])

    def corners_of(self, ruler: PlainRuler) -> NDArray[np.float64]:
        """Return the corners of the ruler that was laid, in px of the photo, shape (4, 2)."""
        return _project(self.homography @ self.pose, ruler.corners)

    def mm_per_px_along(self, points_px: NDArray[np.float64]) -> float:
        """Return the true scale in the middle of a row of points (N, 2) of the photo, along the row."""
        step = points_px[-1] - points_px[0]
        step = 0.5 * step / np.linalg.norm(step)
        middle = (points_px[-1] + points_px[0]) / 2
        before, after = self.mm_of(np.stack([middle - step, middle + step]))
        return float(np.linalg.norm(after - before))


def lay(  # noqa: PLR0913 - one parameter a thing that a photo has
    background: NDArray[np.uint8],
    ruler: PlainRuler,
    homography: NDArray[np.float64],
    *,
    at_mm: tuple[float, float] = (0.0, 0.0),
    turn_deg: float = 0.0,
    sensor: Sensor | None = None,
    gradient: float = 0.0,
    covered: float = 0.0,
    exposure: float = 1.0,
    seed: int = 1,
) -> RulerPhoto:
    """Lay a ruler into a photo: in linear light, with its own light, blur and noise.

    Parameters
    ----------
    background : ndarray of uint8, shape (H, W, 3)
        What the ruler lies on.
    ruler : PlainRuler
        The ruler.
    homography : ndarray, shape (3, 3)
        From mm on the plane to px of the photo.
    at_mm, turn_deg : tuple of float, float
        Where the ruler's middle lies on the plane, and its turn.
    sensor : Sensor, optional
        Blur and noise of the ruler.
    gradient : float
        Fall of the light from one side of the photo to the other, as a share.
    covered : float
        Share of the ruler's length that something of the colour of a glove covers, from a random place on.
    exposure : float
        Factor of the light on the ruler.
    seed : int
        Of everything random.
    """
    sensor = sensor or Sensor()
    random = np.random.default_rng((seed, 77))
    angle = np.radians(turn_deg)
    pose = np.array(
        [[np.cos(angle), -np.sin(angle), at_mm[0]], [np.sin(angle), np.cos(angle), at_mm[1]], [0.0, 0.0, 1.0]]
    )
    height, width = background.shape[:2]
    corners = _project(homography @ pose, ruler.corners)
    reach = sensor.reach + 2
    left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int) - reach, 0)
    right, bottom = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + reach, (width, height))
    ink, body, glove = _seen(ruler, homography @ pose, (left, top, right, bottom), _cover(ruler, covered, random))
    part = decoded(background[top:bottom, left:right].astype(np.float64)).astype(np.float32)
    rows, columns = np.mgrid[top:bottom, left:right].astype(np.float32)
    towards = random.uniform(0, 2 * np.pi)
    light = 1 + gradient * (
        (columns / width - 0.5) * np.float32(np.cos(towards)) + (rows / height - 0.5) * np.float32(np.sin(towards))
    )
    light = light * np.float32(exposure) * (1 + 0.01 * smooth(light.shape, 400.0, random))
    colour = np.array(ruler.paper, np.float32) * (1 - ink[..., None]) + np.array(ruler.ink, np.float32) * ink[..., None]
    solid = (body * np.maximum(ruler.opacity, ink))[..., None]
    linear = part * (1 - solid) + colour * light[..., None] * solid
    linear = (
        linear * (1 - glove[..., None]) + np.array((0.25, 0.35, 0.6), np.float32) * light[..., None] * glove[..., None]
    )
    blurred = sensor.blurred(linear.astype(np.float32))
    touched = cv2.dilate(np.maximum(body, glove), np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)) > 0
    pixels = background.copy()
    pixels[top:bottom, left:right][touched] = sensor.developed(blurred, random)[touched]
    return RulerPhoto(pixels, homography, pose)


def _cover(ruler: PlainRuler, covered: float, random: np.random.Generator) -> tuple[float, float]:
    """Return the range along the ruler in mm that is covered."""
    if covered <= 0:
        return 0.0, 0.0
    start = random.uniform(-0.5, 0.5 - covered) * ruler.length_mm
    return start, start + covered * ruler.length_mm


def _seen(
    ruler: PlainRuler, matrix: NDArray[np.float64], window: tuple[int, int, int, int], cover: tuple[float, float]
) -> tuple[Picture, Picture, Picture]:
    """Return how much of each pixel of a window is ink, body and glove."""
    left, top, right, bottom = window
    to_ruler = np.array(
        [
            [_FINEST, 0, ruler.length_mm / 2 * _FINEST - 0.5],
            [0, _FINEST, ruler.width_mm / 2 * _FINEST - 0.5],
            [0, 0, 1.0],
        ]
    )
    shift = np.array(
        [[1.0 / _FINER, 0, left + 0.5 / _FINER - 0.5], [0, 1.0 / _FINER, top + 0.5 / _FINER - 0.5], [0, 0, 1.0]]
    )
    back = to_ruler @ np.linalg.inv(matrix) @ shift
    drawing = ruler.drawing()
    whole = np.full_like(drawing, 255)
    hand = np.zeros_like(drawing)
    first, last = (round((side + ruler.length_mm / 2) * _FINEST) for side in cover)
    hand[:, first:last] = 255
    size = (right - left) * _FINER, (bottom - top) * _FINER
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    ink, body, glove = (
        cv2.resize(
            cv2.warpPerspective(layer, back, size, flags=flags),
            (right - left, bottom - top),
            interpolation=cv2.INTER_AREA,
        ).astype(np.float32)
        / np.float32(255)
        for layer in (drawing, whole, hand)
    )
    return ink, body, glove


def _project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    seen = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(seen[:, :2] / seen[:, 2:])
