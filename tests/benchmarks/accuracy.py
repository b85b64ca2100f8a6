"""How far the area of a given true outline is off, and whether stickers are found.

Run it with ``python -m tests.benchmarks.accuracy`` in the repository's root; it takes some minutes.

Renders scenes at the bedside and at the limits, saves them as JPEG 85 with EXIF, reads them as any photo, and measures
the true outline. Prints Markdown.
"""

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from calibration.errors import EbblineError
from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from tests.benchmarks.scenes import LAYOUTS, bedside, hard
from tests.rendering import jpeg, render

CONDITIONS = {"bedside": bedside, "limits": hard}


@dataclass(frozen=True)
class Trial:
    """One photo: relative error of area and of tilt, NaN where the sticker was not found."""

    error: float
    localisation: float
    tilt_error_deg: float


def measure_one(condition: str, layout: str, number: int, width: int) -> Trial:
    """Render, save, read and measure one scene."""
    scene = CONDITIONS[condition](layout, number, width)
    rendering = render(scene)
    outline = Outline(rendering.outline_px, rendering.holes_px)
    try:
        prepared = prepare(read_photo(jpeg(rendering, quality=85), "photo"), propose=False)
        (wound,) = complete(prepared, [outline]).wounds
    except EbblineError:
        return Trial(np.nan, np.nan, np.nan)
    return Trial(
        wound.area.value / rendering.area_mm2 - 1,
        wound.area.components["point localisation"],
        prepared.calibration.plane.tilt_deg - rendering.tilt_deg,
    )


def rows(count: int, width: int) -> Iterator[str]:
    """Yield the table, a row a layout and condition."""
    yield "| condition | sticker | photos | found | area error, rms | largest | within 2 u of the fit | tilt error |"
    yield "|---|---|---|---|---|---|---|---|"
    with ProcessPoolExecutor() as pool:
        for condition in CONDITIONS:
            for layout in LAYOUTS:
                jobs = [pool.submit(measure_one, condition, layout, number, width) for number in range(1, count + 1)]
                yield row(condition, layout, [job.result() for job in jobs])


def row(condition: str, layout: str, trials: list[Trial]) -> str:
    """Return one row of the table."""
    errors = np.array([trial.error for trial in trials])
    found = np.isfinite(errors)
    errors = errors[found]
    sigma = np.array([trial.localisation for trial in trials])[found]
    tilts = np.array([trial.tilt_error_deg for trial in trials])[found]
    rms, largest = 100 * np.sqrt(np.mean(errors**2)), 100 * np.abs(errors).max()
    within = f"{100 * np.mean(np.abs(errors) <= 2 * sigma):.0f} %"
    tilt = f"{np.sqrt(np.mean(tilts**2)):.2f}°"
    counts = f"{len(trials)} | {found.sum()}"
    return f"| {condition} | {layout} | {counts} | {rms:.3f} % | {largest:.2f} % | {within} | {tilt} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40, help="photos a layout and condition")
    parser.add_argument("--width", type=int, default=4032, help="of a photo, in px")
    options = parser.parse_args()
    for line in rows(options.count, options.width):
        print(line, flush=True)  # noqa: T201 - this is what it is for


if __name__ == "__main__":
    main()
