"""How far apart the outlines lie that several people drew round the same wound, in mm on the wound plane.

`measure.overlap` counts pixels of masks: it compares outlines and painted masks alike, and knows a scale at one point
at most. Here everything is an outline that was carried into the wound plane (`measure.outline.map_outline`), so that in
a tilted photo, where a millimetre has more pixels near than far, all parts of the edge count alike.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from measure.agreement.bootstrap import DRAWS, Drawn, bootstrap
from measure.agreement.errors import AgreementError
from measure.agreement.statistic import Statistic
from measure.outline import dice, iou

STEP_MM = 0.2
"""Between the places on an edge that are measured: about two pixels of a photo from 30 cm. No distance between
them differs by more than half of it from that of the nearest."""

LEAST_STEPS = 200
"""On one edge, so that the smallest wound's is followed as well."""

TOLERANCE_MM = 0.005
"""By which the edge that distances lead to may be simpler than drawn: nothing beside the step, and several times faster
where an outline has hundreds of points."""

SEED = 20120402
LEAST_PHOTOS = 6
"""With fewer not even the lowest and the highest hold the median of all wounds between them in 95 % of studies: with 5
in 1 - 2 / 2**5, 94 %, with 6 in 97 %."""

HEIMANN = "Heimann and others, IEEE Trans Med Imaging 2009;28:1251-65"
DICE = "Dice, Ecology 1945;26:297-302"
JACCARD = "Jaccard, New Phytol 1912;11:37-50"

Area = Polygon | MultiPolygon
Numbers = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Traced:
    """One outline of the wound in a photo.

    Attributes
    ----------
    photo, rater, trial : str
        What was traced, by whom, and which time.
    outline : Polygon or MultiPolygon
        In mm on the wound plane.

    Raises
    ------
    AgreementError
        If the outline has no area or crosses itself.
    """

    photo: str
    rater: str
    trial: str
    outline: Area

    def __post_init__(self) -> None:
        """Refuse what can't be compared."""
        if self.outline.is_empty or not self.outline.is_valid or self.outline.area == 0:
            raise AgreementError(
                f"Tracing {self.trial} of {self.photo} by {self.rater} encloses no sound area; trace it again, or "
                "leave it out."
            )

    @cached_property
    def places(self) -> Numbers:
        """Places at even steps along its edges, mm, shape (N, 2); found once, for it is compared with several."""
        return _places(self.outline)

    @cached_property
    def edge(self) -> BaseGeometry:
        """Its edges, as simple as `TOLERANCE_MM` lets them be."""
        return self.outline.boundary.simplify(TOLERANCE_MM)


@dataclass(frozen=True)
class Overlap:
    """How two outlines of a photo agree.

    Attributes
    ----------
    photo : str
    one, other : tuple of (str, str)
        Rater and trial.
    dice, iou : float
        2 |A and B| / (|A| + |B|), and |A and B| / |A or B|: 1 if they are the same, 0 if apart.
    distance_mm : float
        Mean symmetric distance: of all places of both edges to the other edge.
    hausdorff95_mm : float
        The greater of the two distances within which 95 % of one edge lie from the other.
    """

    photo: str
    one: tuple[str, str]
    other: tuple[str, str]
    dice: float
    iou: float
    distance_mm: float
    hausdorff95_mm: float

    @property
    def same_rater(self) -> bool:
        """Whether one person drew both."""
        return self.one[0] == self.other[0]


@dataclass(frozen=True)
class Overlaps:
    """What many photos say together.

    Attributes
    ----------
    photos, pairs : int
    dice, iou, distance, hausdorff95 : Statistic
        Medians over photos of each photo's mean over its pairs; the last two in mm.
    """

    photos: int
    pairs: int
    dice: Statistic
    iou: Statistic
    distance: Statistic
    hausdorff95: Statistic


def overlap(one: Traced, other: Traced) -> Overlap:
    """Compare two outlines of the same photo.

    Raises
    ------
    AgreementError
        If they are of different photos.
    """
    if one.photo != other.photo:
        raise AgreementError(
            f"Tracings of {one.photo} and of {other.photo} can't be compared; take those of one photo."
        )
    there, back = edge_distances(one, other), edge_distances(other, one)
    return Overlap(
        photo=one.photo,
        one=(one.rater, one.trial),
        other=(other.rater, other.trial),
        dice=min(dice(one.outline, other.outline), 1.0),  # rounding exceeds it by a hair
        iou=min(iou(one.outline, other.outline), 1.0),
        distance_mm=_mean(one.outline, other.outline, there, back),
        hausdorff95_mm=max(float(np.percentile(each, 95)) for each in (there, back)),
    )


def _mean(one: Area, other: Area, there: Numbers, back: Numbers) -> float:
    """Return the mean over both edges, each millimetre of them counting alike."""
    lengths = one.length, other.length
    return float((there.mean() * lengths[0] + back.mean() * lengths[1]) / sum(lengths))


def edge_distances(one: Traced, other: Traced) -> Numbers:
    """Return how far places on the edge of one outline lie from the nearest of the other's edge, in mm, shape (N,).

    The places are evenly apart; edges of healed islands count as well.
    """
    return np.asarray(shapely.distance(shapely.points(one.places), other.edge), dtype=np.float64)


def _places(area: Area) -> Numbers:
    """Return the middles of equal steps along the edges of an area, shape (N, 2)."""
    step = min(STEP_MM, area.length / LEAST_STEPS)
    return np.concatenate([_along(ring, step) for ring in shapely.get_parts(area.boundary)])


def _along(ring: shapely.LineString, step: float) -> Numbers:
    count = int(np.ceil(ring.length / step))
    at = (np.arange(count) + 0.5) * (ring.length / count)
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(ring, at)), dtype=np.float64)


def overlaps(tracings: Iterable[Traced], *, same_rater: bool | None = None) -> tuple[Overlap, ...]:
    """Compare all outlines of each photo with each other.

    Parameters
    ----------
    tracings : iterable of Traced
    same_rater : bool, optional
        Whether to keep the pairs of one rater's trials alone, or those of different raters alone.

    Raises
    ------
    AgreementError
        If there is no pair.
    """
    by_photo: dict[str, list[Traced]] = {}
    for each in tracings:
        by_photo.setdefault(each.photo, []).append(each)
    pairs = [
        overlap(one, other)
        for traced in by_photo.values()
        for one, other in combinations(traced, 2)
        if same_rater is None or (one.rater == other.rater) == same_rater
    ]
    if not pairs:
        of = {None: "twice", True: "twice by the same rater", False: "by two raters"}[same_rater]
        raise AgreementError(f"No photo was traced {of}, so that no outlines can be compared; let one be.")
    return tuple(pairs)


def summary(pairs: Sequence[Overlap], *, seed: int = SEED) -> Overlaps:
    """Sum up photos: each counts once, however many outlines it has.

    Raises
    ------
    AgreementError
        If there is no pair.
    """
    if not pairs:
        raise AgreementError("No outlines were compared, so that there is nothing to sum up; compare at least two.")
    photos = list(dict.fromkeys(pair.photo for pair in pairs))
    number = np.array([photos.index(pair.photo) for pair in pairs])

    def median(of: Callable[[Overlap], float], name: str, unit: str, source: str) -> Statistic:
        values = np.bincount(number, [of(pair) for pair in pairs]) / np.bincount(number)
        return _median(values, name, unit, source, seed)

    return Overlaps(
        photos=len(photos),
        pairs=len(pairs),
        dice=median(lambda pair: pair.dice, "Dice coefficient", "", DICE),
        iou=median(lambda pair: pair.iou, "intersection over union", "", JACCARD),
        distance=median(lambda pair: pair.distance_mm, "mean symmetric distance of the edges", "mm", HEIMANN),
        hausdorff95=median(lambda pair: pair.hausdorff95_mm, "95 % Hausdorff distance of the edges", "mm", HEIMANN),
    )


def _median(values: Numbers, name: str, unit: str, source: str, seed: int) -> Statistic:
    """Return the median of a value a photo."""
    method = f"{name}, mean over the pairs of outlines of a photo, median over photos"
    if len(values) < LEAST_PHOTOS:
        method += f"; no interval, which needs {LEAST_PHOTOS} photos"
        return Statistic(float(np.median(values)), unit=unit, method=method, source=source)
    ranked = np.sort(values)
    low, high = bootstrap(lambda drawn: _middle(ranked, drawn), len(ranked), kind="percentile", seed=seed)
    method += f"; percentile interval of {DRAWS} resamples of photos with replacement, seed {seed}"
    return Statistic(float(np.median(values)), low, high, unit, method, source)


def _middle(ranked: Numbers, drawn: Drawn) -> float:
    """Return the median of some of the values, which are in order: several times faster than by numpy."""
    places = np.sort(drawn)
    return float(ranked[places[(len(places) - 1) // 2]] + ranked[places[len(places) // 2]]) / 2


def consensus(outlines: Sequence[Area]) -> Area:
    """Return the area that more than half of the outlines enclose; of two outlines what both do.

    Raises
    ------
    AgreementError
        If there is no such area, or no outline.
    """
    if not outlines:
        raise AgreementError("There is no outline to find the common one of; give at least one.")
    lines = shapely.union_all([outline.boundary for outline in outlines])
    faces = shapely.get_parts(shapely.polygonize([lines]))
    inside = shapely.point_on_surface(faces)
    votes = np.sum([shapely.covers(outline, inside) for outline in outlines], axis=0)
    common = shapely.union_all(faces[2 * votes > len(outlines)])
    if common.is_empty or not isinstance(common, Polygon | MultiPolygon):
        raise AgreementError(
            "No place lies within more than half of the outlines; check that all are of the same wound."
        )
    return common
