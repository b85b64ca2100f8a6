"""What lies behind the body: a sheet or drape with folds."""

from functools import lru_cache

import cv2
import numpy as np

from . import field as noise
from .raster import Picture, Raster
from .sensor import decoded

_CLOTHS = ((225, 228, 230), (150, 190, 205), (126, 170, 158), (205, 215, 222))  # sRGB: cotton, pads, drape
_WEAVE = Raster(0.0, 0.0, 8.0, 256, 256)


def cloth(
    raster: Raster, depth_of_body_mm: Picture, light: tuple[float, float], random: np.random.Generator
) -> Picture:
    """Return the linear reflectance of a sheet with folds and the body's shadow on it, shape (H, W, 3)."""
    colour = decoded(_CLOTHS[int(random.integers(len(_CLOTHS)))]).astype(np.float32)
    shade = folds(raster, light, random)
    return colour * (0.85 * shade * _beside_body(depth_of_body_mm, raster.px_per_mm, light))[..., None]


def folds(raster: Raster, light: tuple[float, float], random: np.random.Generator) -> Picture:
    """Return the light on a sheet with folds relative to a smooth one, shape (H, W)."""
    scale = raster.px_per_mm
    waves = noise.fractal(raster.shape, 130 * scale, 2, random, decay=0.3)
    creases = np.exp(-((noise.fractal(raster.shape, 90 * scale, 2, random) / 0.22) ** 2))
    height = 1.0 * waves + 0.35 * cv2.GaussianBlur(creases, (0, 0), 4 * scale)
    return 1 + np.clip(noise.relief(height, 7 * scale, light), -0.35, 0.25) + 0.03 * waves


def _beside_body(depth_mm: Picture, scale: float, light: tuple[float, float]) -> Picture:
    """Return the light left on the sheet beside the body: a dark line of contact and a soft cast shadow."""
    body = (depth_mm > 0).astype(np.float32)
    move = np.array([[1, 0, -light[0] * 14 * scale], [0, 1, -light[1] * 14 * scale]])
    cast = cv2.warpAffine(body, move, body.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
    cast = cv2.GaussianBlur(cast, (0, 0), 9 * scale)
    contact = np.exp(np.minimum(depth_mm, 0) / 5)
    return np.asarray((1 - 0.5 * cast) * (1 - 0.45 * contact), np.float32)


@lru_cache(maxsize=1)
def weave() -> tuple[Raster, Picture]:
    """Return a tile of cloth that repeats without seams: relative brightness of its threads about 0."""
    random = np.random.default_rng(30)
    x, y = np.meshgrid(*(np.arange(256, dtype=np.float32),) * 2)
    threads = np.sin(2 * np.pi * x * 40 / 256) * np.sin(2 * np.pi * y * 40 / 256)
    grain = cv2.GaussianBlur(random.standard_normal((256, 256), np.float32), (0, 0), 1.0)
    return _WEAVE, (0.03 * threads + 0.02 * noise.normal(grain)).astype(np.float32)
