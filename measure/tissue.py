"""Which tissue lies where in a wound, and how much of its area on the wound plane each takes.

Each pixel of the bed has a probability for each tissue: how well its colour fits (`measure.tissue_colours`), times what
is usual there (new skin grows in from the edge), and drawn towards what its neighbours are, so that regions result and
not pepper (mean-field approximation of a Potts field: Geman & Geman 1984, IEEE PAMI 6, 721, for the field).

A proportion is the sum of probabilities over the area. Its standard uncertainty has three independent parts: *class
doubt*, the area that may as well be another tissue; *colour*, by how much it changes when all colours are off by what
patches of the sticker were off that the correction did not know, and the light by what is unknown of it; *outline
placement*, by how much it changes where the rim that may not belong to the wound is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import watershed

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.bed import EDGE_MM, Bed, bed_of
from measure.flat import Colour, Mask
from measure.outline import Outline
from measure.proportions import Share
from measure.scale import Calibration
from measure.skin import Bytes, Map
from measure.tissue_colours import TISSUES, colour_of_tissue, log_densities
from measure.view import View
from measure.wound import EDGE_SIGMA_MM

_USUAL = np.array((0.38, 0.22, 0.22, 0.15, 0.03))
"""How much of a bed each tissue takes in wards at large (an estimate; no published figure); it decides only where
colours fit two tissues alike."""

_NEW_SKIN = TISSUES.index("epithelial")
_NEW_SKIN_INSIDE, _NEW_SKIN_AT_RIM, _RIM_MM = 0.02, 0.2, 3.0
"""New skin grows in from the edge (common practice); islands of it are rare, and as rare as this far from the edge."""

_EVIDENCE = 0.7  # of a pixel's colour: less than 1, for its neighbour's is no independent witness
_TOGETHER_MM = 0.4  # how far neighbours reach: half a strand of slough
_PULL = 4.0  # log odds by which neighbours that agree can outvote a pixel
_ROUNDS = 4  # after which nothing moves any more
_EVERY = 4  # pixels, of which one stands for all where colours are shifted: neighbours are alike
_DOUBT = 2.0
"""How many times the sum of p (1 - p) over the area is the standard uncertainty by class doubt: what is in doubt is in
doubt together, for a bed that is paler than usual is so all over. Set on 12 rendered wounds under 6 lights, where k = 2
then covers 96 % or more for each tissue."""

_LEFT = 0.1  # of the greatest depth: where no pixel surely lies in a small wound, its middle stands for what does
_LEAST_REGION_MM2 = 4.0  # 2 mm square: smaller ones are neither seen at a glance nor hit by a finger
NONE = 255
"""Label outside the outline."""


class TissueError(EbblineError):
    """What a person said of a wound's tissue that can't be used."""

    code = "unusable-tissue"


@dataclass(frozen=True)
class Said:
    """What a person said of the region that holds a place.

    Attributes
    ----------
    at : tuple of float
        The place (x, y), in px of the photo.
    tissue : str
        One of `TISSUES`.
    by : str
        Initials or staff code of who said it; empty while nobody said.

    Raises
    ------
    TissueError
        If there is no such tissue, or the place is none.
    """

    at: tuple[float, float]
    tissue: str
    by: str = ""

    def __post_init__(self) -> None:
        """Refuse words that are no tissue, and places that are none."""
        if self.tissue not in TISSUES:
            known = ", ".join(TISSUES)
            raise TissueError(f"'{self.tissue}' was said to be a tissue; choose one of {known}.")
        if not np.isfinite(self.at).all():
            raise TissueError(f"The place ({self.at[0]}, {self.at[1]}) of '{self.tissue}' is none; give x and y in px.")


@dataclass(frozen=True, eq=False)
class TissueMap:
    """The tissue of one wound.

    Attributes
    ----------
    view : View
        The reduced part of the photo that it lies on.
    area_mm2 : ndarray of shape (h, w)
        On the wound plane, of the part of each pixel inside the outline.
    probability : ndarray of shape (h, w, 5)
        In the order of `TISSUES`; 0 outside the outline.
    labels : ndarray of uint8, shape (h, w)
        Number in `TISSUES` of each pixel's region, `NONE` outside the outline.
    numbers : ndarray of int32, shape (h, w)
        Number of each pixel's region, from 1; 0 outside the outline.
    shares : mapping of str to Share
        Proportions of the area by tissue; they sum to 100 %.
    said : tuple of Said
        What a person said that fell on this wound.
    """

    view: View
    area_mm2: Map
    probability: Map
    labels: NDArray[np.uint8]
    numbers: NDArray[np.int32]
    shares: MappingProxyType[str, Share]
    said: tuple[Said, ...]


def map_tissue(  # noqa: PLR0913 - what a photo is, and what is known of its wound
    pixels: Bytes,
    colour: Colour,
    calibration: Calibration,
    outline: Outline,
    *,
    others: Sequence[Outline] = (),
    said: Sequence[Said] = (),
    edge_mm: float = EDGE_SIGMA_MM,
) -> TissueMap:
    """Tell which tissue lies where in a wound.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB.
    colour : Colour
        The photo's colour correction.
    calibration : Calibration
    outline : Outline
        The wound, in px of the photo.
    others : sequence of Outline
        The photo's other wounds.
    said : sequence of Said
        What a person said of regions; a later word on a region replaces an earlier one.
    edge_mm : float
        Standard uncertainty of where the edge lies.
    """
    keep_out = [*calibration.sticker_outlines_px, *(other.exterior for other in others)]
    bed = bed_of(pixels, colour, calibration.plane, outline, keep_out)
    pixels_of_bed = _Pixels.of(bed)
    probability, drawn = _among_neighbours(pixels_of_bed, bed)
    numbers, tissues = _regions(probability, bed)
    heard = {}
    for each in said:
        if number := _number_at(numbers, bed.view, each.at):
            heard[number] = each
            tissues[number] = TISSUES.index(each.tissue)
    by_hand = np.isin(numbers, list(heard))
    labels = tissues[numbers].astype(np.uint8)
    probability[by_hand] = np.eye(len(TISSUES), dtype=np.float32)[labels[by_hand]]
    free = replace(pixels_of_bed, usual=drawn, weight=pixels_of_bed.weight * ~by_hand[bed.inside])
    shares = _shares(pixels_of_bed, probability[bed.inside], edge_mm, _by_colour(free, colour.lab_sigma))
    return TissueMap(bed.view, bed.area_mm2, probability, labels, numbers, shares, tuple(heard.values()))


@dataclass(frozen=True, eq=False)
class _Pixels:
    """Pixels of a bed: N of them.

    Attributes
    ----------
    seen : ndarray of shape (N, 3)
        Their colours.
    skin : ndarray of shape (3,) or None
        The colour of the skin round the wound.
    light_sigma : float
        Relative standard uncertainty of the light.
    depth_mm, weight : ndarray of shape (N,)
        Distance from the edge, and share of the wound's area.
    usual : ndarray of shape (N, 5)
        Logarithm of how usual each tissue is at each place.
    """

    seen: Map
    skin: Map | None
    light_sigma: float
    depth_mm: Map
    weight: NDArray[np.float64]
    usual: Map

    @classmethod
    def of(cls, bed: Bed) -> "_Pixels":
        """Take all pixels inside the outline, row by row."""
        area, depth = bed.area_mm2[bed.inside].astype(np.float64), bed.depth_mm[bed.inside]
        skin = None if bed.skin is None else colour_of_tissue(bed.skin)
        seen = colour_of_tissue(bed.linear[bed.inside])
        return cls(seen, skin, bed.light_sigma, depth, area / area.sum(), _usual(depth))

    def some(self) -> "_Pixels":
        """Return every so many pixels, which stand for all."""
        weight = self.weight[::_EVERY]
        scale = self.weight.sum() / max(float(weight.sum()), 1e-9)
        depth, usual = self.depth_mm[::_EVERY], self.usual[::_EVERY]
        return replace(self, seen=self.seen[::_EVERY], depth_mm=depth, weight=weight * scale, usual=usual)

    def evidence(self) -> Map:
        """Return the logarithm of how well the colours fit each tissue, shape (N, 5)."""
        counts = _EVIDENCE * np.clip(self.depth_mm / EDGE_MM, 0, 1)
        return np.asarray(counts[:, np.newaxis] * log_densities(self.seen, self.skin), np.float32)

    def shares(self, shift: Map) -> NDArray[np.float64]:
        """Return the proportions (5,), were all colours off by a shift (N, 3)."""
        shifted = replace(self, seen=self.seen + shift)
        return np.asarray(self.weight @ _softmax(shifted.evidence() + self.usual), np.float64)

    def shifts(self, lab_sigma: NDArray[np.floating]) -> list[Map]:
        """Return by how much colours may be off, in each direction of `colour_of_tissue`: three of shape (N, 3).

        Lightness is off by what the patches were off, and by what is unknown of the light: L* + 16 is 116 times the
        cube root of the light.
        """
        bright = np.maximum(self.seen[:, 0], 0) + 16
        sigmas = (
            np.hypot(lab_sigma[0], self.light_sigma * bright / 3),
            lab_sigma[1] * 66 / bright,
            lab_sigma[2] * 66 / bright,
        )
        return [np.outer(sigma, axis).astype(np.float32) for sigma, axis in zip(sigmas, np.eye(3), strict=True)]


def _among_neighbours(pixels: _Pixels, bed: Bed) -> tuple[Map, Map]:
    """Let neighbours agree; return probabilities (h, w, 5), and what is usual (N, 5) with what the neighbours say."""
    inside, sigma = bed.inside, max(_TOGETHER_MM / bed.mm_per_px, 0.5)
    evidence = pixels.evidence()
    cover = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), sigma)[inside][:, np.newaxis]
    probability = np.zeros((*inside.shape, len(TISSUES)), np.float32)
    probability[inside] = _softmax(evidence + pixels.usual)
    drawn = pixels.usual
    for _ in range(_ROUNDS):
        drawn = pixels.usual + _PULL * cv2.GaussianBlur(probability, (0, 0), sigma)[inside] / cover
        probability[inside] = _softmax(evidence + drawn)
    return probability, drawn


def _usual(depth_mm: Map) -> Map:
    """Return the logarithm of how usual each tissue is at some depths, shape (N, 5)."""
    new_skin = _NEW_SKIN_INSIDE + _NEW_SKIN_AT_RIM * np.exp(-depth_mm / _RIM_MM)
    usual = np.outer(1 - new_skin, _USUAL / (1 - _USUAL[_NEW_SKIN]))
    usual[:, _NEW_SKIN] = new_skin
    return np.log(usual).astype(np.float32)


def _softmax(logarithms: Map) -> Map:
    raised = np.exp(logarithms - logarithms.max(axis=1, keepdims=True))
    return np.asarray(raised / raised.sum(axis=1, keepdims=True), np.float32)


def _by_colour(pixels: _Pixels, lab_sigma: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return by how much the proportions (5,) change with what is not known of the colours.

    Both ways are compared with no shift at all: where either way makes a tissue less likely, the two would cancel.
    """
    some = pixels.some()
    unshifted = some.shares(np.zeros(3, np.float32))
    either_way = [(some.shares(shift), some.shares(-shift)) for shift in some.shifts(lab_sigma)]
    return np.asarray(np.sqrt(np.square(either_way - unshifted).mean(axis=1).sum(axis=0)), np.float64)


def _shares(
    pixels: _Pixels, probability: Map, edge_mm: float, by_colour: NDArray[np.float64]
) -> MappingProxyType[str, Share]:
    """Return proportions with their uncertainty."""
    share = pixels.weight @ probability
    deep = pixels.weight * (pixels.depth_mm > min(edge_mm, (1 - _LEFT) * float(pixels.depth_mm.max())))
    inner = deep @ probability / deep.sum() if deep.any() else share
    components = {
        "class doubt": _DOUBT * (pixels.weight @ (probability * (1 - probability))),
        "colour": by_colour,
        "outline placement": np.abs(inner - share),
    }
    percent = 100 * share / share.sum()
    return MappingProxyType(
        {
            name: Share(float(percent[i]), {cause: 100 * float(part[i]) for cause, part in components.items()})
            for i, name in enumerate(TISSUES)
        }
    )


def _regions(probability: Map, bed: Bed) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Return the number of each pixel's region (0 outside the outline), and the tissue of each number; `NONE` at 0.

    Regions that are too small become part of those that reach them first within the wound.
    """
    labels = np.where(bed.inside, probability.argmax(axis=2), NONE).astype(np.uint8)
    numbers, tissues = _numbered(labels)
    area = np.bincount(numbers.ravel(), bed.area_mm2.ravel())
    small = area < min(_LEAST_REGION_MM2, area.max())
    small[0] = False
    if not small.any():
        return numbers, tissues
    large = np.where(small[numbers], 0, numbers)
    grown = watershed(np.zeros(labels.shape, np.uint8), large, connectivity=2, mask=bed.inside)  # type: ignore[no-untyped-call]
    return _numbered(np.where(grown > 0, tissues[grown], labels).astype(np.uint8))


def _numbered(labels: NDArray[np.uint8]) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Give connected pixels of one label a number."""
    numbers, tissues = np.zeros(labels.shape, np.int32), [NONE]
    for tissue in range(len(TISSUES)):
        count, parts = cv2.connectedComponents((labels == tissue).astype(np.uint8), connectivity=8)
        numbers = np.where(parts > 0, parts + (len(tissues) - 1), numbers).astype(np.int32)
        tissues += [tissue] * (count - 1)
    return numbers, np.array(tissues)


def _number_at(numbers: NDArray[np.int32], view: View, at: tuple[float, float]) -> int:
    """Return the number of the region at a place of the photo; 0 where there is none."""
    column, row = np.rint(view.from_photo(np.array([at]))[0]).astype(int)
    height, width = numbers.shape
    return int(numbers[row, column]) if 0 <= row < height and 0 <= column < width else 0


@dataclass(frozen=True, eq=False)
class Region:
    """A part of a wound that is of one tissue.

    Attributes
    ----------
    tissue : str
    rings : list of ndarray of shape (N, 2)
        In px of the photo: its edge first, then its holes.
    percent : float
        Of the wound's area.
    by_hand : bool
        Whether a person said which tissue it is.
    """

    tissue: str
    rings: list[Points]
    percent: float
    by_hand: bool


_FINELY = 3  # the edges of regions run between pixels, so they are followed on a finer raster
_STRAIGHT_PX = 1.8  # of that raster: how far an edge may be straightened


def regions(tissue: TissueMap) -> list[Region]:
    """Return the regions of a wound, largest first."""
    said = {_number_at(tissue.numbers, tissue.view, each.at) for each in tissue.said}
    areas = np.bincount(tissue.numbers.ravel(), tissue.area_mm2.ravel())
    found = []
    for number in range(1, len(areas)):
        mask = tissue.numbers == number
        label = int(tissue.labels[mask][0])
        percent = 100 * float(areas[number] / areas[1:].sum())
        found.append(Region(TISSUES[label], _rings(mask, tissue.view), percent, number in said))
    return sorted(found, key=lambda region: -region.percent)


def _rings(mask: Mask, view: View) -> list[Points]:
    left, top, width, height = cv2.boundingRect(mask.astype(np.uint8))
    part = mask[top : top + height, left : left + width].astype(np.uint8)
    finer = cv2.resize(part, None, fx=_FINELY, fy=_FINELY, interpolation=cv2.INTER_NEAREST)
    contours, tree = cv2.findContours(finer, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    order = sorted(range(len(contours)), key=lambda i: tree[0][i][3] >= 0)
    rings = []
    for i in order:
        ring = cv2.approxPolyDP(contours[i], _STRAIGHT_PX, closed=True)[:, 0]
        if len(ring) > 2:
            rings.append(view.to_photo((ring + 0.5) / _FINELY - 0.5 + (left, top)))
    return rings
