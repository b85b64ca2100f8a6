"""Distance from the edge of a shape, from which its anti-aliased cover follows."""

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon, Polygon

from .raster import Picture, Raster

_STEP_MM = 0.02
_BAND_MM = 1.0


def depth_inside(polygon: Polygon | MultiPolygon, raster: Raster) -> Picture:
    """Return mm from the edge of one or several polygons, positive inside; shape (H, W).

    Exact to about 0.01 mm within 1 mm of the edge, to about a pixel of the raster farther off.
    """
    inside = _filled(polygon, raster)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5) - cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5)
    depth /= np.float32(raster.px_per_mm)
    rows, columns = np.nonzero(np.abs(depth) < _BAND_MM + 2 / raster.px_per_mm)
    x, y = raster.axes()
    points = np.column_stack([x[0, columns], y[rows, 0]]).astype(np.float64)
    depth[rows, columns] = _exact_depth(polygon, points)
    return depth


def cover(depth_mm: Picture, softness_mm: Picture | float) -> Picture:
    """Return how much of each pixel lies inside, 0 to 1, for an edge that is ``softness_mm`` wide."""
    return np.asarray(np.clip(depth_mm / softness_mm + np.float32(0.5), 0, 1))


def _filled(polygon: Polygon | MultiPolygon, raster: Raster) -> NDArray[np.uint8]:
    parts = shapely.get_parts(polygon)
    rings = [np.asarray(ring.coords) for part in parts for ring in (part.exterior, *part.interiors)]
    mask = np.zeros(raster.shape, np.uint8)
    cv2.fillPoly(mask, [np.rint(raster.to_px(ring) * 16).astype(np.int32) for ring in rings], 1, shift=4)
    return mask


def _exact_depth(polygon: Polygon | MultiPolygon, points: NDArray[np.float64]) -> NDArray[np.float64]:
    fine = shapely.segmentize(polygon.boundary, _STEP_MM)
    distance, _ = cKDTree(shapely.get_coordinates(fine)).query(points)
    shapely.prepare(polygon)
    return np.asarray(np.where(shapely.contains_xy(polygon, points[:, 0], points[:, 1]), distance, -distance))
