"""The skin: its tone by individual typology angle, what colours it round a wound, its fine relief and hair."""

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from . import field as noise
from .raster import Picture, Raster
from .sensor import decoded

_TILE = Raster(0.0, 0.0, 8.0, 768, 768)

_ITA = (-60.0, -30.0, 10.0, 28.0, 41.0, 60.0)
_A_STAR = (8.5, 11.5, 13.0, 12.0, 10.5, 8.5)
_B_STAR = (11.0, 17.0, 20.5, 19.0, 16.5, 12.5)
_D65 = np.array([0.95047, 1.0, 1.08883])
_SRGB_OF_XYZ = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])

_BLOOD = np.array([0.10, 0.50, 0.42], np.float32)  # loss of log reflectance with more blood: red survives
_PIGMENT = np.array([0.45, 0.75, 0.95], np.float32)  # and with more melanin
_VEIN = np.array([0.32, 0.17, 0.12], np.float32)  # deep blood looks blue: red is lost
_NEW_SKIN = decoded((232, 168, 160)).astype(np.float32)
_WET_SKIN = decoded((236, 222, 205)).astype(np.float32)
_NAIL = decoded((238, 205, 192)).astype(np.float32)
_HAIR = np.array([0.035, 0.025, 0.02], np.float32)


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
        Part of the body that gives the silhouette; a key of `body.BODIES`.
    body_turn_deg : float
        Its turn on the plane.
    body_at_mm : tuple of float, optional
        Where its middle lies on the plane; without it at the point aimed at.
    """

    ita_deg: float = 30.0
    relief: float = 1.0
    hair: float = 0.0
    veins: float = 0.3
    body: str = "shin"
    body_turn_deg: float = 0.0
    body_at_mm: tuple[float, float] | None = None


@dataclass(frozen=True)
class Surroundings:
    """How a wound changes the skin round it; strengths from 0 to 1."""

    redness: float
    maceration: float


def tone(ita_deg: float) -> NDArray[np.float32]:
    """Return the linear RGB reflectance of skin of this typology angle, arctan((L* - 50) / b*), shape (3,).

    The angle is that of Chardon et al. 1991 (Int J Cosmet Sci 13, 191); a* and b* follow it as usual in human skin.
    """
    a, b = np.interp(ita_deg, _ITA, _A_STAR), np.interp(ita_deg, _ITA, _B_STAR)
    lightness = 50 + b * np.tan(np.radians(ita_deg))
    fy = (lightness + 16) / 116
    xyz = _D65 * np.array([_lab_inverse(fy + a / 500), _lab_inverse(fy), _lab_inverse(fy - b / 200)])
    return np.asarray(np.maximum(_SRGB_OF_XYZ @ xyz, 0.005), np.float32)


def _lab_inverse(value: float) -> float:
    return value**3 if value > 6 / 29 else 3 * (6 / 29) ** 2 * (value - 4 / 29)


def skin_colour(
    skin: Skin, around: Surroundings | None, depth_mm: Picture, raster: Raster, random: np.random.Generator
) -> Picture:
    """Return the linear reflectance of skin, shape (H, W, 3), about its tone.

    ``depth_mm`` is the depth inside the wound, negative outside; it matters only where there are surroundings.
    """
    scale = raster.px_per_mm
    blood = 0.06 * noise.fractal(raster.shape, 22 * scale, 4, random, decay=0.7)
    pigment = 0.045 * noise.fractal(raster.shape, 45 * scale, 5, random, decay=0.75)
    pigment += 0.5 * _freckles(raster, random)
    if around is not None:
        blood += _inflamed(around, depth_mm, scale, random) * _visible_blood(skin.ita_deg)
    loss = blood[..., None] * _BLOOD + pigment[..., None] * _PIGMENT
    loss += (skin.veins * _visible_blood(skin.ita_deg) * _veins(raster, random))[..., None] * _VEIN
    colour = tone(skin.ita_deg) * np.exp(-loss)
    if around is not None:
        _heal_and_soak(colour, around, depth_mm, scale, random)
    return colour


def _visible_blood(ita_deg: float) -> float:
    """Return how much blood shows through the pigment: fully in light skin, a third in dark skin."""
    return float(np.interp(ita_deg, (-50, 40), (0.4, 1.0)))


def _inflamed(around: Surroundings, depth_mm: Picture, scale: float, random: np.random.Generator) -> Picture:
    """Return the blood added round the wound: strong at the edge, fading out irregularly over some 15 mm."""
    reach = 9 * np.exp(0.45 * noise.fractal(depth_mm.shape, 25 * scale, 3, random))
    outside = np.maximum(-depth_mm, 0)
    return np.asarray(around.redness * (1.1 * np.exp(-outside / reach) + 0.7 * np.exp(-outside / 1.5)))


def _heal_and_soak(
    colour: Picture, around: Surroundings, depth_mm: Picture, scale: float, random: np.random.Generator
) -> None:
    """Turn the skin beside the edge paler and wet, and lay new pink skin along it, in place."""
    outside = np.maximum(-depth_mm, 0)
    patchy = np.clip(0.6 + 0.5 * noise.fractal(depth_mm.shape, 14 * scale, 3, random), 0, 1)
    width = 2.2 * np.exp(0.35 * noise.fractal(depth_mm.shape, 10 * scale, 2, random))
    soaked = around.maceration * patchy * np.exp(-((outside / width) ** 2))
    tone_here = colour.mean(axis=(0, 1))
    flaky = np.clip(0.8 + 0.25 * noise.fractal(depth_mm.shape, 2.5 * scale, 2, random), 0, 1.2)
    soaked = (0.7 * soaked * flaky * min(1.0, 0.45 + float(tone_here[0])))[..., None]
    colour += soaked * (0.3 * _WET_SKIN + 0.7 * tone_here + 0.15 * (1 - tone_here) - colour)
    new = (0.55 * (1.3 - patchy) * np.exp(-((outside / (0.4 * width)) ** 2)))[..., None]
    colour += new * (new_skin(tone_here) - colour)


def new_skin(tone_of_old: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the linear reflectance of thin new skin: pink, and nearer to the old tone where that is dark."""
    return 0.5 * _NEW_SKIN * (0.2 + 0.8 * min(1.0, float(tone_of_old[0]) / 0.5)) + 0.5 * tone_of_old


def _freckles(raster: Raster, random: np.random.Generator) -> Picture:
    """Return scattered small spots, 0 to 1."""
    left, top, right, bottom = raster.bounds
    spots = np.zeros(raster.shape, np.float32)
    for _ in range(int((right - left) * (bottom - top) / 2500)):
        x, y = raster.to_px(np.array([[random.uniform(left, right), random.uniform(top, bottom)]]))[0]
        radius = random.gamma(3.0, 0.25) * raster.px_per_mm
        cv2.circle(spots, (round(x * 16), round(y * 16)), round(radius * 16), random.uniform(0.1, 0.7), -1, 8, 4)
    return np.asarray(cv2.GaussianBlur(spots, (0, 0), 0.35 * raster.px_per_mm), np.float32)


def _veins(raster: Raster, random: np.random.Generator) -> Picture:
    """Return soft branching lines, about 0 to 1."""
    veins = np.zeros(raster.shape, np.float32)
    left, top, right, bottom = raster.bounds
    for _ in range(5):
        at = np.array([random.uniform(left, right), random.uniform(top, bottom)])
        heading = random.uniform(0, 2 * np.pi)
        turns = 0.16 * np.cumsum(random.standard_normal(80)) * 0.6
        steps = 3.0 * np.column_stack([np.cos(heading + turns), np.sin(heading + turns)])
        path = raster.to_px(at + np.cumsum(steps, axis=0))
        width = max(round(random.uniform(1.2, 2.6) * raster.px_per_mm), 1)
        cv2.polylines(veins, [np.rint(path * 16).astype(np.int32)], isClosed=False, color=1.0, thickness=width, shift=4)
    return np.asarray(cv2.GaussianBlur(veins, (0, 0), 1.3 * raster.px_per_mm), np.float32)


@lru_cache(maxsize=1)
def micro_relief() -> tuple[Raster, Picture]:
    """Return a tile of skin that repeats without seams: relative brightness of pores and creases about 0."""
    random = np.random.default_rng(20)
    height = np.zeros(_TILE.shape, np.float32)
    for size, stretch, strength in ((1.3, 1.5, 0.6), (0.6, 1.2, 0.45)):
        first, second = noise.cells(_TILE.shape, size * _TILE.px_per_mm, random, stretch)
        height += strength * np.minimum(1, 2.2 * (second - first))
    grain = noise.normal(cv2.GaussianBlur(random.standard_normal(_TILE.shape, np.float32), (0, 0), 1.0))
    coarse = noise.normal(cv2.GaussianBlur(random.standard_normal(_TILE.shape, np.float32), (0, 0), 9.0))
    height = cv2.GaussianBlur(height, (0, 0), 0.7) + 0.10 * grain
    shade = noise.relief(height, 0.13, (0.7, 0.7)) + 0.022 * noise.normal(height) + 0.012 * coarse
    return _TILE, (shade - shade.mean()).astype(np.float32)


def hairs(density: float, raster: Raster, random: np.random.Generator) -> Picture:
    """Return how much of each pixel hair covers, shape (H, W)."""
    cover = np.zeros(raster.shape, np.uint8)
    left, top, right, bottom = raster.bounds
    lie = random.uniform(0, 2 * np.pi)
    for _ in range(int(density * 0.05 * (right - left) * (bottom - top))):
        root = np.array([random.uniform(left, right), random.uniform(top, bottom)])
        length, angle = random.uniform(2, 8), lie + random.normal(0, 0.3)
        along = np.linspace(0, length, 7)
        bend = angle + random.normal(0, 0.07) * along
        path = root + np.column_stack([along * np.cos(bend), along * np.sin(bend)])
        points = np.rint(raster.to_px(path) * 16).astype(np.int32)
        shade = int(random.integers(70, 190))
        cv2.polylines(cover, [points], isClosed=False, color=shade, lineType=cv2.LINE_AA, shift=4)
    return np.asarray(cover.astype(np.float32) / 255, np.float32)


def put_hair(linear: Picture, cover: Picture) -> None:
    """Paint hair over reflectance, in place."""
    linear += cover[..., None] * (_HAIR - linear)


def put_nails(colour: Picture, cover: Picture, light: tuple[float, float]) -> None:
    """Paint nails over skin, in place: paler, with a dark fold round them and a shine towards the light."""
    if cover.max() <= 0:
        return
    fold = 4 * cover * (1 - cover)
    bulge = np.asarray(cv2.GaussianBlur(cover, (0, 0), 6.0), np.float32)
    shine = np.clip(noise.relief(bulge, 1.5, light), 0, 0.12) * cover
    colour += (0.8 * cover)[..., None] * (0.62 * colour + 0.3 * _NAIL - colour)
    colour *= (1 - 0.28 * fold)[..., None]
    colour += shine[..., None]
