"""Time of each stage as a ratio to decoding the same JPEG, and peak memory: ``python -m tests.benchmarks.speed``."""

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from calibration.detect import find_stickers
from calibration.plane import fit_plane
from measure.overlay import draw_measurement
from measure.photo import read_photo
from measure.pipeline import complete, prepare

SAMPLE = Path(__file__).parents[2] / "sample_images" / "W01-shin-corner.jpg"


def best(work: Callable[[], object], rounds: int) -> float:
    """Return the shortest of several times, in seconds: what the machine can do when nobody disturbs it."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", nargs="?", type=Path, default=SAMPLE)
    parser.add_argument("--rounds", type=int, default=7)
    options = parser.parse_args()
    data = options.photo.read_bytes()
    photo = read_photo(data, options.photo.name)
    stickers = find_stickers(photo.pixels)
    prepared = prepare(photo)
    measurement = complete(prepared)
    stages: dict[str, Callable[[], object]] = {
        "read the photo": lambda: read_photo(data, "photo"),
        "find the sticker": lambda: find_stickers(photo.pixels),
        "fit the plane": lambda: fit_plane(stickers[0], photo.width, photo.height, photo.focal_px),
        "prepare (all of the above but reading, and the proposal)": lambda: prepare(photo),
        "complete (numbers and budgets)": lambda: complete(prepared),
        "draw the overlay": lambda: draw_measurement(measurement),
        "whole path": lambda: complete(prepare(read_photo(data, "photo"))),
    }
    unit = best(stages["read the photo"], options.rounds)
    lines = [f"| stage, {photo.width * photo.height / 1e6:.0f} MP | ms | ratio |", "|---|---|---|"]
    for name, work in stages.items():
        seconds = best(work, options.rounds)
        lines.append(f"| {name} | {1000 * seconds:.0f} | {seconds / unit:.2f} |")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    cold = best(lambda: _cold(options.photo), 3)
    lines += [f"\nPeak memory {memory:.0f} MB. Cold `ebbline measure`: {cold:.2f} s."]
    print("\n".join(lines))  # noqa: T201 - this is what it is for


def _cold(photo: Path) -> None:
    subprocess.run([sys.executable, "-m", "measure", "measure", str(photo), "--json"], check=True, capture_output=True)


if __name__ == "__main__":
    main()
