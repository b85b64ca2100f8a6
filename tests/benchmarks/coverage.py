"""How often the truth lies within the interval that is reported (k = 2), when every imperfection is really there.

Run it with ``python -m tests.benchmarks.coverage --count 40 --workers 8``. In each photo the print, the height of the
sticker over the wound, the lens, its focal length, the curve of the skin and the drawn edge are off by what chance
makes of the distributions that the budget claims; the rest is that of a bedside. Prints two tables in Markdown:
coverage, which should be about 95 %, with the predicted uncertainty beside the true error; and what the predicted
uncertainty of the area is made of.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice, product

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from calibration.model import FOCAL_SIGMA, LENS_SIGMA, UNSEEN_CURVATURE
from measure.geometry import Convention, extents
from measure.outline import Outline
from measure.rendering import Limb, Scene
from measure.wound import EDGE_SIGMA_MM, PLANE_OFFSET_SIGMA_MM
from tests.benchmarks.run import Measured, in_order, measured, print_rows
from tests.benchmarks.scenes import LAYOUTS, bedside

BANDS = ((0, 15), (15, 30), (30, 45))
"""Tilts in degrees."""

SCALE = "area, true outline"
QUANTITIES = ("area", "perimeter", "length", SCALE)
"""The last is the area by the true outline, against the budget without the drawing of the edge: what scale and tilt
alone are off by. In the others the edge outweighs everything else and would hide it."""

EDGE = "outline placement"

PRINT_SCALE_LIMIT = 0.005
"""The sheet asks to throw away prints that are off by more; within that the budget takes a rectangular distribution."""

POINTS_OFF_MM = 0.1
"""How far the straight edges of a drawn outline may cut its curves: some 50 points, as a person leaves them."""

SHARPEST_MM = 40.0
"""Radius of the most curved skin: an arm's. Skin is drawn as curved as the budget holds possible, never hollow."""

EXIF_FOCAL_MM = 26

Job = tuple[str, int, int, int]
"""Layout, number of the tilt band, number of the scene, and width."""


@dataclass(frozen=True)
class Flaws:
    """What is off in one photo."""

    print_scale: float
    lift_mm: float
    k1: float
    focal: float
    edge_mm: float
    limb: Limb

    @classmethod
    def drawn(cls, random: np.random.Generator) -> "Flaws":
        """Return flaws as likely as the budget says."""
        return cls(
            1 + random.uniform(-PRINT_SCALE_LIMIT, PRINT_SCALE_LIMIT),
            random.normal(0, PLANE_OFFSET_SIGMA_MM),
            random.normal(0, LENS_SIGMA),
            1 + random.normal(0, FOCAL_SIGMA),
            random.normal(0, EDGE_SIGMA_MM),
            Limb(
                1 / min(max(abs(random.normal(0, UNSEEN_CURVATURE)), 1e-5), 1 / SHARPEST_MM),
                random.uniform(0, 180),
                (random.uniform(-20, 20), random.uniform(-20, 20)),
            ),
        )

    def scene(self, scene: Scene) -> Scene:
        """Return the scene with these flaws; the file will say `EXIF_FOCAL_MM` whatever the lens is."""
        sticker = replace(scene.stickers[0], print_scale=self.print_scale, lift_mm=self.lift_mm)
        focal_px = scene.camera.focal * self.focal
        camera = replace(scene.camera, k1=self.k1, focal_px=focal_px)
        return replace(scene, stickers=(sticker,), camera=camera, limb=self.limb)

    def outline(self, scene: Scene) -> Outline:
        """Return the wound's outline in whole px, drawn too far outward or inward."""
        drawn = _largest(scene.wound_mm().buffer(self.edge_mm).simplify(POINTS_OFF_MM))
        rings = (shapely.get_coordinates(ring)[:-1] for ring in (drawn.exterior, *drawn.interiors))
        exterior, *holes = (np.rint(scene.view().project(ring)) for ring in rings)
        return Outline(exterior, tuple(holes))


def _largest(shape: Polygon | MultiPolygon) -> Polygon:
    return max(shape.geoms, key=lambda part: part.area) if isinstance(shape, MultiPolygon) else shape


@dataclass(frozen=True)
class Trial:
    """One photo: true relative error, predicted relative standard uncertainty and k u by quantity; budget of area."""

    error: Mapping[str, float]
    predicted: Mapping[str, float]
    expanded: Mapping[str, float]
    components: Mapping[str, float]


def trial(job: Job) -> Trial | None:
    """Render, save, read and measure one scene; None where no sticker was found."""
    layout, band, number, width = job
    random = np.random.default_rng((ord(layout[0]), 4, band, number))
    base = bedside(layout, number, width)
    base = replace(base, camera=replace(base.camera, tilt_deg=random.uniform(*BANDS[band])))
    flaws = Flaws.drawn(random)
    scene = flaws.scene(base)
    found = measured(scene, drawn=flaws.outline(scene), focal_35mm=EXIF_FOCAL_MM)
    return None if found is None else _compared(found, scene.wound_mm())


def _compared(photo: Measured, truth: Polygon) -> Trial:
    true = {
        "area": truth.area,
        "perimeter": truth.length,
        "length": extents(truth, Convention.LONGEST_PERPENDICULAR).length_mm,
        SCALE: truth.area,
    }
    by_truth = photo.by_truth.area
    unmoved = {name: share for name, share in by_truth.components.items() if name != EDGE}
    found = {name: getattr(photo.as_drawn, name) for name in QUANTITIES[:-1]}
    found[SCALE] = replace(by_truth, components=unmoved)
    return Trial(
        {name: found[name].value / true[name] - 1 for name in QUANTITIES},
        {name: found[name].relative_uncertainty for name in QUANTITIES},
        {name: found[name].expanded_uncertainty / true[name] for name in QUANTITIES},
        dict(found["area"].components),
    )


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield both tables, a row a layout and tilt band."""
    heads = " | ".join(f"{name}: within U | u, mean | error, rms" for name in QUANTITIES)
    yield f"| sticker | tilt | photos | found | {heads} |"
    yield "|---|---|---|---|" + "---|" * (3 * len(QUANTITIES))
    places = list(product(LAYOUTS, range(len(BANDS))))
    jobs = [(*place, number, width) for place in places for number in range(1, count + 1)]
    trials = in_order(trial, jobs, workers)
    budgets = {}
    for layout, band in places:
        some = [one for one in islice(trials, count) if one is not None]
        name = f"| {layout} | {BANDS[band][0]} to {BANDS[band][1]}° |"
        budgets[name] = [one.components for one in some]
        cells = " | ".join(_cells(some, quantity) for quantity in QUANTITIES)
        yield f"{name} {count} | {len(some)} | {cells} |"
    yield ""
    yield from _budget_rows(budgets)


def _cells(trials: list[Trial], quantity: str) -> str:
    if not trials:
        return "| |"
    error, predicted, expanded = (
        np.array([getattr(one, part)[quantity] for one in trials]) for part in ("error", "predicted", "expanded")
    )
    share = np.mean(np.abs(error) <= expanded)
    return f"{100 * share:.0f} % | {100 * predicted.mean():.2f} % | {100 * np.sqrt(np.mean(error**2)):.2f} %"


def _budget_rows(budgets: Mapping[str, list[Mapping[str, float]]]) -> Iterator[str]:
    """Yield the mean share of each component in the uncertainty of the area, in % of the area."""
    names = list(dict.fromkeys(name for trials in budgets.values() for one in trials for name in one))
    yield f"| sticker | tilt | {' | '.join(names)} |"
    yield "|---|---|" + "---|" * len(names)
    for place, trials in budgets.items():
        shares = [[one.get(name, 0.0) for one in trials] for name in names]
        yield f"{place} {' | '.join(f'{100 * np.mean(some):.2f} %' if some else '' for some in shares)} |"


if __name__ == "__main__":
    print_rows(rows, __doc__, 20)
