"""What the benchmarks share: their options, their workers, and one photo from scene to numbers."""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TypeVar

import cv2

from calibration.errors import EbblineError
from calibration.plane import Plane
from measure.outline import Outline
from measure.photo import read_photo
from measure.pipeline import complete, prepare
from measure.rendering import ExifFacts, Scene, jpeg, render
from measure.wound import Wound

Job = TypeVar("Job")
Result = TypeVar("Result")


def options(description: str | None, count: int) -> argparse.ArgumentParser:
    """Return a parser of the options that the benchmarks over rendered photos share."""
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=count, help="photos a sticker and condition")
    parser.add_argument("--width", type=int, default=4032, help="of a photo, in px")
    parser.add_argument("--workers", type=int, default=1, help="processes at a time")
    return parser


def print_rows(rows: Callable[[int, int, int], Iterator[str]], description: str | None, count: int) -> None:
    """Print the lines that a benchmark yields for the count, width and workers of the command line."""
    chosen = options(description, count).parse_args()
    print_lines(rows(chosen.count, chosen.width, chosen.workers))


def print_lines(lines: Iterable[str]) -> None:
    """Print lines as they come."""
    for line in lines:
        print(line, flush=True)  # noqa: T201 - this is what it is for


def in_order(work: Callable[[Job], Result], jobs: Iterable[Job], workers: int) -> Iterator[Result]:
    """Yield the results in the order of the jobs, from so many processes.

    ``work`` stands at the top of a module, and neither jobs nor results hold anything that can't be pickled.
    """
    if workers <= 1:
        yield from map(work, jobs)
        return
    fresh = get_context("spawn")  # a fork would carry over OpenCV's threads half
    with ProcessPoolExecutor(workers, mp_context=fresh, initializer=_on_one_core) as pool:
        yield from pool.map(work, jobs)


def _on_one_core() -> None:
    cv2.setNumThreads(1)


@dataclass(frozen=True, eq=False)
class Measured:
    """One photo's wound by its true outline and by the one that was drawn, and the plane."""

    by_truth: Wound
    as_drawn: Wound
    plane: Plane


def measured(
    scene: Scene, quality: int = 85, drawn: Outline | None = None, focal_35mm: int | None = None
) -> Measured | None:
    """Render, save, read and measure a scene.

    Parameters
    ----------
    scene : Scene
        With a wound.
    quality : int
        Of the JPEG.
    drawn : Outline, optional
        What a person drew, in px; without it the true outline.
    focal_35mm : int, optional
        What the file says of the lens; without it the truth, rounded to whole mm.

    Returns
    -------
    Measured, optional
        None where no sticker was found, the photo was refused, or the tool broke on it.
    """
    rendering = render(scene)
    true = Outline(rendering.outline_px, rendering.holes_px)
    data = jpeg(rendering, quality=quality, facts=ExifFacts(focal_35mm=focal_35mm))
    try:
        prepared = prepare(read_photo(data, "photo"), propose=False)
        (by_truth,) = complete(prepared, [true]).wounds
        (as_drawn,) = complete(prepared, [drawn]).wounds if drawn else (by_truth,)
    except EbblineError:
        return None
    except Exception as error:  # noqa: BLE001 - one photo must not lose the table of all the others
        print(f"broke on {scene}: {error!r}", file=sys.stderr)  # noqa: T201 - a defect, to be looked into
        return None
    return Measured(by_truth, as_drawn, prepared.calibration.plane)
