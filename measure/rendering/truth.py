"""What is true of a photo pixel by pixel: which tissue shows, and which colour a thing has whatever the light."""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from calibration.sticker import LAYOUTS

from .bed import OUTSIDE
from .raster import Picture
from .rendering import _Stage, _strips, polygon_in_photo
from .scene import Scene
from .sticker import outline_on_plane

Window = tuple[int, int, int, int]
"""A part of a photo: left, top, right and bottom px, the last two just outside."""


def tissue_in_photo(scene: Scene) -> NDArray[np.uint8]:
    """Return the number in `CLASSES` of what each pixel of the photo shows, shape (H, W); `OUTSIDE` outside the wound.

    A pixel counts by its centre: edges between tissues are softer in the photo, which passes from one into the other
    over some tenths of a mm.
    """
    stage = _Stage(scene)
    shown = np.full((scene.camera.height, scene.camera.width), OUTSIDE, np.uint8)
    for strip in _strips(scene.camera.height, 0):
        shown[strip.rows] = stage.wound_shows(strip)
    for polygon, lift_mm in stickers_mm(scene):
        outline, _ = polygon_in_photo(scene.view(), polygon, lift_mm)
        cv2.fillPoly(shown, [np.rint(outline * 16).astype(np.int32)], OUTSIDE, cv2.LINE_8, shift=4)
    return shown


def reflectance_in_photo(scene: Scene, window: Window | None = None) -> Picture:
    """Return the linear reflectance of what each pixel shows, float32 of shape (h, w, 3), for a part of the photo.

    Red, green and blue in sRGB primaries, 1 for a perfect white diffuser: no light, no shadow, no blur, no noise. Left
    in are the pores of the skin and the slopes and glare of the wound's bed, which the light from ``scene.light``'s
    direction shapes.
    """
    left, top, right, bottom = window or (0, 0, scene.camera.width, scene.camera.height)
    stage = _Stage(scene)
    colour = np.empty((bottom - top, right - left, 3), np.float32)
    for strip in _strips(bottom, 0, top):
        colour[strip.first - top : strip.last - top] = stage.colour_of(strip)[:, left:right]
    return colour


def stickers_mm(scene: Scene) -> list[tuple[Polygon, float]]:
    """Return the outline of each sticker on the plane, and its height in mm."""
    return [
        (Polygon(outline_on_plane(LAYOUTS[sticker.layout], pose)), sticker.lift_mm)
        for sticker, pose in zip(scene.stickers, scene.poses(), strict=True)
    ]
