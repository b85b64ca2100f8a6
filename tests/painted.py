"""Wounds painted in flat colours of known Lab on the plane: what shows where is known to the pixel."""

import cv2
import numpy as np
import shapely

from calibration.colour import encoded, linear_light, linear_of_lab
from calibration.plane import Plane
from calibration.projection import Projection
from measure.outline import Outline
from measure.rendering import Camera, View
from measure.scale import Calibration

SIZE = (800, 640)
"""Width and height of a painted photo."""

PX_PER_MM = 8.0

SKIN = (66.0, 11.0, 17.0)
"""Lab of skin of a middling tone."""


class Daylight:
    """A colour correction that has nothing to correct, unless the light is stronger or weaker than it thinks."""

    def __init__(self, lab_sigma=(1.0, 0.8, 2.0), light=1.0):
        self.lab_sigma, self.light = np.array(lab_sigma), np.float32(light)

    def reflectance(self, picture, origin, step):  # noqa: ARG002 - the same everywhere
        """Take sRGB for what it is."""
        return self.light * linear_light()[picture]

    def light_sigma(self, places_px):
        """Take the light for known to 3 %."""
        return np.full(len(places_px), 0.03)


def scale_of(homography, bend=None, focal=900.0):
    """Give the scale of a photo whose plane is known; mm (0, 0) are the middle of the wound."""
    centre = tuple((side - 1) / 2 for side in SIZE)
    projection = Projection(homography, focal, centre, bend=bend)
    return Calibration("two points", Plane(projection, {}, "pose", 0.1, 0.0, 0.1), (), {})


def straight(px_per_mm=PX_PER_MM, bend=None):
    """Give the scale of a camera that looks straight at the middle of the wound."""
    x, y = (np.array(SIZE) - 1) / 2
    return scale_of(np.array([(px_per_mm, 0, x), (0, px_per_mm, y), (0, 0, 1.0)]), bend)


def tilted(tilt_deg, towards_deg=30.0, distance_mm=110.0):
    """Give the scale of a tilted camera."""
    camera = Camera(*SIZE, distance_mm=distance_mm, tilt_deg=tilt_deg, tilt_towards_deg=towards_deg)
    return scale_of(View(camera, (0.0, 0.0)).homography(), focal=camera.focal)


def disc(radius_mm, x=0.0, y=0.0):
    return shapely.Point(x, y).buffer(radius_mm, quad_segs=64)


def outline_of(polygon_mm, scale):
    """Give a polygon on the plane as an outline in the photo."""
    exterior, *holes = _rings(polygon_mm, scale)
    return Outline(exterior, tuple(holes))


def _rings(polygon_mm, scale):
    fine = shapely.segmentize(polygon_mm, 0.5)
    return [scale.plane.to_px(shapely.get_coordinates(ring)[:-1]) for ring in (fine.exterior, *fine.interiors)]


def painted(scale, *shapes, ground=SKIN):
    """Paint polygons in mm with a Lab each, one over another, on skin; RGB of shape (H, W, 3)."""
    pixels = np.empty((*SIZE[::-1], 3), np.uint8)
    pixels[:] = rgb(ground)
    for polygon_mm, lab in shapes:
        rings = [np.rint(16 * ring).astype(np.int32) for ring in _rings(polygon_mm, scale)]
        cv2.fillPoly(pixels, rings, rgb(lab), cv2.LINE_8, shift=4)
    return pixels


def rgb(lab):
    return encoded(linear_of_lab(np.array(lab, np.float32))).tolist()
