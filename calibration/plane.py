"""The wound plane as it was found: how millimetres become pixels, and how far that may be from the truth.

On a limb the plane is unrolled (see `calibration.projection`).
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calibration.projection import Projection
from calibration.sticker import Points

Model = Literal["pose", "homography", "limb", "ruler", "two points"]
Deviation = tuple[Projection, Projection]
"""What the projection would be one standard deviation to either side, along one independent direction."""


@dataclass(frozen=True)
class Neighbour:
    """Another sticker in the photo, seen from the plane of the first.

    Attributes
    ----------
    size : float
        How much larger it seems than its layout, relative.
    size_uncertainty : float
        Relative standard uncertainty that the first sticker's plane leaves there.
    joined : bool
        Whether it lies in the plane and has the right size, so that its points were used too.
    placement : tuple of float
        How its layout lies on the first one's: turn in radians, shift in mm, logarithm of its size.
    """

    size: float
    size_uncertainty: float
    joined: bool
    placement: tuple[float, float, float, float]


FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
"""Of the film picture that EXIF's 35 mm equivalent focal length refers to."""

UNKNOWN_FOCAL_MM = 27.0
"""Without EXIF: 35 mm equivalent focal length of a phone's main camera."""


@dataclass(frozen=True, eq=False)
class Plane:
    """The wound plane: how millimetres on it become pixels of the photo.

    Attributes
    ----------
    projection : Projection
        The best estimate.
    deviations : mapping of str to tuple of Deviation
        By cause, the independent directions in which the estimate may be off.
    model : {"pose", "homography", "limb", "ruler", "two points"}
        What was fitted; see `calibration.fit`, `calibration.ruler` and `calibration.two_points`.
    residual_px : float
        Root-mean-square distance between saddle points and where the plane puts them.
    tilt_deg : float
        Angle between the camera's optical axis and the plane's normal.
    sigma_px : float
        Estimated standard deviation of a saddle point, in x or y.
    rejected_px : ndarray of shape (K, 2)
        Saddle points in the photo that did not fit and were left out.
    stretch, stretch_uncertainty : float
        How much longer the layout's y is printed than its x, relative, with its standard uncertainty; NaN if unknown.
    neighbours : tuple of Neighbour
        The other stickers in the photo.
    """

    projection: Projection
    deviations: Mapping[str, tuple[Deviation, ...]]
    model: Model
    residual_px: float
    tilt_deg: float
    sigma_px: float
    rejected_px: Points = field(default_factory=lambda: np.empty((0, 2)))
    stretch: float = float("nan")
    stretch_uncertainty: float = float("nan")
    neighbours: tuple[Neighbour, ...] = ()

    def to_px(self, points_mm: Points) -> Points:
        """Map points (N, 2) on the skin, in mm, to the photo."""
        return self.projection.to_px(points_mm)

    def to_mm(self, points_px: Points) -> Points:
        """Map points (N, 2) of the photo to the skin, in mm."""
        return self.projection.to_mm(points_px)

    def sees(self, points_px: Points) -> bool:
        """Tell whether all points (N, 2) of the photo show the near side of the skin."""
        return self.projection.sees(points_px)

    def mm_per_px(self, point_px: Points) -> float:
        """Millimetres a pixel at a point (2,): the square root of the area that one pixel covers."""
        return self.projection.mm_per_px(point_px)

    def scale_uncertainty(self, place_px: Points) -> float:
        """Relative standard uncertainty of mm per px at a place (2,) of the photo, of all causes together."""
        spreads = self.propagate(lambda moved: np.array([np.log(moved.mm_per_px(place_px))]))
        return float(np.linalg.norm([spread[0] for spread in spreads.values()]))

    def propagate(
        self, quantity: Callable[[Projection], Points], causes: Collection[str] | None = None
    ) -> dict[str, NDArray[np.float64]]:
        """Return by cause the standard uncertainty of what follows from the plane, to first order (JCGM 100, 5.1.2).

        Parameters
        ----------
        quantity : callable
            Takes a projection, returns an ndarray of shape (M,); NaN where it can't be told.
        causes : collection of str or None
            Which causes to look at; all without it.

        Returns
        -------
        dict of str to ndarray of shape (M,)
            Standard uncertainties; causes are independent of one another.
        """
        best = quantity(self.projection)
        wanted = [item for item in self.deviations.items() if causes is None or item[0] in causes]
        return {cause: _spread(quantity, best, pairs) for cause, pairs in wanted}


def _spread(quantity: Callable[[Projection], Points], best: Points, pairs: tuple[Deviation, ...]) -> Points:
    """Root sum of squares of half the differences; where a limb turns away on one side, the other side tells alone."""
    halves = []
    for plus, minus in pairs:
        up, down = quantity(plus) - best, best - quantity(minus)
        halves.append((np.where(np.isfinite(up), up, down) + np.where(np.isfinite(down), down, up)) / 2)
    uncertainty: Points = np.sqrt(np.sum(np.square(halves), axis=0))
    return uncertainty


def default_focal_px(width: int, height: int) -> float:
    """Return the focal length in px of a phone's main camera, for a photo that doesn't tell its own."""
    return UNKNOWN_FOCAL_MM / FULL_FRAME_DIAGONAL_MM * float(np.hypot(width, height))


def straight_plane(  # noqa: PLR0913, PLR0917 - each is a fact of its own
    mm_per_px: float,
    relative_sigma: float,
    size_px: tuple[int, int],
    focal_px: float | None,
    model: Model,
    sigma_px: float,
    residual_px: float = float("nan"),
) -> Plane:
    """Return the plane of a camera that looked straight at a known length: its tilt is unknown, NaN.

    Parameters
    ----------
    mm_per_px, relative_sigma : float
        The scale, and its relative standard uncertainty.
    size_px : tuple of two int
        Width and height of the photo; its pixels are the origin and the axes of the plane.
    focal_px : float or None
        Focal length in px, as far as the photo file tells it.
    model, sigma_px, residual_px
        As of `Plane`.
    """
    centre = ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2)
    focal = default_focal_px(*size_px) if focal_px is None else focal_px

    def at(px_per_mm: float) -> Projection:
        return Projection(np.diag([px_per_mm, px_per_mm, 1.0]), focal, centre)

    best = 1 / mm_per_px
    apart = (at(best * (1 + relative_sigma)), at(best * (1 - relative_sigma)))
    return Plane(at(best), {"point localisation": (apart,)}, model, residual_px, float("nan"), sigma_px)
