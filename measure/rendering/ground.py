"""The ground of a scene: the skin to the edge of the body, and what lies behind it."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from .body import depth_of_body, nails, roundness
from .camera import View
from .distance import depth_inside
from .drape import cloth, weave
from .raster import Picture, Raster, softened
from .scene import Scene
from .skin import Surroundings, hairs, micro_relief, put_hair, put_nails, skin_colour

_REACH_MM = 420.0
_PIXELS = 2.0e6
_FINEST = 4.0  # px per mm
_HAIR_REACH_MM = 90.0
_HAIR_SCALE = 10.0  # px per mm

Outlines = Sequence[tuple[NDArray[np.float64], float]]


@dataclass(frozen=True, eq=False)
class Ground:
    """Pictures on the plane.

    Attributes
    ----------
    raster : Raster
        Of ``colour`` and ``shade``.
    colour : ndarray, shape (H, W, 4)
        Linear reflectance with the body's own shading, and mm inside the body's silhouette.
    shade : ndarray, shape (H, W)
        Light left beside the stickers.
    hair : tuple of Raster and ndarray, optional
        How much of each pixel hair covers, near the point aimed at.
    fine : tuple of Raster and ndarray
        Relative brightness of the skin's fine relief about 0, on a tile that repeats.
    """

    raster: Raster
    colour: Picture
    shade: Picture
    hair: tuple[Raster, Picture] | None
    fine: tuple[Raster, Picture]

    @classmethod
    def of(cls, scene: Scene, view: View, wound: Polygon, outlines: Outlines, *, rounded: bool = True) -> "Ground":
        """Paint the ground that the camera sees; ``outlines`` are those of the stickers with their heights.

        Without ``rounded`` the body's own shading is left out.
        """
        raster = _visible(view)
        colour = _coloured(scene, view, wound, raster, rounded=rounded)
        shade = _sticker_shadows(scene, raster, outlines)
        scale = view.px_per_mm(np.array(view.aim_mm))
        tile, relief = micro_relief()
        fine = tile, scene.skin.relief * softened(relief, tile, scale)
        return cls(raster, colour, shade, _hair(scene, view, scale), fine)

    def look(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return the linear reflectance at points of the plane, shape (H, W, 3)."""
        seen = self.raster.look_up(self.colour, x_mm, y_mm)
        depth = seen[..., 3]
        (tile, relief), (cloth_tile, threads) = self.fine, weave()
        fine = tile.look_up(relief, x_mm, y_mm, cv2.BORDER_WRAP)
        fine *= np.clip(depth / 3, 0, 1)
        if depth.min() < 0:
            fine += np.clip(-depth, 0, 1) * cloth_tile.look_up(threads, x_mm, y_mm, cv2.BORDER_WRAP)
        linear = seen[..., :3] * (1 + fine)[..., None]
        if self.hair is not None:
            area, cover = self.hair
            put_hair(linear, area.look_up(cover, x_mm, y_mm, cv2.BORDER_CONSTANT) * (depth > 0))
        return linear

    def shadow(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return the light left beside the stickers at points of the plane, shape (H, W)."""
        return self.raster.look_up(self.shade, x_mm, y_mm)


def _visible(view: View) -> Raster:
    """Return a raster over what the camera sees, held within reach of the point aimed at."""
    camera = view.camera
    count = 9 if view.limb is None else 65  # what is seen jumps at the side of a limb
    x, y = view.millimetres(np.linspace(0, camera.width - 1, count), np.linspace(0, camera.height - 1, count))
    (left, right), (top, bottom) = (
        np.clip([side.min() - 5, side.max() + 5], aim - _REACH_MM, aim + _REACH_MM)
        for side, aim in zip((x, y), view.aim_mm, strict=True)
    )
    pixels = min(_PIXELS, 0.5 * camera.width * camera.height)
    scale = min(_FINEST, float(np.sqrt(pixels / ((right - left) * (bottom - top)))))
    return Raster.over((left, top, right, bottom), scale)


def _coloured(scene: Scene, view: View, wound: Polygon, raster: Raster, *, rounded: bool) -> Picture:
    """Return reflectance and depth of the body, shape (H, W, 4)."""
    skin, light = scene.skin, scene.light.direction
    place = skin.body, skin.body_turn_deg, skin.body_at_mm or view.aim_mm
    body = depth_of_body(*place, raster) if scene.limb is None else scene.limb.depth(*raster.axes())
    depth = np.zeros(raster.shape, np.float32) if wound.is_empty else depth_inside(wound, raster)
    around = Surroundings(scene.wound.redness, scene.wound.maceration) if scene.wound else None
    colour = skin_colour(skin, around, depth, raster, scene.random(2))
    put_nails(colour, nails(*place, raster), light)
    if rounded and scene.limb is None:
        colour *= roundness(skin.body, body, light)[..., None]
    share = np.clip(body * min(raster.px_per_mm, 1.5) + 0.5, 0, 1)[..., None]
    if body.min() < 1:
        sheet = cloth(raster, body, light, scene.random(5))
        colour = sheet + share * (colour - sheet)
    return np.dstack([colour, body])


def _hair(scene: Scene, view: View, px_per_mm: float) -> tuple[Raster, Picture] | None:
    if scene.skin.hair <= 0:
        return None
    x, y = view.aim_mm
    bounds = x - _HAIR_REACH_MM, y - _HAIR_REACH_MM, x + _HAIR_REACH_MM, y + _HAIR_REACH_MM
    raster = Raster.over(bounds, _HAIR_SCALE)
    return raster, softened(hairs(scene.skin.hair, raster, scene.random(6)), raster, px_per_mm)


def _sticker_shadows(scene: Scene, raster: Raster, outlines: Outlines) -> Picture:
    """Return the light left where stickers keep it from the skin."""
    light = np.ones(raster.shape, np.float32)
    towards = np.array(scene.light.direction)
    for outline, height in outlines:
        lift = max(height, 0.0)  # what lies lower than the wound still touches the skin
        mask = np.zeros(raster.shape, np.float32)
        away = outline - towards * (0.35 + 0.7 * lift)
        cv2.fillPoly(mask, [np.rint(raster.to_px(away) * 16).astype(np.int32)], 1.0, cv2.LINE_8, shift=4)
        soft = cv2.GaussianBlur(mask, (0, 0), (0.4 + 0.35 * lift) * raster.px_per_mm)
        light *= 1 - 0.45 * soft
    return light
