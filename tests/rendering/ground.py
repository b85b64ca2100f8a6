"""The ground of a scene: the skin to the edge of the body, and what lies behind it."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from . import field as noise
from .camera import View
from .raster import Picture, Raster
from .scene import Scene
from .skin import micro_relief, tone

_REACH_MM = 420.0
_PIXELS = 2.5e6
_FINEST = 4.0  # px per mm


@dataclass(frozen=True, eq=False)
class Ground:
    """Pictures on the plane.

    Attributes
    ----------
    raster : Raster
        Of ``colour`` and ``shade``.
    colour : ndarray, shape (H, W, 4)
        Linear reflectance with the body's own shading, and how much fine relief shows (0 to 1).
    shade : ndarray, shape (H, W)
        Light left beside the stickers.
    """

    raster: Raster
    colour: Picture
    shade: Picture

    @classmethod
    def of(
        cls, scene: Scene, view: View, wound: Polygon, outlines: Sequence[tuple[NDArray[np.float64], float]]
    ) -> "Ground":
        """Paint the ground that the camera sees."""
        raster = _visible(view)
        random = scene.random(2)
        mottle = 1 + 0.025 * noise.fractal(raster.shape, 30 * raster.px_per_mm, 4, random)
        colour = np.empty((*raster.shape, 4), np.float32)
        colour[..., :3] = tone(scene.skin.ita_deg) * mottle[..., None]
        colour[..., 3] = scene.skin.relief
        return cls(raster, colour, _sticker_shadows(scene, raster, outlines))

    def look(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return the linear reflectance at points of the plane, shape (H, W, 3)."""
        seen = self.raster.look_up(self.colour, x_mm, y_mm)
        tile, relief = micro_relief()
        fine = tile.look_up(relief, x_mm, y_mm, cv2.BORDER_WRAP)
        return seen[..., :3] * (1 + seen[..., 3] * fine)[..., None]

    def shadow(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return the light left beside the stickers at points of the plane, shape (H, W)."""
        return self.raster.look_up(self.shade, x_mm, y_mm)


def _visible(view: View) -> Raster:
    """Return a raster over what the camera sees, held within reach of the point aimed at."""
    camera = view.camera
    x, y = view.millimetres(np.linspace(0, camera.width - 1, 9), np.linspace(0, camera.height - 1, 9))
    (left, right), (top, bottom) = (
        np.clip([side.min() - 5, side.max() + 5], aim - _REACH_MM, aim + _REACH_MM)
        for side, aim in zip((x, y), view.aim_mm, strict=True)
    )
    scale = min(_FINEST, float(np.sqrt(_PIXELS / ((right - left) * (bottom - top)))))
    return Raster.over((left, top, right, bottom), scale)


def _sticker_shadows(scene: Scene, raster: Raster, outlines: Sequence[tuple[NDArray[np.float64], float]]) -> Picture:
    """Return the light left where stickers keep it from the skin."""
    light = np.ones(raster.shape, np.float32)
    towards = np.array(scene.light.direction)
    for outline, lift in outlines:
        mask = np.zeros(raster.shape, np.float32)
        away = outline - towards * (0.35 + 0.7 * lift)
        cv2.fillPoly(mask, [np.rint(raster.to_px(away) * 16).astype(np.int32)], 1.0, cv2.LINE_8, shift=4)
        mask = cv2.GaussianBlur(mask, (0, 0), (0.4 + 0.35 * lift) * raster.px_per_mm)
        light *= 1 - 0.45 * mask
    return light
