"""Random fields: smooth noise, cells and fibres, each with mean 0 and standard deviation 1 unless said otherwise."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import cKDTree

from .raster import Picture

Generator = np.random.Generator


def smooth(shape: tuple[int, int], size_px: float, random: Generator) -> Picture:
    """Return noise whose blobs are about ``size_px`` wide."""
    return stretched(shape, (size_px, size_px), random, turn_deg=float(random.uniform(0, 90)))


def stretched(
    shape: tuple[int, int], size_px: tuple[float, float], random: Generator, turn_deg: float = 0.0
) -> Picture:
    """Return noise whose blobs are about ``size_px`` long and wide, turned from the rows."""
    along, across = (max(size / 4, 1.0) for size in size_px)
    reach = float(np.hypot(*shape))
    small = int(np.ceil(reach / across)) + 6, int(np.ceil(reach / along)) + 6
    seed = cv2.GaussianBlur(random.standard_normal(small, np.float32), (0, 0), 1.3)
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    middle = np.array([shape[1] / 2, shape[0] / 2])
    turn = np.array([[c / along, s / along], [-s / across, c / across]])
    shift = np.array([small[1] / 2, small[0] / 2]) - turn @ middle
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    placement = np.column_stack([turn, shift])
    noise = cv2.warpAffine(seed, placement, shape[::-1], flags=flags, borderMode=cv2.BORDER_REFLECT_101)
    return normal(noise)


def fractal(shape: tuple[int, int], size_px: float, octaves: int, random: Generator, decay: float = 0.5) -> Picture:
    """Return a sum of smooth noises, each half the size and ``decay`` times the strength of the one before."""
    total = np.zeros(shape, np.float32)
    for octave in range(octaves):
        total += np.float32(decay**octave) * smooth(shape, size_px / 2**octave, random)
    return normal(total)


def cells(shape: tuple[int, int], size_px: float, random: Generator, stretch: float = 1.0) -> tuple[Picture, Picture]:
    """Return the distances in cell sizes to the nearest and the second nearest of scattered points.

    The points lie on a jittered grid and the field repeats at its borders; ``stretch`` makes cells longer down.
    """
    count = max(round(shape[0] / (size_px * stretch)), 2), max(round(shape[1] / size_px), 2)
    step = shape[0] / count[0], shape[1] / count[1]
    grid = np.stack(np.meshgrid(np.arange(count[0]), np.arange(count[1]), indexing="ij"), axis=-1).reshape(-1, 2)
    points = (grid + random.uniform(0.0, 1.0, grid.shape)) / np.array(count)
    tree = cKDTree(points * (count[0], count[1]) % count, boxsize=count)
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    query = np.column_stack([rows.ravel() / step[0], columns.ravel() / step[1]])
    distance = tree.query(query % np.array(count), k=2, workers=2)[0].astype(np.float32)
    return distance[:, 0].reshape(shape), distance[:, 1].reshape(shape)


def normal(values: ArrayLike) -> Picture:
    """Return the field shifted and scaled to mean 0 and standard deviation 1."""
    field = np.asarray(values)
    return np.asarray((field - field.mean()) / max(float(field.std()), 1e-9))


def relief(height: Picture, strength: float, light: Sequence[float]) -> Picture:
    """Return how a bumpy surface shades: change of brightness where the slope faces the light or turns away.

    ``light`` is the direction on the plane (x, y) from which the light comes.
    """
    slope_x = cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=1 / 8)
    slope_y = cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(-strength * (slope_x * light[0] + slope_y * light[1]), np.float32)
