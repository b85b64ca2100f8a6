"""How far the area of a given true outline is off, and whether stickers are found.

Run it with ``python -m tests.benchmarks.accuracy`` in the repository's root; it takes some minutes.

Renders scenes at the bedside and at the limits, saves them as JPEG 85 with EXIF, reads them as any photo, and measures
the true outline. Prints Markdown.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, product

import numpy as np

from tests.benchmarks.run import in_order, measured, print_rows
from tests.benchmarks.scenes import LAYOUTS, bedside, hard

CONDITIONS = {"bedside": bedside, "limits": hard}

Job = tuple[str, str, int, int]
"""Condition, layout, number and width."""


@dataclass(frozen=True)
class Trial:
    """One photo: relative error of area and of tilt, NaN where the sticker was not found."""

    error: float
    localisation: float
    tilt_error_deg: float


def measure_one(job: Job) -> Trial:
    """Render, save, read and measure one scene."""
    condition, *place = job
    scene = CONDITIONS[condition](*place)
    found = measured(scene)
    if found is None:
        return Trial(np.nan, np.nan, np.nan)
    area = found.by_truth.area
    return Trial(
        area.value / scene.wound_mm().area - 1,
        area.components["point localisation"],
        found.plane.tilt_deg - scene.camera.tilt_deg,
    )


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the table, a row a layout and condition."""
    yield "| condition | sticker | photos | found | area error, rms | largest | within 2 u of the fit | tilt error |"
    yield "|---|---|---|---|---|---|---|---|"
    places = list(product(CONDITIONS, LAYOUTS))
    jobs = [(*place, number, width) for place in places for number in range(1, count + 1)]
    trials = in_order(measure_one, jobs, workers)
    for place in places:
        yield row(*place, list(islice(trials, count)))


def row(condition: str, layout: str, trials: list[Trial]) -> str:
    """Return one row of the table."""
    errors = np.array([trial.error for trial in trials])
    found = np.isfinite(errors)
    counts = f"{len(trials)} | {found.sum()}"
    if not found.any():
        return f"| {condition} | {layout} | {counts} | | | | |"
    errors = errors[found]
    sigma = np.array([trial.localisation for trial in trials])[found]
    tilts = np.array([trial.tilt_error_deg for trial in trials])[found]
    rms, largest = 100 * np.sqrt(np.mean(errors**2)), 100 * np.abs(errors).max()
    within = f"{100 * np.mean(np.abs(errors) <= 2 * sigma):.0f} %"
    tilt = f"{np.sqrt(np.mean(tilts**2)):.2f}°"
    return f"| {condition} | {layout} | {counts} | {rms:.3f} % | {largest:.2f} % | {within} | {tilt} |"


if __name__ == "__main__":
    print_rows(rows, __doc__, 40)
