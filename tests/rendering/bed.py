"""The look of a wound: bed, edge and glare, painted on a patch of the plane."""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from . import field as noise
from .distance import cover, depth_inside
from .raster import Picture, Raster
from .scene import Scene
from .sensor import decoded
from .wound import TISSUES, tissue_fractions, tissue_map

_MARGIN_MM = 4.0
_SHARPEST, _COARSEST = 16.0, 8.0  # px per mm
_EDGE_MM = 0.25

_COLOURS = {
    "granulation": (158, 42, 40),
    "slough": (205, 178, 104),
    "necrotic": (46, 36, 32),
    "epithelial": (224, 150, 146),
}  # sRGB


@dataclass(frozen=True, eq=False)
class WoundPatch:
    """The wound on a raster of its own.

    Attributes
    ----------
    raster : Raster
        Of the pictures.
    look : ndarray, shape (H, W, 4)
        Linear colour, and depth inside the outline in mm.
    fractions : dict
        True fraction of the area by tissue.
    """

    raster: Raster
    look: Picture
    fractions: dict[str, float]

    @classmethod
    def of(cls, scene: Scene, polygon: Polygon, px_per_mm: float) -> "WoundPatch":
        """Paint the wound at about the photo's own resolution."""
        left, top, right, bottom = polygon.bounds
        bounds = left - _MARGIN_MM, top - _MARGIN_MM, right + _MARGIN_MM, bottom + _MARGIN_MM
        raster = Raster.over(bounds, float(np.clip(px_per_mm, _COARSEST, _SHARPEST)))
        depth = depth_inside(polygon, raster)
        tissue = tissue_map(scene.wound, depth, raster, scene.random(3))
        random = scene.random(4)
        table = np.array([decoded(_COLOURS[name]) for name in TISSUES], np.float32)
        colour = table[tissue] * (1 + 0.12 * noise.fractal(raster.shape, 3 * raster.px_per_mm, 4, random))[..., None]
        return cls(raster, np.dstack([colour, depth]), tissue_fractions(tissue, depth))

    def share(self, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return how much of the wound shows at points of the plane, 0 to 1."""
        depth = self.look[..., 3]
        return self._share(self.raster.look_up(np.ascontiguousarray(depth), x_mm, y_mm, _EDGE), x_mm, y_mm)

    def paint(self, linear: Picture, x_mm: Picture, y_mm: Picture) -> None:
        """Paint the wound over the ground's reflectance at points of the plane, in place."""
        seen = self.raster.look_up(self.look, x_mm, y_mm, _EDGE)
        share = self._share(seen[..., 3], x_mm, y_mm)[..., None]
        linear += share * (seen[..., :3] - linear)

    def _share(self, depth_mm: Picture, x_mm: Picture, y_mm: Picture) -> Picture:
        """Return a cover whose edge is soft over the greater of the true softness and a pixel of the photo."""
        pixel = np.hypot(np.gradient(x_mm, axis=1), np.gradient(y_mm, axis=0))
        return cover(depth_mm, np.maximum(pixel, np.float32(_EDGE_MM)))


_EDGE = 1  # cv2.BORDER_REPLICATE
