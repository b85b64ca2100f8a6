"""Proposes outlines by a network that was trained on photographs of wounds with their outlines.

The network sees the part of the photo where a wound is expected, and looks again at what it found, closer. What lies
above its threshold is wound; the width of the band in which it hesitates tells how far the edge may lie off.
"""

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from skimage.measure import find_contours

from calibration.errors import EbblineError
from calibration.sticker import Points
from measure.skin import Bytes, Map
from measure.view import View, cut_out, disc

WEIGHTS = Path(__file__).parent / "weights" / "outline.onnx"
"""The network that comes with the product; what it is, knows and misses stands in the model card beside it."""

_REACH_MM = 90.0  # nearly every wound ends within this of where it is expected; one that does not is looked at whole
_MARGIN_MM = 1.0  # round a sticker: its cut edge and shadow
_BAND_REACH = 0.3  # of a wound's width: farther from its edge another thing makes the network hesitate
_FILLS = 0.25  # of the closer view's width; skin round a wound tells where it ends
_WORTH = 1.4  # a second look must enlarge at least so much
_MOST = 3.0  # larger than this a photo shows nothing new
_MOST_WOUNDS = 8
_MOST_SIDE = 2048  # px; a picture that large takes seconds
_FAR_LOGIT = -20.0  # surely no wound


class NetworkError(EbblineError):
    """A network's file can't be used; the text says why and what to do."""

    code = "unusable-network"


@dataclass(frozen=True)
class Facts:
    """What belongs to a network's weights, beside them in a file of the same name that ends in ``.json``.

    Attributes
    ----------
    name : str
        Name and version, stored with every result.
    side : int
        Height and width in px of the pictures that it is given.
    threshold : float
        Logit above which a pixel is wound.
    presence : float
        Logit that a wound reaches somewhere inside; areas that don't are not proposed.
    least_px : float
        Smallest area proposed, in px of the picture that it is given.
    hesitation : float
        Logits above and below the threshold between which the edge lies with a standard uncertainty of `placement`.
    placement : float
        Standard uncertainty of the edge as a whole, over half the mean width of that band.
    """

    name: str
    side: int
    threshold: float
    presence: float
    least_px: float
    hesitation: float
    placement: float

    def __post_init__(self) -> None:
        """Refuse what no network can be asked with.

        Raises
        ------
        ValueError
            Saying what.
        """
        if not isinstance(self.name, str) or not self.name.strip():
            raise ValueError(f"its name is {self.name!r}")
        if type(self.side) is not int or not 32 <= self.side <= _MOST_SIDE or self.side % 32:
            raise ValueError(f"its side is {self.side!r}, not a multiple of 32 up to {_MOST_SIDE}")
        numbers = {key: value for key, value in vars(self).items() if key not in {"name", "side"}}
        for key, value in numbers.items():
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise ValueError(f"its {key} is {value!r}, not a number")


@dataclass(frozen=True, eq=False)
class Network:
    """A network that is ready to be asked."""

    path: Path
    facts: Facts
    _turn: Lock = field(default_factory=Lock, repr=False)  # one question at a time: OpenCV's networks know no threads

    @property
    def name(self) -> str:
        """Name and version."""
        return self.facts.name

    @cached_property
    def _net(self) -> cv2.dnn.Net:
        return cv2.dnn.readNetFromONNX(str(self.path))

    def logits(self, picture: Bytes) -> Map:
        """Ask how surely each pixel of a picture is wound.

        Parameters
        ----------
        picture : ndarray of uint8, shape (h, w, 3)
            RGB, at most `Facts.side` px high and wide.

        Returns
        -------
        ndarray of float32, shape (h, w)
            Logits.

        Raises
        ------
        NetworkError
            If the file is no network, or one that answers in another form.
        """
        height, width = picture.shape[:2]
        side = self.facts.side
        square = np.zeros((side, side, 3), np.uint8)
        square[:height, :width] = picture
        try:
            with self._turn:
                self._net.setInput(cv2.dnn.blobFromImage(square))
                answer = np.array(self._net.forward())
        except cv2.error as error:
            raise self._unusable() from error
        if answer.shape != (1, 1, side // 2, side // 2):
            raise self._unusable()
        whole = cv2.resize(answer[0, 0], (side, side), interpolation=cv2.INTER_LINEAR)
        return np.asarray(whole[:height, :width], dtype=np.float32)

    def _unusable(self) -> NetworkError:
        return NetworkError(
            f"{self.path} can't be used as a network for pictures of {self.facts.side} px; give one that "
            "'ebbline learn' wrote, with the .json that belongs to it, or leave --method out."
        )


@lru_cache(maxsize=2)
def open_network(path: str | None = None) -> Network:
    """Open a network, by default the one that comes with the product.

    Raises
    ------
    NetworkError
        If its file or the facts beside it are missing or unusable.
    """
    weights = WEIGHTS if path is None else Path(path)
    if weights.suffix != ".onnx":
        raise NetworkError(
            f"'{path}' is no way to propose outlines; expected is network, colour, or the path of a network's file "
            "that ends in .onnx."
        )
    facts_path = weights.with_suffix(".json")
    for needed in (weights, facts_path):
        if not needed.is_file():
            raise NetworkError(
                f"The network's file {needed} was not found; 'ebbline learn' writes both files that belong together, "
                "NAME.onnx and NAME.json, or leave --method out to use the one that comes with Ebbline."
            )
    try:
        return Network(weights, Facts(**json.loads(facts_path.read_text(encoding="utf-8"))))
    except (ValueError, TypeError) as error:
        raise NetworkError(
            f"{facts_path} does not describe a network ({error}); copy it again from where 'ebbline learn' wrote it."
        ) from error


@dataclass(frozen=True, eq=False)
class Find:
    """A wound that the network found.

    Attributes
    ----------
    shape : Polygon
        In photo px.
    edge_sigma_px : float
        How far its edge may lie inward or outward as a whole (standard uncertainty).
    peak : float
        Logit of its surest pixel.
    """

    shape: Polygon
    edge_sigma_px: float
    peak: float


def propose_by_network(
    pixels: Bytes, network: Network, keep_out: Sequence[Points], aim_px: Points | None, mm_per_px: float | None
) -> list[Find]:
    """Find the wounds in a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB, upright.
    network : Network
    keep_out : sequence of ndarray of shape (N, 2)
        Outlines of stickers, in photo px.
    aim_px : ndarray of shape (2,), optional
        Where a wound is expected, in photo px.
    mm_per_px : float, optional
        Scale there. Without a scale or a place to look, the whole photo is searched.
    """
    margin_px = _MARGIN_MM / mm_per_px if mm_per_px else 0.0
    first = _first_look(pixels, network, aim_px, mm_per_px)
    finds: list[Find] = []
    for low, high in first.without(keep_out, margin_px).boxes():
        look = first.closer(pixels, low, high).without(keep_out, margin_px)
        finds.extend(find for find in look.finds(low, high) if not any(find.shape.intersects(it.shape) for it in finds))
    return finds[:_MOST_WOUNDS]


def _first_look(pixels: Bytes, network: Network, aim_px: Points | None, mm_per_px: float | None) -> "_Look":
    """Look where a wound is expected, or at the whole photo if it reaches beyond that, or nothing tells where."""
    low, high = _search(pixels, aim_px, mm_per_px)
    first = _look(network, cut_out(pixels, low, high, network.facts.side, _MOST))
    if not first.cuts(pixels):
        return first
    whole = np.zeros(2), np.array(pixels.shape[1::-1]) - 1.0
    return _look(network, cut_out(pixels, *whole, network.facts.side, _MOST))


def _search(pixels: Bytes, aim_px: Points | None, mm_per_px: float | None) -> tuple[Points, Points]:
    """Return the corners of the part of a photo where wounds are looked for."""
    last = np.array(pixels.shape[1::-1]) - 1.0
    if aim_px is None or not mm_per_px:
        return np.zeros(2), last
    aim, reach = np.clip(aim_px, 0, last), _REACH_MM / mm_per_px
    return aim - reach, aim + reach


def _look(network: Network, seen: View) -> "_Look":
    return _Look(network, seen, network.logits(seen.picture))


@dataclass(frozen=True, eq=False)
class _Look:
    """What the network says about one view: how surely each pixel is wound."""

    network: Network
    view: View
    logits: Map

    def without(self, rings: Sequence[Points], margin_px: float) -> "_Look":
        """Return the same, surely no wound inside rings given in photo px, nor within a margin round them."""
        covered = cv2.dilate(self.view.covered(rings), disc(margin_px / self.view.step.mean() + 1))
        return replace(self, logits=np.where(covered > 0, np.float32(_FAR_LOGIT), self.logits))

    def cuts(self, pixels: Bytes) -> bool:
        """Whether something that is wound reaches beyond the view, where the photo goes on."""
        height, width = self.logits.shape
        border = np.array([[0, 0], [width, height]]) - 0.5
        low, high = self.view.to_photo(border)
        sides = (
            (self.logits[:, 0], low[0] > 0),
            (self.logits[0], low[1] > 0),
            (self.logits[:, -1], high[0] < pixels.shape[1] - 1),
            (self.logits[-1], high[1] < pixels.shape[0] - 1),
        )
        return any(goes_on and bool((side > self.network.facts.threshold).any()) for side, goes_on in sides)

    def boxes(self) -> Iterator[tuple[Points, Points]]:
        """Yield low and high corner, in photo px, of each area that is wound; the largest first."""
        facts = self.network.facts
        mask = (self.logits > facts.threshold).astype(np.uint8)
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        for label in sorted(range(1, count), key=lambda n: -stats[n, cv2.CC_STAT_AREA]):
            left, top, width, height, area = stats[label]
            part = np.s_[top : top + height, left : left + width]
            peak = float(self.logits[part][labels[part] == label].max())
            if area >= facts.least_px and peak >= facts.presence:
                corners = np.array([[left, top], [left + width - 1, top + height - 1]], np.float64)
                low, high = self.view.to_photo(corners)
                yield low, high

    def closer(self, pixels: Bytes, low: Points, high: Points) -> "_Look":
        """Look again at one area, if it then is seen larger; both looks count, the closer one double."""
        half, middle = float((high - low).max()) / _FILLS / 2, (low + high) / 2
        near = cut_out(pixels, middle - half, middle + half, self.network.facts.side, _MOST)
        if self.view.step.mean() / near.step.mean() < _WORTH:
            return self
        before = self.view.onto(self.logits, near)
        return _Look(self.network, near, np.asarray((before + 2 * self.network.logits(near.picture)) / 3, np.float32))

    def finds(self, low: Points, high: Points) -> Iterator[Find]:
        """Yield the wounds of this view that touch a box given in photo px."""
        first, last = self.view.from_photo(np.array([low, high]))
        for shape in self._shapes():
            left, top, right, bottom = shape.bounds
            touches = left <= last[0] and top <= last[1] and right >= first[0] and bottom >= first[1]
            if touches and (peak := self._peak(shape)) >= self.network.facts.presence:
                yield Find(self._in_photo(shape), self._edge_sigma(shape), peak)

    def _peak(self, shape: Polygon) -> float:
        """Return the highest logit inside a shape."""
        left, top, right, bottom = (int(side) for side in shape.bounds)
        inside = np.zeros((bottom - top + 2, right - left + 2), np.uint8)
        cv2.fillPoly(inside, [np.rint(np.asarray(shape.exterior.coords) - (left, top)).astype(np.int32)], 1)
        part = self.logits[max(top, 0) : bottom + 2, max(left, 0) : right + 2]
        inside = inside[max(-top, 0) :, max(-left, 0) :][: part.shape[0], : part.shape[1]]
        return float(part[inside > 0].max(initial=_FAR_LOGIT))

    def _shapes(self) -> list[Polygon]:
        """Return the areas above the threshold, in px of the view, holes kept."""
        facts = self.network.facts
        padded = np.pad(self.logits, 1, constant_values=_FAR_LOGIT)
        lines = find_contours(padded, facts.threshold)  # type: ignore[no-untyped-call] # it ships no types
        height, width = self.logits.shape
        last = np.array((width, height)) - 0.5
        rings = [Polygon(np.clip(line[:, ::-1] - 1.0, -0.5, last)) for line in lines if len(line) > 3]
        return _nested(rings, facts.least_px)

    def _edge_sigma(self, shape: Polygon) -> float:
        """Return the standard uncertainty of an edge as a whole, from the band in which the network hesitates."""
        facts = self.network.facts
        left, top, right, bottom = shape.buffer(_BAND_REACH * np.sqrt(shape.area)).bounds
        part = self.logits[max(int(top), 0) : int(bottom) + 2, max(int(left), 0) : int(right) + 2]
        hesitates = np.count_nonzero(np.abs(part - facts.threshold) <= facts.hesitation)
        return float(facts.placement * hesitates / shape.length / 2 * self.view.step.mean())

    def _in_photo(self, shape: Polygon) -> Polygon:
        rings = [self.view.to_photo(np.asarray(ring.coords)) for ring in (shape.exterior, *shape.interiors)]
        return Polygon(rings[0], rings[1:])


def _nested(rings: Sequence[Polygon], least: float) -> list[Polygon]:
    """Make polygons with holes of closed lines, leaving out those that enclose too little."""
    sound = (ring if ring.is_valid else max(_areas(ring.buffer(0)), key=_area, default=Polygon()) for ring in rings)
    kept = sorted((ring for ring in sound if ring.area >= least), key=lambda ring: -ring.area)
    shells: list[tuple[Polygon, list[Polygon]]] = []
    for ring in kept:
        around = next((holes for shell, holes in reversed(shells) if shell.contains(ring)), None)
        if around is None or any(hole.contains(ring) for hole in around):
            shells.append((ring, []))
        else:
            around.append(ring)
    return [Polygon(shell.exterior, [hole.exterior for hole in holes]) for shell, holes in shells]


def _areas(shape: BaseGeometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]


def _area(shape: Polygon) -> float:
    return float(shape.area)
