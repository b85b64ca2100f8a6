"""The part of the body: its silhouette on the plane, and how its roundness shades."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import cv2
import numpy as np

from .raster import Picture, Raster

Point = tuple[float, float]

_ELEVATION = 0.62  # height of the light above the plane, as a share of its sideways reach
_AMBIENT = 0.45
_FAR = 400.0


_TOES = (
    ((0, 20), (-2, -30), (21, 16)),
    ((34, 20), (35, -29), (13, 9.5)),
    ((53, 28), (56, -17), (12, 8.5)),
    ((69, 38), (74, -2), (12, 8)),
    ((82, 52), (90, 20), (11, 7.5)),
)  # root, tip and radii of each toe, in mm


def _capsule(x: Picture, y: Picture, start: Point, end: Point, radii: tuple[float, float]) -> Picture:
    """Return mm inside a rounded bar whose radius changes from one end to the other."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    along = np.clip(((x - start[0]) * dx + (y - start[1]) * dy) / (dx**2 + dy**2), 0, 1)
    distance = np.hypot(x - start[0] - along * dx, y - start[1] - along * dy)
    return np.asarray(radii[0] + along * (radii[1] - radii[0]) - distance, np.float32)


def _joined(first: Picture, second: Picture, smooth_mm: float) -> Picture:
    """Return the depth inside the union of two shapes, with a smooth fillet."""
    share = np.clip(0.5 + 0.5 * (first - second) / smooth_mm, 0, 1)
    return np.asarray(second + share * (first - second) + smooth_mm * share * (1 - share), np.float32)


def _trunk(x: Picture, y: Picture) -> Picture:
    return _FAR + 0 * (x + y)


def _sacrum(x: Picture, y: Picture) -> Picture:
    """Lay out the lower back and the buttocks below it, with the cleft between them."""
    left, right = (_capsule(x, y, (side * 95, 140), (side * 105, 330), (135, 140)) for side in (-1, 1))
    back = _capsule(x, y, (0, -500), (0, -140), (215, 190))
    return _joined(_joined(left, right, 6), back, 45)


def _shin(x: Picture, y: Picture) -> Picture:
    calf = _capsule(x, y, (-330, 12), (-60, 2), (74, 66))
    return _joined(calf, _capsule(x, y, (-60, 2), (260, -6), (66, 47)), 30)


def _forearm(x: Picture, y: Picture) -> Picture:
    return _capsule(x, y, (-300, -10), (240, 6), (62, 50))


def _heel(x: Picture, y: Picture) -> Picture:
    sole = _capsule(x, y, (8, 0), (16, 190), (54, 48))
    return _joined(sole, _capsule(x, y, (0, -8), (4, 10), (55, 55)), 25)


def _forefoot(x: Picture, y: Picture) -> Picture:
    """Lay out the back of a right foot seen from above, the great toe on the left, toes up."""
    depth = _capsule(x, y, (34, 60), (44, 320), (56, 40))
    depth = _joined(depth, _capsule(x, y, (2, 22), (26, 110), (30, 34)), 22)
    for start, end, radii in _TOES:
        depth = _joined(depth, _capsule(x, y, start, end, radii), 3.5)
    return depth


BODIES: Mapping[str, tuple[Callable[[Picture, Picture], Picture], float]] = MappingProxyType(
    {
        "trunk": (_trunk, 60.0),
        "sacrum": (_sacrum, 62.0),
        "shin": (_shin, 38.0),
        "forearm": (_forearm, 34.0),
        "heel": (_heel, 36.0),
        "forefoot": (_forefoot, 14.0),
    }
)
"""Silhouettes: mm inside the body at points in mm, and the radius in mm over which its edge rounds off."""


def nails(name: str, turn_deg: float, centre: Point, raster: Raster) -> Picture:
    """Return how much of each pixel a toe nail covers, 0 to 1, shape (H, W)."""
    mask = np.zeros(raster.shape, np.float32)
    if name != "forefoot":
        return mask
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    for root, tip, (_, radius) in _TOES:
        lean = np.degrees(np.arctan2(tip[1] - root[1], tip[0] - root[0])) + turn_deg
        place = turn @ np.array([tip[0], tip[1] - 0.25 * radius]) + centre
        axes = (round(0.68 * radius * raster.px_per_mm * 16), round(0.56 * radius * raster.px_per_mm * 16))
        at = np.rint(raster.to_px(place[None])[0] * 16).astype(int).tolist()
        cv2.ellipse(mask, at, axes, lean, 0, 360, 1.0, -1, cv2.LINE_8, 4)
    return np.asarray(cv2.GaussianBlur(mask, (0, 0), 0.4 * raster.px_per_mm), np.float32)


def depth_of_body(name: str, turn_deg: float, centre: Point, raster: Raster) -> Picture:
    """Return mm inside the body's silhouette at each pixel of a raster, shape (H, W)."""
    x, y = raster.axes()
    angle = np.radians(turn_deg)
    dx, dy = x - np.float32(centre[0]), y - np.float32(centre[1])
    along, across = dx * np.cos(angle) + dy * np.sin(angle), dy * np.cos(angle) - dx * np.sin(angle)
    depth = BODIES[name][0](along.astype(np.float32), across.astype(np.float32))
    return np.asarray(depth, np.float32)


def roundness(name: str, depth_mm: Picture, light: Point) -> Picture:
    """Return the light on the rounded body relative to its flat middle, shape (H, W)."""
    radius = BODIES[name][1]
    fall = np.clip(1 - depth_mm / radius, 0, 0.995)
    lean = fall**1.6  # sine of the angle between skin and plane
    slope_x, slope_y = cv2.Sobel(depth_mm, cv2.CV_32F, 1, 0), cv2.Sobel(depth_mm, cv2.CV_32F, 0, 1)
    steep = np.maximum(np.hypot(slope_x, slope_y), 1e-6)
    towards = -(slope_x * light[0] + slope_y * light[1]) / steep
    facing = np.sqrt(1 - lean**2) + lean * towards * _ELEVATION
    shade = _AMBIENT * (1 - 0.55 * lean**2) + (1 - _AMBIENT) * np.maximum(facing, 0)
    return np.asarray(cv2.GaussianBlur(shade.astype(np.float32), (0, 0), 2.0), np.float32)
