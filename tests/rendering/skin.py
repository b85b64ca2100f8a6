"""The skin: its tone by individual typology angle, and its fine relief."""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from . import field as noise
from .raster import Picture, Raster

_TILE = Raster(0.0, 0.0, 8.0, 768, 768)

_ITA = (-60.0, -30.0, 10.0, 28.0, 41.0, 60.0)
_A_STAR = (8.5, 11.5, 13.0, 12.0, 10.5, 8.5)
_B_STAR = (11.0, 17.0, 20.5, 19.0, 16.5, 12.5)
_D65 = np.array([0.95047, 1.0, 1.08883])
_SRGB_OF_XYZ = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


@dataclass(frozen=True)
class Skin:
    """The skin round the wound.

    Attributes
    ----------
    ita_deg : float
        Individual typology angle of its mean colour: above 55 very light, below -30 dark.
    relief : float
        Strength of pores and creases; 1 is usual, 0 is wax.
    hair : float
        Density of hairs, 0 to 1.
    veins : float
        Strength of veins, 0 to 1.
    body : str
        Part of the body that gives the silhouette; see `body.BODIES`.
    """

    ita_deg: float = 30.0
    relief: float = 1.0
    hair: float = 0.0
    veins: float = 0.3
    body: str = "trunk"


def tone(ita_deg: float) -> NDArray[np.float32]:
    """Return the linear RGB reflectance of skin of this typology angle, arctan((L* - 50) / b*), shape (3,).

    a* and b* follow the angle as in published ranges of human skin (Chardon et al. 1991, Int J Cosmet Sci 13, 191).
    """
    a, b = np.interp(ita_deg, _ITA, _A_STAR), np.interp(ita_deg, _ITA, _B_STAR)
    lightness = 50 + b * np.tan(np.radians(ita_deg))
    fy = (lightness + 16) / 116
    xyz = _D65 * np.array([_lab_inverse(fy + a / 500), _lab_inverse(fy), _lab_inverse(fy - b / 200)])
    return np.maximum(_SRGB_OF_XYZ @ xyz, 0.005).astype(np.float32)


def _lab_inverse(value: float) -> float:
    return value**3 if value > 6 / 29 else 3 * (6 / 29) ** 2 * (value - 4 / 29)


@lru_cache(maxsize=1)
def micro_relief() -> tuple[Raster, Picture]:
    """Return a tile of skin that repeats without seams: relative brightness of pores and creases about 0."""
    random = np.random.default_rng(20)
    first, second = noise.cells(_TILE.shape, 0.9 * _TILE.px_per_mm, random, stretch=1.3)
    creases = np.minimum(1, 2.5 * (second - first))
    grain = cv2.GaussianBlur(random.standard_normal(_TILE.shape, np.float32), (0, 0), 0.8)
    height = cv2.GaussianBlur(creases, (0, 0), 0.9) + 0.15 * noise.normal(grain)
    shade = noise.relief(height, 0.35, (0.7, 0.7)) + 0.10 * (height - height.mean())
    return _TILE, shade - shade.mean()
