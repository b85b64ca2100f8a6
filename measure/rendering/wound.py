"""The wound: its outline on the plane, and which tissue covers which part of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from . import field as noise
from .raster import Picture, Raster

TISSUES = ("granulation", "slough", "necrotic", "epithelial")
"""Tissue classes, in the order of their numbers in a tissue map."""

UNCLEAR = "unclear"
"""The class of what shows no tissue: blood or residue of a dressing lies over it."""

CLASSES = (*TISSUES, UNCLEAR)
"""What a place of a wound can show, in the order of the numbers in a map of it."""

_VERTICES = 720
_ROUGHNESS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "ellipse": (),
        "blob": (0.0, 0.10, 0.09, 0.06, 0.05, 0.035, 0.025, 0.02, 0.015, 0.012),
        "lobed": (0.0, 0.10, 0.22, 0.10, 0.06, 0.04, 0.03, 0.02),
    }
)  # relative strength of each wave round the outline


@dataclass(frozen=True)
class Wound:
    """An open wound, centred on the origin of the plane.

    Attributes
    ----------
    shape : str
        ``blob``, ``ellipse`` or ``lobed``.
    length_mm, width_mm : float
        Extents along its own axes, before the turn.
    turn_deg : float
        Turn on the plane.
    island_mm : float
        Diameter of an island of healed skin; 0 for none. The island is not part of the wound.
    tissue : mapping
        Fractions that each of `TISSUES` shall cover of the area that neither blood nor residue hides; they sum to 1.
    redness, maceration : float
        Strength (0 to 1) of reddened skin and of pale wet skin round the wound.
    moisture : float
        0 dry to 1 wet: strength of glare spots.
    blood, residue : float
        Fractions of the area that lie under a pool of fresh blood, and under what a dressing left behind.
    shape_seed : int, optional
        Of the outline, so that the same wound can be shown in several scenes; without it the scene's.
    advance_mm : float
        How far the edge has moved inwards since the wound had its length and width; negative where it has grown.
    """

    shape: str = "blob"
    length_mm: float = 40.0
    width_mm: float = 25.0
    turn_deg: float = 0.0
    island_mm: float = 0.0
    tissue: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType({"granulation": 0.72, "slough": 0.18, "epithelial": 0.10})
    )
    redness: float = 0.5
    maceration: float = 0.3
    moisture: float = 0.6
    blood: float = 0.0
    residue: float = 0.0
    shape_seed: int | None = None
    advance_mm: float = 0.0

    def polygon(self, random: np.random.Generator) -> Polygon:
        """Return the outline, with the island as a hole, in mm on the plane."""
        random = random if self.shape_seed is None else np.random.default_rng((self.shape_seed, 1))
        ring = _ring(_ROUGHNESS[self.shape], random)
        low, high = ring.min(axis=0), ring.max(axis=0)
        ring = (ring - (low + high) / 2) / (high - low) * (self.length_mm, self.width_mm)
        holes = [_island(self.island_mm, random)] if self.island_mm else []
        polygon = affinity.rotate(Polygon(ring, holes), self.turn_deg, origin=(0, 0))
        if not polygon.is_valid:
            raise ValueError(f"An island of {self.island_mm} mm does not fit into this wound: make it smaller.")
        return _advanced(polygon, self.advance_mm) if self.advance_mm else polygon


def _advanced(polygon: Polygon, advance_mm: float) -> Polygon:
    """Return what is left of a wound whose edge has moved inwards everywhere; the largest part where it falls apart."""
    left = max(shapely.get_parts(polygon.buffer(-advance_mm)), key=lambda part: part.area, default=Polygon())
    if left.is_empty:
        raise ValueError(f"An edge that moves {advance_mm} mm closes this wound: show skin without a wound.")
    return Polygon(left)


def _ring(waves: tuple[float, ...], random: np.random.Generator) -> NDArray[np.float64]:
    """Return a closed curve round the origin with random waves, shape (720, 2)."""
    angle = np.linspace(0, 2 * np.pi, _VERTICES, endpoint=False)
    radius = np.ones_like(angle)
    for number, strength in enumerate(waves, start=1):
        size = strength * random.uniform(0.7, 1.2)
        radius += size * np.cos(number * angle + random.uniform(0, 2 * np.pi))
    return np.asarray(radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]))


def _island(diameter: float, random: np.random.Generator) -> NDArray[np.float64]:
    ring = _ring((0.0, 0.12, 0.08, 0.04), random) * diameter / 2
    return ring + random.uniform(-0.3, 0.3, 2) * diameter


def tissue_map(
    wound: Wound, depth_mm: Picture, hidden: NDArray[np.bool_], raster: Raster, random: np.random.Generator
) -> NDArray[np.uint8]:
    """Return the number in `TISSUES` of each pixel, shape (H, W), meaningful where ``depth_mm`` is positive.

    Epithelium grows from the edge, slough lies in strands, necrosis in patches; each gets its fraction of the area that
    is not ``hidden``.
    """
    inside = depth_mm > 0
    scale = raster.px_per_mm
    wobble = noise.fractal(raster.shape, 5 * scale, 3, random)
    edge = -depth_mm * np.exp(0.55 * wobble)
    strands = noise.stretched(raster.shape, (9 * scale, 3 * scale), random, random.uniform(0, 180))
    strands += 0.9 * noise.fractal(raster.shape, 6 * scale, 5, random, decay=0.68)
    patches = noise.fractal(raster.shape, 0.5 * wound.length_mm * scale, 4, random) + 0.12 * np.minimum(depth_mm, 6)
    tissue = np.zeros(raster.shape, np.uint8)
    for name, liking in (("epithelial", edge), ("necrotic", patches), ("slough", strands)):
        taken = _taken(inside & (tissue == 0), inside & ~hidden, liking, wound.tissue.get(name, 0.0))
        tissue[taken] = TISSUES.index(name)
    return tissue


def _taken(
    free: NDArray[np.bool_], seen: NDArray[np.bool_], liking: NDArray[np.floating], fraction: float
) -> NDArray[np.bool_]:
    """Return the free pixels of greatest liking, so many that they are this fraction of all that is seen."""
    choice = liking[free & seen]
    share = fraction * seen.sum() / max(choice.size, 1)
    if share <= 0 or choice.size == 0:
        return np.zeros_like(free)
    return np.asarray(free & (liking >= np.quantile(choice, 1 - min(share, 1.0))))


def tissue_fractions(shown: NDArray[np.uint8], depth_mm: Picture) -> dict[str, float]:
    """Return the fraction of the area that shows each class, in the order of `CLASSES`."""
    counts = np.bincount(shown[depth_mm > 0], minlength=len(CLASSES))
    return {name: float(count / counts.sum()) for name, count in zip(CLASSES, counts, strict=True)}
