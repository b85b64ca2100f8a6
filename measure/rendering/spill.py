"""What lies on the bed of a wound and hides its tissue: a pool of fresh blood, or what a dressing left behind."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from . import field as noise
from .raster import Picture, Raster
from .scene import Scene
from .sensor import decoded

Generator = np.random.Generator

_BLOOD = ((138, 12, 14), (104, 6, 9), (70, 4, 7))
"""sRGB of fresh blood from a thin film to a deep pool: more saturated than any granulation."""

_RESIDUES = ((194, 205, 212), (231, 229, 223), (146, 152, 158))
"""sRGB of what dressings leave: bluish-white gel, white paste, grey fibres; chance picks one for a wound."""

_BLOOD_EDGE_MM, _RESIDUE_EDGE_MM = 0.9, 1.6  # over which each passes into the bed
_DEEP_MM = 4.0  # from its edge, where a pool has its darkest colour


@dataclass(frozen=True, eq=False)
class Spill:
    """One layer over the bed, on the raster of the wound.

    Attributes
    ----------
    cover : ndarray, shape (H, W)
        How much of the bed it hides, 0 to 1.
    hides : ndarray of bool, shape (H, W)
        Where it hides the tissue: half of it or more.
    colour : ndarray, shape (H, W, 3)
        Its linear reflectance.
    height : ndarray, shape (H, W)
        Height in mm that it adds.
    wet : bool
        Liquid, with a level surface that mirrors; else a dull crust.
    px_per_mm : float
        Of the raster.
    """

    cover: Picture
    hides: NDArray[np.bool_]
    colour: Picture
    height: Picture
    wet: bool
    px_per_mm: float

    @classmethod
    def over(cls, scene: Scene, depth: Picture, raster: Raster) -> "tuple[Spill, ...]":
        """Return what lies on the wound of a scene, the lowest first; ``depth`` is in mm inside the outline."""
        wound, spills = scene.wound, list[Spill]()
        if wound is None:
            return ()
        free = depth > 0
        if wound.residue > 0:
            spills.append(_residue(wound.residue, free, depth, raster, scene.random(14)))
            free = free & ~spills[0].hides
        if wound.blood > 0:
            spills.append(_blood(wound.blood, free, depth, raster, scene.random(13)))
        return tuple(spills)

    def dye(self, colour: Picture) -> None:
        """Lay its colour over the bed's, in place."""
        colour += self.cover[..., None] * (self.colour - colour)

    def level(self, height: Picture) -> Picture:
        """Return the height of the surface in mm, that of the bed given."""
        reach = (1.2 if self.wet else 0.35) * self.px_per_mm
        return height + self.cover * (cv2.GaussianBlur(height, (0, 0), reach) + self.height - height)

    def gloss(self, mirror: Picture) -> Picture:
        """Return the light that its surface mirrors; ``mirror`` is 1 where it faces half way to the light."""
        return 0.003 + 0.8 * mirror**160 if self.wet else 0.02 * mirror**12


def _residue(fraction: float, free: NDArray[np.bool_], depth: Picture, raster: Raster, random: Generator) -> Spill:
    """Return a flat, dull layer of one colour in patches anywhere on the wound."""
    scale = raster.px_per_mm
    liking = noise.fractal(raster.shape, 9 * scale, 3, random, decay=0.6)
    hides, away = _patch(fraction, free, depth > 0, liking, scale)
    shade = 1 + 0.04 * noise.fractal(raster.shape, 1.5 * scale, 3, random)
    colour = shade[..., None] * decoded(random.choice(_RESIDUES)).astype(np.float32)
    height = np.asarray(0.25 * np.tanh(np.maximum(away, 0)), np.float32)
    return Spill(_soft(away, _RESIDUE_EDGE_MM), hides, colour, height, wet=False, px_per_mm=scale)


def _blood(fraction: float, free: NDArray[np.bool_], depth: Picture, raster: Raster, random: Generator) -> Spill:
    """Return a pool that gathers away from the edge: deeper is darker, level but for its rim and slow waves."""
    scale = raster.px_per_mm
    liking = noise.fractal(raster.shape, 16 * scale, 4, random, decay=0.4)
    liking += np.float32(0.35) * np.minimum(depth, 5)
    hides, away = _patch(fraction, free, depth > 0, liking, scale)
    deep = np.clip(away / _DEEP_MM + 0.25 * noise.fractal(raster.shape, 8 * scale, 2, random), 0, 1) * (away > 0)
    film, middle, pool = (decoded(colour).astype(np.float32) for colour in _BLOOD)
    thin, thick = np.clip(2 * deep, 0, 1)[..., None], np.clip(2 * deep - 1, 0, 1)[..., None]
    colour = film + thin * (middle - film) + thick * (pool - middle)
    height = 0.5 * np.tanh(np.maximum(away, 0) / 0.8) + 0.14 * noise.smooth(raster.shape, 7 * scale, random)
    return Spill(_soft(away, _BLOOD_EDGE_MM), hides, colour, height, wet=True, px_per_mm=scale)


def _patch(
    fraction: float, free: NDArray[np.bool_], inside: NDArray[np.bool_], liking: Picture, scale: float
) -> tuple[NDArray[np.bool_], Picture]:
    """Return the free pixels of greatest liking that make a fraction of the inside, and mm inside them."""
    share = fraction * inside.sum() / max(int(free.sum()), 1)
    hides = free & (liking >= np.quantile(liking[free], 1 - min(share, 1.0)))
    mask = hides.astype(np.uint8)
    away = cv2.distanceTransform(mask, cv2.DIST_L2, 5) - cv2.distanceTransform(1 - mask, cv2.DIST_L2, 5)
    return hides, away / np.float32(scale)


def _soft(away_mm: Picture, edge_mm: float) -> Picture:
    """Return a cover that is half at the edge and whole some way inside."""
    return np.asarray(np.clip(away_mm / np.float32(edge_mm) + np.float32(0.5), 0, 1))
