"""Time and peak memory of each stage, also as ratios to decoding the same JPEG: ``python -m tests.benchmarks.speed``.

Times are the shortest of several rounds, warm. Memory is that of the stage and what it works on, without the some
hundred MB that the imported libraries take. Both need Linux.
"""

import argparse
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.benchmarks.memory import peaks_mb
from tests.benchmarks.stages import DECODE, STAGES, Inputs

SAMPLE = Path(__file__).parents[2] / "sample_images" / "W01-shin-corner.jpg"


def best(work: Callable[[], object], rounds: int) -> float:
    """Return the shortest of several times, in seconds: what the machine can do when nobody disturbs it."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def rows(photo: Path = SAMPLE, rounds: int = 7) -> Iterator[str]:
    """Yield the table, a row a stage, and how long the command takes from cold."""
    inputs = Inputs.of(photo.read_bytes())
    seconds = {
        name: best(lambda stage=stage: stage.work(getattr(inputs, stage.takes)), rounds)
        for name, stage in STAGES.items()
    }
    peaks = peaks_mb(inputs)
    yield f"| stage, {inputs.photo.width * inputs.photo.height / 1e6:.0f} MP | ms | ratio | peak MB | ratio |"
    yield "|---|---|---|---|---|"
    for name in STAGES:
        times = f"{1000 * seconds[name]:.0f} | {seconds[name] / seconds[DECODE]:.2f}"
        yield f"| {name} | {times} | {peaks[name]:.0f} | {peaks[name] / peaks[DECODE]:.2f} |"
    yield f"\nCold `ebbline measure`: {best(lambda: _cold(photo), 3):.2f} s."


def _cold(photo: Path) -> None:
    subprocess.run([sys.executable, "-m", "measure", "measure", str(photo), "--json"], check=True, capture_output=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", nargs="?", type=Path, default=SAMPLE)
    parser.add_argument("--rounds", type=int, default=7)
    options = parser.parse_args()
    for line in rows(options.photo, options.rounds):
        print(line, flush=True)  # noqa: T201 - this is what it is for


if __name__ == "__main__":
    main()
