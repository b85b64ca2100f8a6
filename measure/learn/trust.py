"""How far a network can be trusted, from photographs that it has not seen: what is a wound, how true is its edge."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely.geometry import Polygon

from measure.by_network import Facts, Find, Network, propose_by_network
from measure.learn.examples import Example
from measure.outline import from_mask, polygon
from measure.overlap import SPECK_PX

_SAME = 0.3  # least overlap (IoU) of a find and a reference that speak of the same wound
_MARGIN = 0.8  # of the level that the faintest of the unseen wounds reaches
_COVERED = 0.95  # of the edges lie within k = 2


def trusted(path: Path, facts: Facts, unseen: Sequence[Example]) -> Facts:
    """Return facts with the level that wounds reach, and the uncertainty of edges, as photographs not seen show them.

    Parameters
    ----------
    path : Path
        The network's weights (.onnx).
    facts : Facts
        What is known so far.
    unseen : sequence of Example
        Not among those that the network learnt from.
    """
    open_minded = Network(path, replace(facts, presence=facts.threshold, placement=1.0))
    seen = [_seen(open_minded, example) for example in unseen]
    peaks = [peak for finds, wounds in seen if (peak := _peak(finds, wounds)) is not None]
    presence = max(facts.threshold, _MARGIN * min(peaks, default=facts.presence))
    shifts = [shift for finds, wounds in seen for shift in _shifts(finds, wounds)]
    placement = float(np.quantile(shifts, _COVERED) / 2) if shifts else facts.placement
    return replace(facts, presence=round(presence, 2), placement=round(placement, 2))


def _seen(network: Network, example: Example) -> tuple[list[Find], list[Polygon]]:
    """Return what a network finds in a photograph, and the wounds that a person marked in it."""
    finds = propose_by_network(example.photo, network, (), None, None)
    return finds, [polygon(outline) for outline in from_mask(example.mask, SPECK_PX)]


def _peak(finds: Sequence[Find], wounds: Sequence[Polygon]) -> float | None:
    """Return the highest logit of all finds that touch a wound; None where there is no wound or none was found."""
    return max((find.peak for find in finds for wound in wounds if find.shape.intersects(wound)), default=None)


def _shifts(finds: Sequence[Find], wounds: Sequence[Polygon]) -> Iterator[float]:
    """Yield how far each found edge lies inward or outward as a whole, over its standard uncertainty."""
    for find in finds:
        wound = max(wounds, key=lambda one: _iou(one, find.shape), default=None)
        if wound is not None and _iou(wound, find.shape) >= _SAME and find.edge_sigma_px > 0:
            yield abs(find.shape.area - wound.area) / find.shape.length / find.edge_sigma_px


def _iou(one: Polygon, other: Polygon) -> float:
    return float(one.intersection(other).area / one.union(other).area)
