"""A wound at a later visit: the same outline, its edge moved inward by a known amount, seen by another camera."""

from dataclasses import dataclass

import numpy as np
from shapely import affinity

from measure.compare.laid_out import LaidOut, Precision, Traced, lay_out
from measure.outline import Outline
from measure.photo import read_photo
from measure.rendering import Camera, Rendering, Scene, Wound, jpeg, render

SMALL = {"width": 1344, "height": 1008, "distance_mm": 230.0}
"""A camera whose photos are soon rendered."""


@dataclass(frozen=True)
class Healed(Wound):
    """A wound whose edge advanced evenly by so many mm; then all of it lies farther to the right."""

    by_mm: float = 0.0
    right_mm: float = 0.0

    def polygon(self, random):
        """Return the outline on the plane."""
        shape = super().polygon(random)
        return affinity.translate(shape.buffer(-self.by_mm, quad_segs=16), self.right_mm)


@dataclass(frozen=True)
class Seen:
    """A rendered visit."""

    rendering: Rendering
    data: bytes
    laid: LaidOut

    @property
    def traced(self) -> Traced:
        """The photo with its true outline."""
        return self.laid.traced


_TAKEN: dict[str, tuple[Rendering, bytes]] = {}


def photographed(scene: Scene) -> tuple[Rendering, bytes]:
    """Render a scene once, and return it with its JPEG file."""
    if repr(scene) not in _TAKEN:
        rendering = render(scene)
        _TAKEN[repr(scene)] = rendering, jpeg(rendering)
    return _TAKEN[repr(scene)]


def see(scene: Scene, precision: Precision | None = None) -> Seen:
    """Render a visit and lay its photo out."""
    rendering, data = photographed(scene)
    outline = Outline(rendering.outline_px, rendering.holes_px)
    return Seen(
        rendering, data, lay_out(Traced(read_photo(data, "photo.jpg"), outline, precision or Precision()), "the photo")
    )


def camera(**words) -> Camera:
    """Return a camera with the sides and the distance of `SMALL`."""
    return Camera(**(SMALL | words))


def true_move(one: Seen, other: Seen) -> np.ndarray:
    """Return the 3 x 3 matrix that carries mm of the other's sticker to mm of the one's."""
    return np.linalg.inv(one.rendering.sticker_to_plane) @ other.rendering.sticker_to_plane
