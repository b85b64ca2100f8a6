"""What a sticker bent round a limb does to the area, taken for flat and corrected.

Run it with ``python -m tests.benchmarks.limbs --count 10``. All else is that of a bedside, with the true outline; the
limb lies in any direction. *Taken for flat* puts one homography through the same points. Prints Markdown.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice, product

import cv2
import numpy as np
from shapely.geometry import Polygon

from calibration.errors import EbblineError
from calibration.projection import project
from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.rendering import Limb, Scene, jpeg, render
from tests.benchmarks.run import in_order, print_rows
from tests.benchmarks.scenes import LAYOUTS, plain

RADII_MM = (120.0, 80.0, 60.0, 40.0)

Job = tuple[str, float, int, int]
"""Layout, radius, number of the scene, and width."""


@dataclass(frozen=True)
class Trial:
    """One photo: relative errors of the area, whether the truth is within U, and the radius that was found."""

    flat: float
    corrected: float
    within: bool
    radius_mm: float


def scene_of(job: Job) -> Scene:
    """Return the scene of a job, the same for every run."""
    layout, radius_mm, number, width = job
    random = np.random.default_rng((ord(layout[0]), 5, number))
    return replace(plain(layout, number, width), limb=Limb(radius_mm, random.uniform(0, 180)))


def trial(job: Job) -> Trial | None:
    """Render and measure one scene; None where it was refused."""
    rendering = render(scene_of(job))
    try:
        prepared = prepare(read_photo(jpeg(rendering), "photo"), propose=False)
        measurement = complete(prepared, [Outline(rendering.outline_px, rendering.holes_px)])
    except EbblineError:
        return None
    (wound,), sticker = measurement.wounds, prepared.calibration.stickers[0]
    homography = cv2.findHomography(sticker.points_px[: sticker.saddles], sticker.points_mm[: sticker.saddles], 0)[0]
    rings = [project(homography, ring) for ring in (rendering.outline_px, *rendering.holes_px)]
    flat = Polygon(rings[0]).area - sum(Polygon(ring).area for ring in rings[1:])
    bend, error = prepared.calibration.plane.projection.bend, wound.area.value / rendering.area_mm2 - 1
    within = abs(wound.area.value - rendering.area_mm2) <= wound.area.expanded_uncertainty
    return Trial(flat / rendering.area_mm2 - 1, error, bool(within), 1 / bend.curvature if bend else np.inf)


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the table, a row a sticker and radius."""
    yield "| sticker | radius | photos | measured | taken for flat, rms | corrected, rms (largest) | within U | found |"
    yield "|---|---|---|---|---|---|---|---|"
    places = list(product(LAYOUTS, RADII_MM))
    jobs = [(*place, number, width) for place in places for number in range(1, count + 1)]
    trials = in_order(trial, jobs, workers)
    for layout, radius_mm in places:
        some = [one for one in islice(trials, count) if one is not None]
        yield f"| {layout} | {radius_mm:.0f} mm | {count} | {len(some)} | {_cells(some)} |"


def _cells(trials: list[Trial]) -> str:
    if not trials:
        return "| | | "
    flat, corrected = (100 * np.array([getattr(one, name) for one in trials]) for name in ("flat", "corrected"))
    rms = f"{np.sqrt(np.mean(corrected**2)):.2f} ({np.abs(corrected).max():.2f}) %"
    share, radius = np.mean([one.within for one in trials]), np.median([one.radius_mm for one in trials])
    return f"{np.sqrt(np.mean(flat**2)):.0f} % | {rms} | {100 * share:.0f} % | {radius:.0f} mm"


if __name__ == "__main__":
    print_rows(rows, __doc__, 10)
