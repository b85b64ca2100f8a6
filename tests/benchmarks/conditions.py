"""How the error of the area grows with each condition alone, from the true outline.

Run it with ``python -m tests.benchmarks.conditions --count 10``; it takes some seconds for each photo of 30 conditions
and three stickers.

All else stays at one bedside value: 300 mm, tilt 15 degrees in any direction, blur 1 px, little noise, JPEG 85, nearly
even light, nothing covered, 5 mm from wound to sticker, a lens without distortion, flat skin. Prints Markdown.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice, product

import numpy as np

from measure.rendering import Scene
from tests.benchmarks.run import in_order, measured, print_rows
from tests.benchmarks.scenes import LAYOUTS, plain, with_cover

Change = Callable[[Scene, np.random.Generator], Scene]

Job = tuple[int, str, int, int]
"""Number of the condition, layout, number of the scene, and width."""


@dataclass(frozen=True)
class Condition:
    """What differs from the plain scene: its name, its value, and the change."""

    name: str
    value: str
    change: Change
    quality: int = 85


def _unchanged(scene: Scene, _: np.random.Generator) -> Scene:
    return scene


def _with(part: str, **values: float) -> Change:
    """Return the change of some values of a part of the scene."""

    def change(scene: Scene, _: np.random.Generator) -> Scene:
        return replace(scene, **{part: replace(getattr(scene, part), **values)})

    return change


def _tilted(low: float, high: float) -> Change:
    def change(scene: Scene, random: np.random.Generator) -> Scene:
        return replace(scene, camera=replace(scene.camera, tilt_deg=random.uniform(low, high)))

    return change


def _in_half_shadow(scene: Scene, random: np.random.Generator) -> Scene:
    return replace(scene, light=replace(scene.light, shadow=0.6, shadow_towards_deg=random.uniform(0, 360)))


def _under_lamp(scene: Scene, random: np.random.Generator) -> Scene:
    light = replace(scene.light, gradient=0.8, vignetting=0.4, from_deg=random.uniform(0, 360))
    return replace(scene, light=light)


def _hidden(fraction: float) -> Change:
    def change(scene: Scene, random: np.random.Generator) -> Scene:
        return with_cover(scene, str(random.choice(["glove", "gauze"])), fraction)

    return change


def _apart(gap_mm: float) -> Change:
    def change(scene: Scene, _: np.random.Generator) -> Scene:
        return replace(scene, stickers=(replace(scene.stickers[0], gap_mm=gap_mm),))

    return change


CONDITIONS = (
    Condition("none", "all as above", _unchanged),
    *(
        Condition("tilt", f"{low} to {high}°", _tilted(low, high))
        for low, high in ((0, 10), (10, 20), (20, 30), (30, 45))
    ),
    *(Condition("distance", f"{mm} mm", _with("camera", distance_mm=float(mm))) for mm in (150, 450, 600)),
    *(Condition("blur", f"{px} px", _with("sensor", blur_px=px)) for px in (0.5, 2.0, 4.0)),
    Condition("noise", "high", _with("sensor", read_noise=0.005, shot_noise=0.0005)),
    *(Condition("JPEG", str(quality), _unchanged, quality) for quality in (95, 60, 40)),
    Condition("light", "half in shadow", _in_half_shadow),
    Condition("light", "lamp from one side", _under_lamp),
    *(Condition("covered", f"{100 * share:.0f} %", _hidden(share)) for share in (0.15, 0.3)),
    *(Condition("wound to sticker", f"{mm} mm", _apart(float(mm))) for mm in (20, 40)),
    *(Condition("lens, k1", f"{k1:+.2f}", _with("camera", k1=k1)) for k1 in (-0.02, -0.01, 0.01, 0.02)),
)
"""The lamp's light falls by a factor of 2.2 over 100 mm; the noise is that of a telephone in a dim room: a thirtieth of
white in the light parts."""


def scene_of(job: Job) -> Scene:
    """Return the scene of a job, the same for every run."""
    condition, layout, number, width = job
    random = np.random.default_rng((ord(layout[0]), 3, number))
    return CONDITIONS[condition].change(plain(layout, number, width), random)


def error_of(job: Job) -> float:
    """Return the relative error of the area of one photo; NaN where no sticker was found."""
    scene = scene_of(job)
    found = measured(scene, CONDITIONS[job[0]].quality)
    return np.nan if found is None else found.by_truth.area.value / scene.wound_mm().area - 1


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the table, a row a condition."""
    names = " | ".join(f"{layout}: rms (largest) | found" for layout in LAYOUTS)
    yield f"| condition | value | {names} |"
    yield "|---|---|" + "---|---|" * len(LAYOUTS)
    places = product(range(len(CONDITIONS)), LAYOUTS)
    jobs = [(*place, number, width) for place in places for number in range(1, count + 1)]
    errors = in_order(error_of, jobs, workers)
    for condition in CONDITIONS:
        cells = " | ".join(cell(np.array(list(islice(errors, count)))) for _ in LAYOUTS)
        yield f"| {condition.name} | {condition.value} | {cells} |"


def cell(errors: np.ndarray) -> str:
    """Return root-mean-square and largest error in %, and how many of the stickers were found."""
    known = 100 * errors[np.isfinite(errors)]
    counts = f"{known.size} of {errors.size}"
    if known.size == 0:
        return f"| {counts}"
    return f"{np.sqrt(np.mean(known**2)):.3f} ({np.abs(known).max():.2f}) % | {counts}"


if __name__ == "__main__":
    print_rows(rows, __doc__, 10)
