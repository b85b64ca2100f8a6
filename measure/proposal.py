"""Proposes first outlines, which a person corrects; by a network, or by colour alone."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from calibration.sticker import Points
from measure.by_colour import FRAME_MM, propose_by_colour
from measure.by_network import open_network, propose_by_network
from measure.outline import Outline, from_polygon
from measure.skin import Bytes
from measure.vertices import reduce_vertices

NETWORK, COLOUR = "network", "colour"
"""The methods that come with the product; a third is the path of a site's own network."""

COLOUR_VERSION = "colour 1"
"""Name and version, stored with every result."""


@dataclass(frozen=True, eq=False)
class Proposal:
    """What a method suggests.

    Attributes
    ----------
    outlines : tuple of Outline
        In photo pixels, largest first; empty where no wound was found.
    method : str
        Name and version of the method.
    edge_sigma_px : tuple of float
        For each outline, how far its edge may lie inward or outward as a whole, in photo px (standard uncertainty);
        empty where the method can't say.
    """

    outlines: tuple[Outline, ...]
    method: str
    edge_sigma_px: tuple[float, ...] = ()


def propose_outlines(
    pixels: Bytes,
    *,
    method: str = NETWORK,
    keep_out: Sequence[Points] = (),
    aim_px: Points | None = None,
    mm_per_px: float | None = None,
) -> Proposal:
    """Propose the outlines of the wounds in a photo, or none where there is no wound to be seen.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB, upright.
    method : str
        `NETWORK`, `COLOUR`, or the path of a network of the site's own.
    keep_out : sequence of ndarray of shape (N, 2)
        Outlines of stickers, in photo px; they and a margin are never wound.
    aim_px : ndarray of shape (2,), optional
        Where a wound is expected; without it, the network looks at the whole photo, colour round its middle.
    mm_per_px : float, optional
        Scale there; without it, points are set as if the long side of the photo spanned 200 mm.

    Raises
    ------
    NetworkError
        If the network's file can't be used.
    """
    if method == COLOUR:
        shapes = sorted(propose_by_colour(pixels, keep_out, aim_px, mm_per_px), key=lambda shape: -shape.area)
        return Proposal(_outlines(shapes, pixels, mm_per_px), COLOUR_VERSION)
    network = open_network(None if method == NETWORK else method)
    finds = sorted(propose_by_network(pixels, network, keep_out, aim_px, mm_per_px), key=lambda find: -find.shape.area)
    outlines = _outlines([find.shape for find in finds], pixels, mm_per_px)
    return Proposal(outlines, network.name, tuple(find.edge_sigma_px for find in finds))


def check_method(method: str) -> None:
    """Refuse a method that can't be used, before a photo is opened for it.

    Raises
    ------
    NetworkError
        If it is neither `NETWORK` nor `COLOUR` nor a network's file that can be used.
    """
    if method != COLOUR:
        network = open_network(None if method == NETWORK else method)
        network.logits(np.zeros((1, 1, 3), np.uint8))


def _outlines(shapes: Sequence[Polygon], pixels: Bytes, mm_per_px: float | None) -> tuple[Outline, ...]:
    scale = mm_per_px or FRAME_MM / max(pixels.shape[:2])
    return tuple(_within(reduce_vertices(from_polygon(shape), scale), pixels) for shape in shapes)


def _within(outline: Outline, pixels: Bytes) -> Outline:
    """Bring points that dropping others has moved out of the photo back to its border."""
    last = np.array(pixels.shape[1::-1]) - 0.5
    return Outline(np.clip(outline.exterior, -0.5, last), outline.holes)
