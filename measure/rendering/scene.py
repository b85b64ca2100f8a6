"""A scene: everything that a photo shows, from which the photo and the truth follow."""

from dataclasses import dataclass, field

import numpy as np
from shapely.geometry import MultiPoint, Polygon

from calibration.sticker import LAYOUTS

from .camera import Camera, View
from .cover import Cover
from .light import Light
from .limb import Limb
from .seam import Seam
from .sensor import Sensor
from .skin import Skin
from .sticker import Sticker, outline_on_plane
from .wound import Wound


@dataclass(frozen=True)
class Scene:
    """What is where. Every random thing follows from ``seed``.

    The wound lies at the origin of the plane; x is right and y is down for a camera without tilt and roll. On a limb
    all mm are those of its unrolled skin.
    """

    stickers: tuple[Sticker, ...] = field(default_factory=lambda: (Sticker(),))
    wound: Wound | None = field(default_factory=Wound)
    skin: Skin = field(default_factory=Skin)
    camera: Camera = field(default_factory=Camera)
    light: Light = field(default_factory=Light)
    sensor: Sensor = field(default_factory=Sensor)
    cover: Cover | None = None
    limb: Limb | None = None
    seam: Seam | None = None
    seed: int = 1

    def random(self, purpose: int) -> np.random.Generator:
        """Return the source of random numbers for one purpose, so that purposes don't disturb one another."""
        return np.random.default_rng((self.seed, purpose))

    def wound_mm(self) -> Polygon:
        """Return the true outline in mm on the plane; empty where there is no wound."""
        return self.wound.polygon(self.random(1)) if self.wound else Polygon()

    def poses(self) -> tuple[np.ndarray, ...]:
        """Return for each sticker the 3 x 3 matrix from its layout's mm to mm on the plane."""
        wound = self.wound_mm() if self.wound else Polygon([(-20, -12), (20, -12), (20, 12), (-20, 12)])
        return tuple(sticker.pose(wound) for sticker in self.stickers)

    def cover_mm(self) -> Polygon:
        """Return the outline on the plane of what covers the first sticker; empty where nothing does.

        Raises
        ------
        ValueError
            If it would hide a part of the wound too.
        """
        if self.cover is None:
            return Polygon()
        name, pose = self.stickers[0].layout, self.poses()[0]
        shape = self.cover.shape(name, outline_on_plane(LAYOUTS[name], pose), pose)
        if shape.intersects(self.wound_mm()):
            raise ValueError("This cover hides a part of the wound: let it come from another side.")
        return shape

    def view(self) -> View:
        """Return the camera aimed as it says, or at the middle of wound and stickers."""
        return View(self.camera, self.camera.aim_mm or self._middle(), self.limb)

    def _middle(self) -> tuple[float, float]:
        corners = [
            outline_on_plane(LAYOUTS[sticker.layout], pose)
            for sticker, pose in zip(self.stickers, self.poses(), strict=True)
        ]
        if self.wound:
            corners.append(np.asarray(self.wound_mm().exterior.coords))
        if not corners:
            return 0.0, 0.0
        left, top, right, bottom = MultiPoint(np.vstack(corners)).bounds
        return (left + right) / 2, (top + bottom) / 2
