"""How true colours come out under each condition: patches left out of the fit, and the wound beside the sticker.

Run it with ``python -m tests.benchmarks.colour --count 10``; it takes some seconds for each photo of the conditions and
three stickers.

All else stays at one bedside value: 300 mm, tilt 15 degrees in any direction, blur 1 px, little noise, JPEG 85, nearly
even daylight, nothing covered, flat skin of any tone. Differences are CIEDE2000. At the wound they are those of squares
of 1 mm, half of them on the wound and half on the skin round it, from the same scene under even daylight; "as it is"
takes the photo's values for sRGB. Colour alone is compared with the brightness of the truth, since a shadow between
sticker and wound changes nothing else; how far the brightness is off is told in its standard uncertainties. Each is the
median, and in brackets what 90 % of the photos stay below. Prints Markdown.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice, product

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import difference, encoded, lab, linear_light
from calibration.correction import Correction, fit_colour
from calibration.errors import EbblineError
from calibration.plane import Plane
from measure.photo import read_photo
from measure.rendering import ExifFacts, Light, Scene, cast, jpeg, outline_in_photo, render
from measure.scale import calibrate
from tests.benchmarks.run import in_order, print_rows
from tests.benchmarks.scenes import LAYOUTS, plain, with_cover

Bytes = NDArray[np.uint8]
Change = Callable[[Scene, np.random.Generator], Scene]

Job = tuple[int, str, int, int]
"""Number of the condition, layout, number of the scene, and width."""

SRGB_OF_P3 = np.array([(1.2249, -0.2247, 0.0), (-0.0420, 1.0419, 0.0), (-0.0197, -0.0786, 1.0979)])
"""Linear light in primaries of sRGB from that in Display P3 (CSS Color 4, sample code)."""

_MARGIN = 0.5  # of the wound's size: skin round it that is compared too


@dataclass(frozen=True)
class Condition:
    """What differs from the plain scene: its name, its value, the change, and what the camera makes of the light."""

    name: str
    value: str
    change: Change = lambda scene, _: scene
    matrix: tuple[tuple[float, ...], ...] | None = None
    exponent: float = 1.0


def _lit(**values: object) -> Change:
    def change(scene: Scene, _: np.random.Generator) -> Scene:
        return replace(scene, light=replace(scene.light, **values))

    return change


def _under_lamp(scene: Scene, random: np.random.Generator) -> Scene:
    return _lit(gradient=0.8, vignetting=0.4, from_deg=random.uniform(0, 360))(scene, random)


def _in_half_shadow(scene: Scene, random: np.random.Generator) -> Scene:
    return _lit(shadow=0.6, shadow_towards_deg=random.uniform(0, 360))(scene, random)


def _hidden(fraction: float) -> Change:
    def change(scene: Scene, random: np.random.Generator) -> Scene:
        return with_cover(scene, str(random.choice(["glove", "gauze"])), fraction)

    return change


def _noisy(scene: Scene, _: np.random.Generator) -> Scene:
    return replace(scene, sensor=replace(scene.sensor, read_noise=0.005, shot_noise=0.0005))


def _grey(scene: Scene, _: np.random.Generator) -> Scene:
    return replace(scene, stickers=tuple(replace(sticker, grey=True) for sticker in scene.stickers))


def _matrix(rows: NDArray[np.float64]) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(map(float, row)) for row in rows)


CONDITIONS = (
    Condition("none", "all as above"),
    *(Condition("lamp", f"{kelvin} K", _lit(gains=cast(kelvin))) for kelvin in (2700, 4200, 7500)),
    *(Condition("exposure", f"{ev:+.1f} EV", _lit(exposure_ev=ev)) for ev in (-1.5, 1.0)),
    *(Condition("2700 K and exposure", f"{ev:+.1f} EV", _lit(gains=cast(2700), exposure_ev=ev)) for ev in (-1.5, 1.0)),
    Condition("light", "lamp from one side", _under_lamp),
    Condition("light", "half in shadow", _in_half_shadow),
    *(Condition("covered", f"{100 * share:.0f} %", _hidden(share)) for share in (0.15, 0.3)),
    Condition("noise", "high", _noisy),
    Condition("print", "black and white", _grey),
    Condition("camera", "Display P3 read as sRGB", matrix=_matrix(np.linalg.inv(SRGB_OF_P3))),
    Condition("camera", "colours deepened by 20 %", matrix=_matrix(1.2 * np.eye(3) - 0.2 / 3)),
    Condition("camera", "contrast 1.15", exponent=1.15),
)


@dataclass(frozen=True)
class Found:
    """CIEDE2000 of one photo: of left-out patches; at the wound corrected, its colour alone, and as it is.

    The last says how far off the brightness at the wound is, in its standard uncertainties.
    """

    residual: float
    corrected: float
    colour_alone: float
    as_it_is: float
    light_in_sigma: float


def scene_of(job: Job) -> Scene:
    """Return the scene of a job, the same for every run."""
    condition, layout, number, width = job
    random = np.random.default_rng((ord(layout[0]), 4, number))
    return CONDITIONS[condition].change(plain(layout, number, width), random)


def found_in(job: Job) -> Found | None:
    """Measure one photo; None where no sticker was found."""
    condition, layout, number, width = job
    photo = read_photo(jpeg(_developed(render(scene_of(job)).pixels, CONDITIONS[condition]), 85, ExifFacts()), "photo")
    try:
        calibration = calibrate(photo)
    except EbblineError:
        return None
    correction = fit_colour(photo.pixels, calibration.stickers, calibration.plane)
    low, high, truth = _truth(layout, number, width)
    return _compared(photo.pixels, correction, calibration.plane, (low, high), truth)


def _developed(pixels: Bytes, condition: Condition) -> Bytes:
    """Return the photo as a camera with other primaries or another tone would have written it."""
    light = linear_light()[pixels]
    if condition.matrix is not None:
        light = np.maximum(cv2.transform(light, np.array(condition.matrix)), 0)
    return encoded(light**condition.exponent)


@lru_cache(maxsize=4)
def _truth(layout: str, number: int, width: int) -> tuple[NDArray[np.int_], NDArray[np.int_], NDArray[np.float32]]:
    """Return the part of the photo round the wound, as corners (x, y), and the linear reflectance there."""
    scene = plain(layout, number, width)
    outline, _ = outline_in_photo(scene)
    low, high = outline.min(axis=0), outline.max(axis=0)
    margin = _MARGIN * (high - low) / 2
    low, high = np.floor(low - margin).astype(int), np.ceil(high + margin).astype(int)
    low, high = np.maximum(low, 0), np.minimum(high, (scene.camera.width, scene.camera.height))
    even = replace(scene, light=Light(gradient=0.0, vignetting=0.0, from_deg=scene.light.from_deg))
    pixels = render(even).pixels[low[1] : high[1], low[0] : high[0]]
    return low, high, linear_light()[pixels]


def _compared(
    pixels: Bytes,
    correction: Correction,
    plane: Plane,
    box: tuple[NDArray[np.int_], NDArray[np.int_]],
    truth: NDArray[np.float32],
) -> Found:
    low, high = box
    picture = pixels[low[1] : high[1], low[0] : high[0]]
    middle = (low + high) / 2
    blocks = np.maximum(1, np.rint((high - low) * plane.mm_per_px(middle))).astype(int).tolist()
    corrected, true_light, photo_light = (
        cv2.resize(light, blocks, interpolation=cv2.INTER_AREA)
        for light in (
            correction.reflectance(picture, low.astype(float), np.ones(2)),
            truth,
            linear_light()[picture],
        )
    )
    seen, true, plain_view = lab(corrected), lab(true_light), lab(photo_light)
    same_lightness = lab(_as_bright(corrected, true_light))
    brighter = np.log(corrected.mean() / true_light.mean())
    return Found(
        correction.residual,
        float(np.median(difference(seen, true))),
        float(np.median(difference(same_lightness, true))),
        float(np.median(difference(plain_view, true))),
        abs(float(brighter / correction.light_sigma(middle[np.newaxis])[0])),
    )


def _as_bright(light: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return light, made as bright at each place as another one."""
    luminance = np.array((0.2126, 0.7152, 0.0722), np.float32)
    return light * (other @ luminance / (light @ luminance))[..., np.newaxis]


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the table, a row a condition and layout."""
    head = "| condition | value | layout | left out | at the wound | colour alone | as it is "
    yield f"{head}| light, in sigma | found |"
    yield "|---|---|---|---|---|---|---|---|---|"
    places = product(range(len(CONDITIONS)), LAYOUTS)
    jobs = [(*place, number, width) for place in places for number in range(1, count + 1)]
    results = in_order(found_in, jobs, workers)
    for condition, layout in product(CONDITIONS, LAYOUTS):
        found = [each for each in islice(results, count) if each is not None]
        cells = " | ".join(cell([getattr(each, part) for each in found]) for part in PARTS)
        yield f"| {condition.name} | {condition.value} | {layout} | {cells} | {len(found)} of {count} |"


PARTS = ("residual", "corrected", "colour_alone", "as_it_is", "light_in_sigma")


def cell(values: list[float]) -> str:
    """Return the median and the value that 90 % stay below; empty where nothing is known."""
    known = [value for value in values if np.isfinite(value)]
    return f"{np.median(known):.2f} ({np.quantile(known, 0.9):.2f})" if known else ""


if __name__ == "__main__":
    print_rows(rows, __doc__, 10)
