"""The look of a wound: bed, edge and glare, painted on a patch of the plane."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from types import MappingProxyType

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry import Polygon

from . import field as noise
from .distance import cover, depth_inside
from .raster import Picture, Raster, softened
from .scene import Scene
from .sensor import decoded
from .skin import new_skin, tone
from .spill import Spill
from .wound import CLASSES, TISSUES, UNCLEAR, Wound, tissue_fractions, tissue_map

_MARGIN_MM = 4.0
_SHARPEST, _COARSEST = 16.0, 8.0  # px per mm
_EDGE_MM = 0.25
_LIGHT_HEIGHT = 1.1  # of the light above the plane, relative to its sideways reach

OUTSIDE = 255
"""Where a map of what a wound shows has no wound."""

_GRANULES = Raster(0.0, 0.0, 12.0, 480, 480)

_PALETTES: Mapping[str, tuple[tuple[int, int, int], ...]] = MappingProxyType(
    {
        "granulation": ((84, 20, 22), (136, 34, 34), (170, 56, 50), (196, 96, 86)),
        "slough": ((138, 112, 70), (180, 154, 98), (205, 186, 136), (222, 212, 178)),
        "necrotic": ((26, 22, 20), (40, 32, 28), (60, 45, 36), (96, 70, 52)),
        "epithelial": ((196, 116, 112), (214, 142, 136), (226, 162, 154), (234, 180, 170)),
    }
)
"""sRGB of each tissue from its dark to its light parts."""


@dataclass(frozen=True, eq=False)
class WoundPatch:
    """The wound on a raster of its own.

    Attributes
    ----------
    raster : Raster
        Of the pictures.
    look : ndarray, shape (H, W, 4)
        Linear colour, and depth inside the outline in mm.
    shown : ndarray of uint8, shape (H, W)
        Number in `CLASSES` of what each pixel shows, meaningful inside the outline.
    fractions : dict
        True fraction of the area by class.
    """

    raster: Raster
    look: Picture
    shown: NDArray[np.uint8]
    fractions: dict[str, float]

    @classmethod
    def of(cls, scene: Scene, polygon: Polygon, px_per_mm: float) -> "WoundPatch":
        """Paint the wound at about the photo's own resolution.

        Raises
        ------
        ValueError
            If the scene has no wound.
        """
        if scene.wound is None:
            raise ValueError("This scene has no wound: give it one to paint it.")
        left, top, right, bottom = polygon.bounds
        bounds = left - _MARGIN_MM, top - _MARGIN_MM, right + _MARGIN_MM, bottom + _MARGIN_MM
        raster = Raster.over(bounds, float(np.clip(px_per_mm, _COARSEST, _SHARPEST)))
        depth = depth_inside(polygon, raster)
        spills = Spill.over(scene, depth, raster)
        hidden = np.any([spill.hides for spill in spills], axis=0) if spills else np.zeros(raster.shape, bool)
        tissue = tissue_map(scene.wound, depth, hidden, raster, scene.random(3))
        colour = softened(_painted(scene, scene.wound, tissue, depth, raster, spills), raster, px_per_mm)
        shown = np.where(hidden, np.uint8(CLASSES.index(UNCLEAR)), tissue)
        return cls(raster, np.dstack([colour, depth]), shown, tissue_fractions(shown, depth))

    def share(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return how much of the wound shows at points of the plane, 0 to 1."""
        depth = np.ascontiguousarray(self.look[..., 3])
        return _share(self.raster.look_up(depth, x_mm, y_mm), x_mm, y_mm)

    def shows(self, x_mm: Picture, y_mm: Picture) -> NDArray[np.uint8]:
        """Return the number in `CLASSES` of what shows at points of the plane; `OUTSIDE` outside the outline."""
        depth = np.ascontiguousarray(self.look[..., 3])
        inside = self.raster.look_up(depth, x_mm, y_mm) > 0
        shown = self.raster.look_up(self._shown_beyond, x_mm, y_mm, between=cv2.INTER_NEAREST)
        return np.where(inside, shown, np.uint8(OUTSIDE))

    @cached_property
    def _shown_beyond(self) -> NDArray[np.uint8]:
        """What shows, carried on beyond the outline, so that a place just inside it finds no pixel from outside."""
        outside = self.look[..., 3] <= 0
        nearest = distance_transform_edt(outside, return_distances=False, return_indices=True)
        return np.asarray(self.shown[tuple(nearest)])

    def paint(self, linear: Picture, x_mm: Picture, y_mm: Picture) -> None:
        """Paint the wound over the ground's reflectance at points of the plane, in place."""
        seen = self.raster.look_up(self.look, x_mm, y_mm)
        share = _share(seen[..., 3], x_mm, y_mm)[..., None]
        linear += share * (seen[..., :3] - linear)


def _share(depth_mm: Picture, x_mm: Picture, y_mm: Picture) -> Picture:
    """Return a cover whose edge is soft over the greater of the true softness and a pixel of the photo."""
    pixel = np.hypot(x_mm[0, -1] - x_mm[0, 0], y_mm[0, -1] - y_mm[0, 0]) / max(x_mm.shape[1] - 1, 1)
    return cover(depth_mm, max(float(pixel), _EDGE_MM))


def _painted(  # noqa: PLR0913, PLR0917 - all that its look depends on
    scene: Scene,
    wound: Wound,
    tissue: NDArray[np.uint8],
    depth: Picture,
    raster: Raster,
    spills: tuple[Spill, ...],
) -> Picture:
    """Return the linear colour of the bed with its shading and glare, shape (H, W, 3)."""
    random, scale = scene.random(4), raster.px_per_mm
    weights = _mixed(tissue, scale, wound.width_mm)
    bumps = _bumps(raster, random)
    fibres = _fibres(raster, random)
    grain = noise.fractal(raster.shape, 2.5 * scale, 4, random)
    broad = noise.fractal(raster.shape, 9 * scale, 3, random)
    shades = {
        "granulation": 0.44 + 0.08 * bumps + 0.17 * broad + 0.08 * grain,
        "slough": 0.52 + 0.09 * fibres + 0.15 * broad + 0.07 * grain,
        "necrotic": 0.36 + 0.16 * broad + 0.10 * grain,
        "epithelial": 0.55 + 0.12 * broad + 0.06 * grain,
    }
    colour = np.zeros((*depth.shape, 3), np.float32)
    for name, share in zip(TISSUES, weights, strict=True):
        colour += share[..., None] * _graded(name, shades[name])
    _blend_with_skin(colour, weights[3], depth, scene.skin.ita_deg)
    height = _height(weights, depth, {"bumps": bumps, "fibres": fibres, "grain": grain, "broad": broad})
    for spill in spills:
        spill.dye(colour)
        height = spill.level(height)
    smooth = np.asarray(cv2.GaussianBlur(height, (0, 0), 0.10 * scale), np.float32)
    normal, light = _normals(smooth, scale), _towards(scene.light.direction)
    glare = _glare(_mirrored(normal, light), wound.moisture, raster, random)
    for spill in spills:
        glare += spill.cover * (spill.gloss(_mirrored(normal, light)) - glare)
    return _lit(colour, smooth, normal @ light / light[2], scale) + glare[..., None]


def _mixed(tissue: NDArray[np.uint8], scale: float, width_mm: float) -> list[Picture]:
    """Return the share of each tissue at each pixel: they pass into one another over some tenths of a mm.

    Eschar keeps a clear edge.
    """
    sharp = [cv2.GaussianBlur((tissue == n).astype(np.float32), (0, 0), 0.2 * scale) for n in range(len(TISSUES))]
    soft = [cv2.GaussianBlur(share, (0, 0), min(0.7, 0.03 * width_mm) * scale) for share in sharp]
    necrotic = sharp[TISSUES.index("necrotic")]
    mixed = [0.55 * near + 0.45 * wide for near, wide in zip(sharp, soft, strict=True)]
    mixed[TISSUES.index("necrotic")] = necrotic
    rest = (1 - necrotic) / np.maximum(sum(mixed) - necrotic, 1e-3)
    return [share if share is necrotic else share * rest for share in mixed]


def _graded(name: str, shade: Picture) -> Picture:
    """Return linear colours of a tissue's palette, for shades from 0 (dark) to 1 (light)."""
    palette = np.array([decoded(colour) for colour in _PALETTES[name]], np.float32)
    place = np.clip(shade, 0, 1) * (len(palette) - 1)
    steps = np.arange(len(palette), dtype=np.float32)
    return np.dstack([np.interp(place, steps, channel).astype(np.float32) for channel in palette.T])


def _blend_with_skin(colour: Picture, epithelium: Picture, depth: Picture, ita_deg: float) -> None:
    """Let new skin take on the tone of the old towards the edge, in place."""
    old = tone(ita_deg)
    colour *= (1 - 0.45 * epithelium * max(0.0, 1 - float(old[0]) / 0.45))[..., None]
    share = (epithelium * np.exp(-np.maximum(depth, 0) / 1.5))[..., None]
    colour += 0.65 * share * (new_skin(old) - colour)


@lru_cache(maxsize=1)
def _granules() -> Picture:
    """Return a tile of rounded bumps of some 1 to 2 mm that repeats without seams."""
    random = np.random.default_rng(40)
    height = np.zeros(_GRANULES.shape, np.float32)
    for size, strength in ((1.9, 1.0), (0.9, 0.7)):
        first, second = noise.cells(_GRANULES.shape, size * _GRANULES.px_per_mm, random)
        height += strength * np.sqrt(np.clip(second - first, 0, 1)) * np.clip(1.1 - first, 0, 1)
    return noise.normal(cv2.GaussianBlur(height, (0, 0), 1.6))


def _bumps(raster: Raster, random: np.random.Generator) -> Picture:
    """Return granules over a raster, bent so that the tile's repeat doesn't show."""
    x, y = raster.axes()
    bend = [0.7 * noise.smooth(raster.shape, 16 * raster.px_per_mm, random) + random.uniform(0, 40) for _ in range(2)]
    return _GRANULES.look_up(
        _granules(), (x + bend[0]).astype(np.float32), (y + bend[1]).astype(np.float32), cv2.BORDER_WRAP
    )


def _fibres(raster: Raster, random: np.random.Generator) -> Picture:
    """Return strands, as of fibrin."""
    scale = raster.px_per_mm
    turn = random.uniform(0, 180)
    strands = noise.stretched(raster.shape, (7 * scale, 0.9 * scale), random, turn)
    crossing = noise.stretched(raster.shape, (6 * scale, 1.2 * scale), random, turn + 70)
    return noise.normal(strands + 0.3 * crossing + 0.9 * noise.fractal(raster.shape, 2 * scale, 3, random))


def _height(weights: list[Picture], depth: Picture, fields: dict[str, Picture]) -> Picture:
    """Return the height of the bed in mm: sunk below the skin, bumpy, slough and eschar lying on it."""
    granulation, slough, necrotic, epithelium = weights
    sunk = -1.5 * np.tanh(np.maximum(depth, 0) / 1.6) * (1 - 0.8 * epithelium)
    height = sunk + granulation * (0.10 * fields["bumps"] + 0.03 * fields["grain"])
    height += slough * (0.35 + 0.05 * fields["fibres"] + 0.04 * fields["grain"])
    height += necrotic * (0.6 + 0.08 * fields["grain"] + 0.10 * fields["broad"])
    return height + 0.35 * fields["broad"] * np.clip(depth / 3, 0, 1)


def _towards(direction: tuple[float, float]) -> NDArray[np.float32]:
    light = np.array([*direction, _LIGHT_HEIGHT], np.float32)
    return np.asarray(light / np.linalg.norm(light))


def _lit(colour: Picture, height: Picture, facing: Picture, scale: float) -> Picture:
    """Return the colour with the light on its slopes and dark hollows; ``facing`` is 1 where the bed is flat."""
    hollow = np.clip(height - cv2.GaussianBlur(height, (0, 0), 1.2 * scale), -0.6, 0.3)
    return np.asarray(colour * ((0.42 + 0.58 * np.maximum(facing, 0)) * (1 + 0.45 * hollow))[..., None])


def _normals(height: Picture, scale: float) -> Picture:
    slope_x = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=scale / 8)
    slope_y = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=scale / 8)
    normal = np.dstack([-slope_x, -slope_y, np.ones_like(height)])
    return np.asarray(normal / np.linalg.norm(normal, axis=2, keepdims=True), np.float32)


def _glare(mirror: Picture, moisture: float, raster: Raster, random: np.random.Generator) -> Picture:
    """Return light mirrored by the wet surface towards the camera, in patches where a film of fluid stands."""
    film = np.clip(0.35 + 0.5 * noise.fractal(raster.shape, 6 * raster.px_per_mm, 2, random), 0, 1)
    return np.asarray(moisture * film * (0.05 * mirror**12 + 0.85 * mirror**220))


def _mirrored(normal: Picture, light: NDArray[np.float32]) -> Picture:
    """Return the cosine between each normal and the one that mirrors the light towards the camera."""
    half = light + np.array([0, 0, 1], np.float32)
    half /= np.linalg.norm(half)
    return np.asarray(np.maximum(normal @ half, 0))
