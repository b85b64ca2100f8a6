"""How far the scale of a plain ruler is off, and how often a ruler is refused.

Run it with ``python -m tests.benchmarks.rulers`` in the repository's root; it takes some minutes.

Lays random rulers into a rendered photo, saves it as JPEG 85 and reads them. Prints Markdown.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import RulerError
from calibration.ruler import find_ruler, ruler_plane
from measure.rendering import Camera, Scene, Sensor, View, Wound, render
from measure.rendering.plain_ruler import PlainRuler, RulerPhoto, lay

KINDS = {"mm": ("mm", ""), "inch": ("inch/16", ""), "both": ("mm", "inch/16")}

PAPERS = {
    "white": (0.85, 0.85, 0.82),
    "yellow": (0.8, 0.62, 0.12),
    "blue": (0.45, 0.62, 0.75),
}
"""Reflectance in linear light of common rulers."""


@dataclass(frozen=True)
class Trial:
    """One photo: the unit that was read and the relative error of the scale; "" and NaN where it was refused."""

    unit: str
    error: float


@cache
def background(width: int) -> NDArray[np.uint8]:
    """Return a rendered photo of a wound without a sticker, for rulers to be laid into."""
    camera = Camera(width, width * 3 // 4, distance_mm=300.0, tilt_deg=5.0)
    return render(Scene(stickers=(), wound=Wound(length_mm=30, width_mm=20), camera=camera, seed=7)).pixels


def photo(kind: str, condition: str, number: int, width: int = 4032) -> RulerPhoto:
    """Return a photo of a random ruler.

    *Clean* is 200 to 450 mm away (as 12 megapixels see it), tilt to 30 degrees, blur to 2 px, a white or yellow ruler;
    *hard* is to 550 mm and 40 degrees, in dim or uneven light, of any colour, and up to 40 % covered.
    """
    random = np.random.default_rng((sum(map(ord, kind + condition)), number))
    hard = condition == "hard"
    camera = Camera(
        width,
        width * 3 // 4,
        distance_mm=random.uniform(200, 550 if hard else 450) * width / 4032,
        tilt_deg=random.uniform(0, 40 if hard else 30),
        tilt_towards_deg=random.uniform(0, 360),
        roll_deg=random.uniform(0, 360),
        aim_mm=(0.0, 0.0),
    )
    seen = lay(
        background(width),
        _ruler(kind, random, hard=hard, width=width),
        View(camera, (0.0, 0.0)).homography(),
        turn_deg=random.uniform(0, 360),
        sensor=Sensor(blur_px=random.uniform(0.5, 2.0), shot_noise=0.0002 if hard else 0.00004),
        gradient=random.uniform(0, 0.8 if hard else 0.3),
        covered=random.uniform(0.1, 0.4) if hard else 0.0,
        exposure=random.uniform(0.25, 1.0) if hard else 1.0,
        seed=number,
    )
    return replace(seen, pixels=_compressed(seen.pixels))


def _compressed(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the pixels as JPEG 85 keeps them."""
    data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 85])[1]
    return cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)


def _ruler(kind: str, random: np.random.Generator, *, hard: bool, width: int) -> PlainRuler:
    stretch = random.uniform(0.75, 1.2)
    paper = str(random.choice(list(PAPERS) if hard else ["white", "yellow"]))
    return PlainRuler(
        edges=KINDS.get(kind, (kind, "")),
        length_mm=float(random.choice([100.0, 150.0])) * (1.0 if width > 3000 else 0.8),
        width_mm=random.uniform(20, 32),
        paper=PAPERS[paper],
        opacity=random.uniform(0.55, 1.0) if hard and paper == "blue" else 1.0,
        mm_lengths=tuple(stretch * np.array(random.choice([(5.0, 4.0, 3.0), (6.0, 4.5, 3.0), (4.0, 3.2, 2.2)]))),
        inch_lengths=tuple(stretch * np.array([8.5, 7.0, 5.6, 4.2, 3.0])),
        thickness_mm=random.uniform(0.12, 0.3),
        inset_mm=float(random.choice([0.0, 0.0, 1.5])),
        numbers=bool(random.random() < 0.85),
    )


def measure_one(kind: str, condition: str, number: int, width: int) -> Trial:
    """Lay a ruler, read it, and compare the scale in its middle with the truth."""
    seen = photo(kind, condition, number, width)
    try:
        ruler = find_ruler(seen.pixels)
    except RulerError:
        return Trial("", np.nan)
    middle = (ruler.points_px[0] + ruler.points_px[-1]) / 2
    height, width = seen.pixels.shape[:2]
    return Trial(
        ruler.unit, ruler_plane(ruler, (width, height)).mm_per_px(middle) / seen.mm_per_px_along(ruler.points_px) - 1
    )


def rows(count: int, width: int) -> Iterator[str]:
    """Yield the table, a row a kind and condition."""
    yield "| condition | ruler | photos | read | scale error, rms | largest | wrong by over 1 % | refused |"
    yield "|---|---|---|---|---|---|---|---|"
    for condition in ("clean", "hard"):
        for kind in KINDS:
            trials = [measure_one(kind, condition, number, width) for number in range(1, count + 1)]
            yield row(condition, kind, trials)


def row(condition: str, kind: str, trials: list[Trial]) -> str:
    """Return one row of the table."""
    errors = np.array([trial.error for trial in trials])
    found = errors[np.isfinite(errors)]
    rms, largest = 100 * np.sqrt(np.mean(found**2)), 100 * np.abs(found).max()
    wrong, refused = int((np.abs(found) > 0.01).sum()), len(errors) - len(found)
    counts = f"{len(errors)} | {len(found)}"
    return f"| {condition} | {kind} | {counts} | {rms:.3f} % | {largest:.2f} % | {wrong} | {refused} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20, help="photos a kind and condition")
    parser.add_argument("--width", type=int, default=4032, help="of a photo, in px")
    options = parser.parse_args()
    for line in rows(options.count, options.width):
        print(line, flush=True)  # noqa: T201 - this is what it is for


if __name__ == "__main__":
    main()
