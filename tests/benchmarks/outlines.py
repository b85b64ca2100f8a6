"""How well wounds are outlined in photos with drawn masks, and how many edits a hand needs to correct the outlines.

Run it with ``python -m tests.benchmarks.outlines FOLDER``, where ``FOLDER`` holds ``photos/NAME.jpg``,
``masks/NAME.png`` (not 0 is wound) and ``groups.csv`` (name, group); ``python -m measure.rendering.training`` writes
such folders. Scale and stickers are found as in the app; a photo that shows none is outlined without. The hand is that
of `tests.benchmarks.hand`. Prints Markdown.
"""

import argparse
import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calibration.errors import EbblineError
from measure.outline import Outline
from measure.overlap import Overlap, Scores, SizeBand, area_bands, compare, mask_of, scores, share_bands
from measure.photo import Photo, read_photo
from measure.proposal import propose_outlines
from measure.scale import calibrate
from measure.verdict import place_px
from tests.benchmarks.contact_sheet import sheet, tile
from tests.benchmarks.hand import JITTER, MOST_EDITS, Replay, replay
from tests.benchmarks.reference import Reference
from tests.benchmarks.run import in_order, print_lines
from tests.benchmarks.stroke import STROKE_SHARE

GOALS = (0.90, 0.95)
"""IoU to which outlines are corrected; two people's outlines of one wound agree to 0.89 or so."""

FEW = 3
"""Edits that a nurse has time for."""

CLOSE = 0.03
"""Share of the frame from which on a wound is photographed as at the bedside, beside a sticker."""

WORST = 30
"""Photos on the contact sheet."""


@dataclass(frozen=True, eq=False)
class Proposed:
    """What was proposed for a photo, by which method, and the scale; None where it isn't known."""

    outlines: tuple[Outline, ...]
    method: str
    mm_per_px: float | None


@dataclass(frozen=True)
class Trial:
    """One photo: its scores, and the corrections by any operation and by drags alone."""

    name: str
    method: str
    overlap: Overlap
    by_any: Replay
    by_drags: Replay


def proposed(photo: Photo, method: str | None = None) -> Proposed:
    """Propose outlines for a photo as the app does: with its stickers and scale, if it shows any."""
    chosen = {} if method is None else {"method": method}
    try:
        calibration = calibrate(photo, None)
    except EbblineError:
        found = propose_outlines(photo.pixels, **chosen)
        return Proposed(found.outlines, found.method, None)
    mm_per_px = calibration.plane.mm_per_px(place_px(photo, calibration, ()))
    found = propose_outlines(
        photo.pixels,
        keep_out=calibration.sticker_outlines_px,
        aim_px=calibration.aim_px,
        mm_per_px=mm_per_px,
        **chosen,
    )
    return Proposed(found.outlines, found.method, mm_per_px)


def trial(folder: Path, method: str | None, name: str, jitter: tuple[float, float] = JITTER) -> Trial:
    """Outline, score and correct one photo."""
    photo, true = _read(folder, name)
    found = proposed(photo, method)
    overlap = compare(mask_of(found.outlines, photo.width, photo.height), true, found.mm_per_px)
    reference = Reference(true)
    by_any, by_drags = (
        replay(found.outlines, reference, goal=GOALS[-1], brush=strokes, redraw=strokes, jitter=jitter)
        for strokes in (True, False)
    )
    return Trial(name, found.method, overlap, by_any, by_drags)


def _read(folder: Path, name: str) -> tuple[Photo, NDArray[np.bool_]]:
    photo = read_photo(next((folder / "photos").glob(f"{name}.*")))
    with Image.open(folder / "masks" / f"{name}.png") as mask:
        return photo, np.asarray(mask) > 0


def names_of(folder: Path, split: Path | None = None, limit: int | None = None, seed: int = 1) -> list[str]:
    """Return the names of a folder's photos, of those in a split's column ``name`` (or whose ``group`` is in it).

    With a limit so many are drawn by chance.
    """
    rows = _table(folder / "groups.csv")
    if split is not None:
        key = "name" if "name" in _table(split)[0] else "group"
        held_out = {row[key] for row in _table(split)}
        rows = [row for row in rows if row[key] in held_out]
    names = [row["name"] for row in rows]
    if limit is None or limit >= len(names):
        return names
    return sorted(np.random.default_rng(seed).choice(names, limit, replace=False).tolist())


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rows(trials: Sequence[Trial], jitter: tuple[float, float] = JITTER) -> Iterator[str]:
    """Yield the table: scores, the area by size, and the edits."""
    summary = scores([each.overlap for each in trials])
    yield f"| {trials[0].method} | {len(trials)} photos |"
    yield "|---|---|"
    yield from (f"| {name} | {value} |" for name, value in _score_cells(summary))
    for unit, bands in (("frame", share_bands), ("mm2", area_bands)):
        yield from (_band_row(band, unit) for band in bands([each.overlap for each in trials]) if band.photos)
    drawn = [each for each in trials if each.overlap.true_px or each.overlap.found_px]
    yield from _edit_rows(drawn, "all")
    yield from _edit_rows(
        [each for each in drawn if each.overlap.true_share >= CLOSE], f"{100 * CLOSE:.0f} % of the frame or more"
    )
    yield ""
    yield (
        f"The hand strays by {100 * jitter[0]:.3g} % of the wound's equivalent diameter, at least {jitter[1]} px of "
        f"512 (one standard deviation). A sweep of the brush, or a stretch drawn anew, is at most {STROKE_SHARE} of "
        "the wound's perimeter long; a missed wound traced anew and a false one removed count one edit each, also "
        "among the drags. Photos without wound and without outline count 1 in the mean, and are left out of the edits."
    )


def _edit_rows(trials: Sequence[Trial], which: str) -> Iterator[str]:
    if not trials:
        return
    for label, kind in (("any operation", "by_any"), ("drags alone", "by_drags")):
        for goal in GOALS:
            edits = [getattr(each, kind).edits_to(goal) for each in trials]
            name = f"edits to IoU {goal:.2f}, {label}, {which}: median; within {FEW}; not within {MOST_EDITS}"
            yield f"| {name} | {_edits_cell(edits)} ({len(edits)}) |"


def _score_cells(summary: Scores) -> Iterator[tuple[str, str]]:
    yield (
        "Dice: pooled, mean, median",
        " / ".join(f"{value:.3f}" for value in (summary.pooled_dice, summary.mean_dice, summary.median_dice)),
    )
    yield "IoU: mean, median", f"{summary.mean_iou:.3f} / {summary.median_iou:.3f}"
    distances = f"{summary.distance_px:.1f} / {summary.hausdorff95_px:.1f} px"
    if np.isfinite(summary.distance_mm):
        distances += f"; {summary.distance_mm:.2f} / {summary.hausdorff95_mm:.2f} mm where there is a scale"
    yield "distance between the edges: mean, 95 % Hausdorff (medians)", distances
    yield "wounds missed", f"{summary.missed} of {summary.wounds}"
    yield "areas found where there is no wound", str(summary.extra)
    yield "photos without wound of which nothing was said", f"{summary.empty_answered} of {summary.empty}"


def _band_row(band: SizeBand, unit: str) -> str:
    scale, sign = (100, " % of the frame") if unit == "frame" else (1, " mm2")
    low, high = (f"{scale * edge:.4g}" for edge in (band.low, band.high))
    cell = f"{100 * band.bias:+.0f} / {100 * band.error:.0f} / {100 * band.worst_tenth:.0f} % ({band.photos})"
    return f"| area, {low} to {high}{sign}: bias, error, worst tenth | {cell} |"


def _edits_cell(edits: Sequence[float]) -> str:
    few, never = np.mean([each <= FEW for each in edits]), np.mean(np.isinf(edits))
    middle = np.sort(edits)[len(edits) // 2]
    return f"{middle:.0f}; {100 * few:.0f} %; {100 * never:.0f} %"


def worst(folder: Path, trials: Sequence[Trial], method: str | None) -> NDArray[np.uint8]:
    """Return a contact sheet of the photos with the least Dice, the worst first."""
    tiles = []
    for each in sorted(trials, key=lambda each: each.overlap.dice)[:WORST]:
        photo, true = _read(folder, each.name)
        caption = f"{each.name}  Dice {each.overlap.dice:.2f}  edits {each.by_any.edits_to(GOALS[-1]):.0f}"
        tiles.append(tile(photo.pixels, true, proposed(photo, method).outlines, caption))
    return sheet(tiles)


def options() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="with photos/, masks/ and groups.csv")
    parser.add_argument("--method", help="of the proposal; the usual one without it")
    parser.add_argument("--split", type=Path, help="CSV whose column name (or group) says which photos to take")
    parser.add_argument("--limit", type=int, help="take so many photos, drawn by chance")
    parser.add_argument("--seed", type=int, default=1, help="of that draw")
    parser.add_argument(
        "--jitter",
        type=float,
        nargs=2,
        default=JITTER,
        metavar=("SHARE", "PX"),
        help="of the hand: share of the wound's equivalent diameter, and least px of a photo of 512",
    )
    parser.add_argument("--workers", type=int, default=1, help="processes at a time")
    parser.add_argument(
        "--sheet", type=Path, help="write the worst photos to this picture; keep it out of the repository"
    )
    return parser


def main() -> None:
    """Print what the command line asks for."""
    chosen = options().parse_args()
    names = names_of(chosen.folder, chosen.split, chosen.limit, chosen.seed)
    jitter = chosen.jitter[0], chosen.jitter[1]
    trials = list(in_order(partial(trial, chosen.folder, chosen.method, jitter=jitter), names, chosen.workers))
    print_lines(rows(trials, jitter))
    if chosen.sheet is not None:
        Image.fromarray(worst(chosen.folder, trials, chosen.method)).save(chosen.sheet)


if __name__ == "__main__":
    main()
