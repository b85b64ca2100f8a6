"""From a scene to a photo and its truth."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from calibration.sticker import LAYOUTS

from .bed import OUTSIDE, WoundPatch
from .camera import View
from .cover import CoverPatch
from .ground import Ground
from .raster import Picture, Raster
from .scene import Scene
from .seam import SeamPatch
from .sticker import FINEST, Sticker, outline_on_plane, printed

_ROWS = 192  # of a strip
_STRAIGHT_MM = 0.5  # longest edge of an outline on a limb
_COARSE = 8  # pixels of the photo a pixel of the map of light


@dataclass(frozen=True, eq=False)
class Rendering:
    """A photo and what is true of it.

    Attributes
    ----------
    scene : Scene
        What was rendered.
    pixels : ndarray of uint8, shape (H, W, 3)
        sRGB as the camera would give it, upright, before JPEG.
    outline_px : ndarray, shape (N, 2)
        The wound's outline in photo pixels, pixel centres at whole numbers; empty without a wound.
    holes_px : tuple of ndarray
        Islands of healed skin, likewise.
    wound_mm : Polygon
        The wound on the plane in mm, with its holes; on a limb along its skin.
    homography : ndarray, shape (3, 3)
        Plane mm to photo pixels, exact where the camera has no distortion and the skin is flat.
    poses : tuple of ndarray, shape (3, 3)
        For each sticker, layout mm to plane mm.
    tissue : dict
        Fraction of the wound's area on the plane that shows each of `CLASSES`; empty without a wound.
    """

    scene: Scene
    pixels: NDArray[np.uint8]
    outline_px: NDArray[np.float64]
    holes_px: tuple[NDArray[np.float64], ...]
    wound_mm: Polygon
    homography: NDArray[np.float64]
    poses: tuple[NDArray[np.float64], ...]
    tissue: dict[str, float]

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the normal of the plane."""
        return self.scene.camera.tilt_deg

    @property
    def sticker_to_plane(self) -> NDArray[np.float64]:
        """Pose of the first sticker: layout mm to plane mm, 3 x 3."""
        return self.poses[0]

    @property
    def area_mm2(self) -> float:
        """True area of the wound."""
        return float(self.wound_mm.area)


def render(scene: Scene) -> Rendering:
    """Return the photo of a scene, with its truth."""
    stage = _Stage(scene)
    pixels = stage.photo()
    outline, holes = outline_in_photo(scene)
    tissue = stage.patch.fractions if stage.patch else {}
    return Rendering(scene, pixels, outline, holes, scene.wound_mm(), scene.view().homography(), scene.poses(), tissue)


def outline_in_photo(scene: Scene) -> tuple[NDArray[np.float64], tuple[NDArray[np.float64], ...]]:
    """Return the wound's outline and its holes in photo pixels, without their closing point."""
    return polygon_in_photo(scene.view(), scene.wound_mm())


def polygon_in_photo(
    view: View, polygon: Polygon, lift_mm: float = 0.0
) -> tuple[NDArray[np.float64], tuple[NDArray[np.float64], ...]]:
    """Return the outline and the holes of a polygon in mm in photo pixels, without their closing point.

    Where a limb bends its edges they are cut into short ones first.
    """
    if polygon.is_empty:
        return np.empty((0, 2)), ()
    fine = polygon if view.limb is None else shapely.segmentize(polygon, _STRAIGHT_MM)
    rings = (fine.exterior, *fine.interiors)
    outline, *holes = (view.project(shapely.get_coordinates(ring)[:-1], lift_mm) for ring in rings)
    return outline, tuple(holes)


def tissue_fractions(scene: Scene) -> dict[str, float]:
    """Return the true fraction of the wound's area that shows each of `CLASSES`, without rendering the photo."""
    return _Stage(scene).tissue


def wound_cover(scene: Scene) -> Picture:
    """Return how much of each pixel of the photo the wound fills, shape (H, W): what the renderer paints with."""
    stage = _Stage(scene)
    share = np.zeros((scene.camera.height, scene.camera.width), np.float32)
    if stage.patch is None:
        return share
    for strip in _strips(scene.camera.height, 0):
        share[strip.rows] = stage.wound_share(strip)
    return share


@dataclass(frozen=True)
class _Strip:
    """Rows of the photo, and the wider range that their blur needs."""

    first: int
    last: int
    top: int
    bottom: int

    @property
    def rows(self) -> slice:
        return slice(self.first, self.last)

    @property
    def inner(self) -> slice:
        return slice(self.first - self.top, self.last - self.top)

    @property
    def wide(self) -> NDArray[np.float64]:
        return np.arange(self.top, self.bottom, dtype=np.float64)


def _strips(height: int, reach: int, start: int = 0) -> Iterator[_Strip]:
    for first in range(start, height, _ROWS):
        last = min(first + _ROWS, height)
        yield _Strip(first, last, max(first - reach, 0), min(last + reach, height))


@dataclass(frozen=True)
class _Box:
    """A part of the photo, as slices of it."""

    columns: slice
    rows: slice

    @classmethod
    def round(cls, points: NDArray[np.float64], width: int, top: int, bottom: int, margin: int = 3) -> "_Box | None":
        """Return the box round photo pixels, cut to the strip; None where nothing is left."""
        left, upper = np.floor(points.min(axis=0)).astype(int) - margin
        right, lower = np.ceil(points.max(axis=0)).astype(int) + margin
        left, upper, right, lower = max(left, 0), max(upper, top), min(right, width), min(lower, bottom)
        return cls(slice(left, right), slice(upper, lower)) if left < right and upper < lower else None


class _Stage:
    """The pictures on the plane that all strips of one photo look up."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.view = scene.view()
        self.columns = np.arange(scene.camera.width, dtype=np.float64)
        self.poses = scene.poses()
        self.wound_mm = scene.wound_mm()
        self.px_per_mm = self.view.px_per_mm(np.array(self.view.aim_mm))

    @cached_property
    def ground(self) -> Ground:
        outlines = [
            (outline_on_plane(LAYOUTS[sticker.layout], pose), sticker.lift_mm)
            for sticker, pose in zip(self.scene.stickers, self.poses, strict=True)
        ]
        return Ground.of(self.scene, self.view, self.wound_mm, outlines)

    @cached_property
    def bare_ground(self) -> Ground:
        """The ground in light that comes from everywhere: no shadows, and no rounder at the sides of the body."""
        return Ground.of(self.scene, self.view, self.wound_mm, (), rounded=False)

    @cached_property
    def patch(self) -> WoundPatch | None:
        if self.scene.wound is None:
            return None
        return WoundPatch.of(self.scene, self.wound_mm, self.px_per_mm)

    @cached_property
    def seam(self) -> SeamPatch | None:
        if self.scene.seam is None:
            return None
        return SeamPatch.of(self.scene.seam, self.scene.light.direction, self.px_per_mm)

    @property
    def tissue(self) -> dict[str, float]:
        return self.patch.fractions if self.patch else {}

    @cached_property
    def cover(self) -> CoverPatch | None:
        if self.scene.cover is None:
            return None
        return CoverPatch.of(
            self.scene.cover.kind, self.scene.cover_mm(), self.scene.light.direction, self.scene.random(7)
        )

    @cached_property
    def coarse_light(self) -> Picture:
        """Light on the plane; pixel k has its centre at photo pixel 8 k + 3.5."""
        camera = self.scene.camera
        columns, rows = (
            np.arange(-1.0, side // _COARSE + 2) * _COARSE + (_COARSE - 1) / 2 for side in (camera.width, camera.height)
        )
        return self.scene.light.fall(self.view, columns, rows)

    def photo(self) -> NDArray[np.uint8]:
        """Return the pixels, shape (H, W, 3)."""
        camera = self.scene.camera
        pixels = np.empty((camera.height, camera.width, 3), np.uint8)
        _ = (
            self.ground,
            self.seam,
            self.patch,
            self.cover,
            self.coarse_light,
        )  # made once, before the threads share them
        strips = _strips(camera.height, self.scene.sensor.reach)

        def expose(strip: _Strip) -> None:
            linear = self.scene.sensor.blurred(self.light_of(strip))[strip.inner]
            random = np.random.default_rng((self.scene.seed, 9, strip.first))
            pixels[strip.rows] = self.scene.sensor.developed(linear, random)

        with ThreadPoolExecutor(2) as pool:
            list(pool.map(expose, strips))
        return pixels

    def light_of(self, strip: _Strip) -> Picture:
        """Return the linear light that reaches the rows of a strip, sharp, shape (H, W, 3)."""
        x, y = self.view.millimetres(self.columns, strip.wide)
        linear = self.ground.look(x, y)
        self._put_seam(linear, strip, x, y)
        self._put_wound(linear, strip, x, y)
        light = self._light_on(strip)
        linear *= (light * self.ground.shadow(x, y))[..., None]
        for sticker, pose in zip(self.scene.stickers, self.poses, strict=True):
            self._put_sticker(linear, strip, light, sticker, pose)
        self._put_cover(linear, strip, light, x, y)
        linear *= self.scene.light.strength
        return linear

    def colour_of(self, strip: _Strip) -> Picture:
        """Return the linear reflectance that the rows of a strip show, sharp and evenly lit, shape (H, W, 3)."""
        x, y = self.view.millimetres(self.columns, strip.wide)
        linear = self.bare_ground.look(x, y)
        self._put_seam(linear, strip, x, y)
        self._put_wound(linear, strip, x, y)
        even = np.ones(linear.shape[:2], np.float32)
        for sticker, pose in zip(self.scene.stickers, self.poses, strict=True):
            self._put_sticker(linear, strip, even, sticker, pose)
        self._put_cover(linear, strip, even, x, y)
        return linear

    def _light_on(self, strip: _Strip) -> Picture:
        shift = 1 - (_COARSE - 1) / 2 / _COARSE
        step = 1 / _COARSE
        placement = np.array([[step, 0, shift], [0, step, shift + strip.top * step]])
        size = self.columns.size, strip.bottom - strip.top
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return np.asarray(cv2.warpAffine(self.coarse_light, placement, size, flags=flags), np.float32)

    def wound_share(self, strip: _Strip) -> Picture:
        """Return how much of each pixel of a strip the wound fills."""
        share = np.zeros((strip.bottom - strip.top, self.columns.size), np.float32)
        box = self._wound_box(strip)
        if self.patch is not None and box is not None:
            x, y = self.view.millimetres(self.columns[box.columns], np.arange(box.rows.start, box.rows.stop) * 1.0)
            rows = slice(box.rows.start - strip.top, box.rows.stop - strip.top)
            share[rows, box.columns] = self.patch.share(x, y)
        return share

    def wound_shows(self, strip: _Strip) -> NDArray[np.uint8]:
        """Return the number in `CLASSES` of what each pixel of a strip shows; `OUTSIDE` outside the wound."""
        shown = np.full((strip.bottom - strip.top, self.columns.size), OUTSIDE, np.uint8)
        box = self._wound_box(strip)
        if self.patch is not None and box is not None:
            x, y = self.view.millimetres(self.columns[box.columns], np.arange(box.rows.start, box.rows.stop) * 1.0)
            rows = slice(box.rows.start - strip.top, box.rows.stop - strip.top)
            shown[rows, box.columns] = self.patch.shows(x, y)
        return shown

    def _wound_box(self, strip: _Strip) -> _Box | None:
        return None if self.patch is None else self._box_of(self.patch.raster, strip)

    def _box_of(self, raster: Raster, strip: _Strip) -> _Box | None:
        edge = shapely.get_coordinates(shapely.segmentize(shapely.box(*raster.bounds), 5.0))
        return _Box.round(self.view.project(edge), self.columns.size, strip.top, strip.bottom)

    def _put_cover(self, linear: Picture, strip: _Strip, light: Picture, x: Picture, y: Picture) -> None:
        box = None if self.cover is None else self._box_of(self.cover.raster, strip)
        if self.cover is None or box is None:
            return
        here = slice(box.rows.start - strip.top, box.rows.stop - strip.top), box.columns
        self.cover.paint(linear[here], light[here], x[here], y[here])

    def _put_seam(self, linear: Picture, strip: _Strip, x: Picture, y: Picture) -> None:
        box = None if self.seam is None else self._box_of(self.seam.raster, strip)
        if self.seam is None or box is None:
            return
        here = slice(box.rows.start - strip.top, box.rows.stop - strip.top), box.columns
        self.seam.paint(linear[here], x[here], y[here])

    def _put_wound(self, linear: Picture, strip: _Strip, x: Picture, y: Picture) -> None:
        box = self._wound_box(strip)
        if self.patch is None or box is None:
            return
        rows = slice(box.rows.start - strip.top, box.rows.stop - strip.top)
        here = linear[rows, box.columns]
        self.patch.paint(here, x[rows, box.columns], y[rows, box.columns])

    def _put_sticker(
        self, linear: Picture, strip: _Strip, light: Picture, sticker: Sticker, pose: NDArray[np.float64]
    ) -> None:
        """Lay a sticker over the strip, sampled finely and averaged over each pixel."""
        layout = LAYOUTS[sticker.layout]
        outline = shapely.get_coordinates(shapely.segmentize(Polygon(outline_on_plane(layout, pose)), 5.0))
        box = _Box.round(self.view.project(outline, sticker.lift_mm), self.columns.size, strip.top, strip.bottom)
        if box is None:
            return
        rgba = self._sticker_in(box, sticker, pose)
        rows = slice(box.rows.start - strip.top, box.rows.stop - strip.top)
        here = linear[rows, box.columns]
        here *= 1 - rgba[..., 3:]
        here += rgba[..., :3] * light[rows, box.columns, None]

    def _sticker_in(self, box: _Box, sticker: Sticker, pose: NDArray[np.float64]) -> Picture:
        """Return reflectance times cover, and cover, of a sticker in a part of the photo."""
        level = next((level for level in (10, 20) if level >= 2.0 * self.px_per_mm), FINEST)
        finer = max(2, int(np.ceil(level / self.px_per_mm)))  # no print pixel is jumped over
        sub = (np.arange(finer) + 0.5) / finer - 0.5
        columns, rows = ((np.arange(side.start, side.stop)[:, None] + sub).ravel() for side in (box.columns, box.rows))
        x, y = self.view.millimetres(columns, rows, sticker.lift_mm)
        back = (np.linalg.inv(pose) * level).astype(np.float32)
        u = back[0, 0] * x + back[0, 1] * y + (back[0, 2] - np.float32(0.5))
        v = back[1, 0] * x + back[1, 1] * y + (back[1, 2] - np.float32(0.5))
        texture = printed(sticker.layout, sticker.grey, sticker.writing, level, sticker.press(self.scene.seed))
        fine = cv2.remap(texture, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        size = box.columns.stop - box.columns.start, box.rows.stop - box.rows.start
        return cv2.resize(fine, size, interpolation=cv2.INTER_AREA).astype(np.float32) / np.float32(65535)
