"""A close-up: a scene with further wounds, marks of the skin and things that lie about, and the mask of its wounds."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from calibration.sticker import LAYOUTS

from .bed import WoundPatch
from .cover import CoverPatch
from .mark import Mark
from .raster import Picture
from .rendering import _Stage, _Strip
from .scene import Scene
from .sticker import outline_on_plane
from .thing import Thing
from .wound import Wound

_BESIDE_MM = 12.0  # round the photo, from which things still throw a shadow into it


@dataclass(frozen=True)
class CloseUp:
    """What a close-up shows.

    Attributes
    ----------
    scene : Scene
        Stickers, skin, camera and light, and the first wound if there is one.
    others : tuple of (Wound, tuple of float)
        Further wounds, and where on the plane their middles lie.
    marks : tuple of Mark
        On the skin, below the wounds.
    things : tuple of Thing
        Over all else, the last uppermost.
    dye : tuple of float
        Factors of the wounds' linear red, green and blue: beds differ more than one palette shows.
    """

    scene: Scene
    others: tuple[tuple[Wound, tuple[float, float]], ...] = ()
    marks: tuple[Mark, ...] = ()
    things: tuple[Thing, ...] = ()
    dye: tuple[float, float, float] = (1.0, 1.0, 1.0)

    def render(self) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
        """Return the pixels as the camera gives them, shape (H, W, 3), and the mask of what is seen of the wounds."""
        stage = _CloseUpStage(self)
        return stage.photo(), stage.mask()


class _CloseUpStage(_Stage):
    """Renders the whole of a small photo as one strip."""

    def __init__(self, closeup: CloseUp) -> None:
        super().__init__(closeup.scene)
        self.closeup = closeup
        self.wounds = self._wounds()
        self.wound_mm = cast("Polygon", unary_union([polygon for _, polygon in self.wounds]))

    def _wounds(self) -> list[tuple[Scene, Polygon]]:
        """Return each wound as a scene of its own, and its polygon on the plane."""
        wounds = [(self.scene, self.scene.wound_mm())] if self.scene.wound else []
        for number, (wound, at_mm) in enumerate(self.closeup.others, 1):
            alone = replace(self.scene, wound=wound, seed=self.scene.seed + 1_000_003 * number)
            wounds.append((alone, affinity.translate(alone.wound_mm(), *at_mm)))
        return wounds

    @cached_property
    def patches(self) -> list[WoundPatch]:
        patches = [WoundPatch.of(scene, polygon, self.px_per_mm) for scene, polygon in self.wounds]
        for patch in patches:
            patch.look[..., :3] *= self.closeup.dye
        return patches

    @cached_property
    def covers(self) -> list[CoverPatch]:
        random = self.scene.random(11)
        made = [
            thing.patch(self._seen_mm(), self.scene.light.direction, self.px_per_mm, random)
            for thing in self.closeup.things
        ]
        return [patch for patch in made if patch is not None]

    def _seen_mm(self) -> Polygon:
        """Return the part of the plane that the photo shows, and a little more."""
        camera = self.scene.camera
        ends = np.linspace(0, camera.width - 1, 5), np.linspace(0, camera.height - 1, 5)
        x, y = self.view.millimetres(*ends)
        return shapely.MultiPoint(np.column_stack([x.ravel(), y.ravel()])).convex_hull.buffer(_BESIDE_MM)

    @cached_property
    def whole(self) -> _Strip:
        height = self.scene.camera.height
        return _Strip(0, height, 0, height)

    @cached_property
    def places(self) -> tuple[Picture, Picture]:
        """Where each pixel looks: x and y in mm."""
        return self.view.millimetres(self.columns, self.whole.wide)

    def photo(self) -> NDArray[np.uint8]:
        """Return the pixels, shape (H, W, 3)."""
        linear = self.scene.sensor.blurred(self.light_of(self.whole))
        return self.scene.sensor.developed(linear, np.random.default_rng((self.scene.seed, 9)))

    def mask(self) -> NDArray[np.bool_]:
        """Return the pixels that show wound, shape (H, W): at least half of them, and nothing lies over it."""
        wound = np.zeros(self.places[0].shape, np.float32)
        for patch in self.patches:
            wound = np.maximum(wound, patch.share(*self.places))
        for thing in self.covers:
            wound *= 1 - thing.share(*self.places)
        for sticker, pose in zip(self.scene.stickers, self.poses, strict=True):
            outline = Polygon(outline_on_plane(LAYOUTS[sticker.layout], pose))
            shapely.prepare(outline)
            wound *= ~shapely.contains_xy(outline, *(side.astype(np.float64) for side in self.places))
        return wound >= 0.5

    def _put_wound(self, linear: Picture, _: _Strip, x: Picture, y: Picture) -> None:
        random, bare = self.scene.random(12), linear.copy()
        for mark in self.closeup.marks:
            mark.paint(linear, x, y, self.scene.skin.ita_deg, random)
        behind = self.ground.raster.look_up(np.ascontiguousarray(self.ground.colour[..., 3]), x, y) <= 0
        linear[behind] = bare[behind]
        for patch in self.patches:
            patch.paint(linear, x, y)

    def _put_cover(self, linear: Picture, _: _Strip, light: Picture, x: Picture, y: Picture) -> None:
        for thing in self.covers:
            thing.paint(linear, light, x, y)
