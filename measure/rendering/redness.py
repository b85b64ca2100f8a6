"""How red the skin round a wound truly is: its change of a* by distance from the edge."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from skimage.color import rgb2lab

from .distance import depth_inside
from .raster import Picture, Raster
from .rendering import _Stage
from .scene import Scene
from .truth import stickers_mm

BANDS_MM = ((0.0, 5.0), (5.0, 10.0), (10.0, 20.0))
"""From and to, in mm from the edge."""

FAR_MM = 40.0
"""Skin farther from the edge is that of the person: redness fades to a hundredth over some 40 mm."""

_WITHIN_MM = 1.0  # of the body's silhouette, where skin passes into what lies behind


@dataclass(frozen=True)
class Band:
    """The skin between two distances from the edge.

    Attributes
    ----------
    from_mm, to_mm : float
        The distances.
    change : float
        Mean a* (CIELAB, D65) of its skin less that of the skin far from the wound; NaN where the photo shows no skin.
    """

    from_mm: float
    to_mm: float
    change: float


def redness_round(scene: Scene) -> tuple[Band, ...]:
    """Return the true change of a* in each of `BANDS_MM`, over the skin that the photo shows.

    It is that of the reflectance without pores, hair and shading. Stickers, what covers them, the wound and what lies
    behind the body don't count.

    Raises
    ------
    ValueError
        If the scene has no wound.
    """
    if scene.wound is None:
        raise ValueError("This scene has no wound: give it one to ask for the redness round it.")
    stage = _Stage(scene)
    raster, colour = stage.bare_ground.raster, stage.bare_ground.colour
    away = -depth_inside(stage.wound_mm, raster)
    skin = (colour[..., 3] > _WITHIN_MM) & (away > 0) & _seen(stage, raster)
    a = _a_star(colour[..., :3])
    usual = _mean(a[skin & (away > FAR_MM)])
    return tuple(Band(low, high, _mean(a[skin & (away > low) & (away <= high)]) - usual) for low, high in BANDS_MM)


def _mean(values: NDArray[np.float64]) -> float:
    return float(values.mean()) if values.size else float("nan")


def _seen(stage: _Stage, raster: Raster) -> NDArray[np.bool_]:
    """Tell which pixels of a raster on the plane the photo shows, with nothing over them."""
    x, y = (np.broadcast_to(side, raster.shape).astype(np.float64) for side in raster.axes())
    camera = stage.scene.camera
    place = stage.view.project(np.column_stack([x.ravel(), y.ravel()])).reshape(*raster.shape, 2)
    seen = ((place >= 0) & (place <= (camera.width - 1, camera.height - 1))).all(axis=2)
    for outline in (*(polygon for polygon, _ in stickers_mm(stage.scene)), stage.scene.cover_mm()):
        shapely.prepare(outline)
        seen &= ~shapely.contains_xy(outline, x, y)
    return np.asarray(seen)


def _a_star(linear: Picture) -> NDArray[np.float64]:
    value = np.clip(linear, 0, 1)
    encoded = np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)
    return np.asarray(rgb2lab(encoded)[..., 1])
