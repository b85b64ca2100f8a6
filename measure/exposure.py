"""How much light fell on a photo's sticker, and how much of a wound is hidden by glare."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from calibration.plane import Plane
from calibration.sticker import Layout, Points
from measure.outline import Outline
from measure.sharpness import Crossings

LIGHTEST_GREY = "neutral 8"
"""The patch that reflects most after the paper, 58 % of the light; every layout has it."""

GLARE_LEVEL = 230
"""Encoded, 0 to 255: pixels as bright in all three channels are glare. It is 79 % of full light; slough, the palest
tissue, reflects at most half of the light, and reaches 71 % in a photo that is half a stop too bright."""

_SPOT = np.stack(np.meshgrid((-0.25, 0.0, 0.25), (-0.25, 0.0, 0.25)), axis=-1).reshape(-1, 2)  # of a patch's sides


def paper_light(crossings: Crossings) -> float:
    """Return the linear light of white paper, 0 to 1: the median of the white cells at some saddle points."""
    white, _ = crossings.cells()
    return float(np.median(white))


def grey_light(pixels: NDArray[np.uint8], layout: Layout, plane: Plane) -> float:
    """Return the linear light of a sticker's lightest grey, 0 to 1: of the brightest channel, where it is darkest.

    The darkest of the layout's patches counts, because a glove or gauze over one may be white. NaN if the photo shows
    none.
    """
    light = (_patch_light(pixels, plane.to_px(spots)) for spots in _spots(layout))
    return min((value for value in light if np.isfinite(value)), default=float("nan"))


def _spots(layout: Layout) -> list[Points]:
    """Points (9, 2) in mm on each patch of the lightest grey, away from its borders."""
    places = [patch.place for patch in layout.patches if patch.name == LIGHTEST_GREY]
    return [place.corners.mean(axis=0) + _SPOT * (place.width, place.height) for place in places]


def _patch_light(pixels: NDArray[np.uint8], places: Points) -> float:
    columns, rows = np.rint(places).astype(int).T
    if min(columns.min(), rows.min()) < 0 or columns.max() >= pixels.shape[1] or rows.max() >= pixels.shape[0]:
        return float("nan")
    return float(np.median(linear_light()[pixels[rows, columns].max(axis=1)]))


def glare_share(pixels: NDArray[np.uint8], outlines: Sequence[Outline]) -> float:
    """Return the share of the wounds' pixels that are nearly white; NaN without wounds."""
    counts = np.array([_glare(pixels, outline) for outline in outlines]).reshape(-1, 2).sum(axis=0)
    return float(counts[0] / counts[1]) if counts[1] else float("nan")


def _glare(pixels: NDArray[np.uint8], outline: Outline) -> tuple[int, int]:
    """Count the glaring pixels in an outline, and all of them."""
    left, top = np.maximum(np.floor(outline.exterior.min(axis=0)).astype(int), 0)
    right, bottom = np.ceil(outline.exterior.max(axis=0)).astype(int) + 1
    part = pixels[top:bottom, left:right]
    inside = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(inside, [_shifted(ring, left, top) for ring in (outline.exterior, *outline.holes)], 255)
    glaring = cv2.inRange(part, np.full(3, GLARE_LEVEL), np.full(3, 255))
    return cv2.countNonZero(cv2.bitwise_and(inside, glaring)), cv2.countNonZero(inside)


def _shifted(ring: Points, left: int, top: int) -> NDArray[np.int32]:
    return np.asarray(np.rint(ring - (left, top)), dtype=np.int32)
