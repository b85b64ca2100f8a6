"""How near the shares of each tissue come to the truth: under every lamp, with every camera, on every tone of skin.

Run it with ``python -m tests.benchmarks.tissue --count 4``; each wound takes some 40 photos of 2 seconds, for three
stickers.

The wounds are those of `tests.benchmarks.lit` from number 5 on, for the colours of tissue were chosen on the first
four. Each is outlined as it truly is. "Corrected" is what the tool says; "as it is" takes the photo's values for sRGB.
A photo counts only where the tool trusts its colours and finds a scale; the others are counted at the end. Numbers are
root-mean-square errors in percentage points of the wound's area, unless a table says otherwise. Rendered wounds tell
how well lamp, camera and print are taken out of the answer, not how often a real bed is named rightly. Prints Markdown.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from calibration.colour import linear_light
from calibration.correction import Correction, fit_colour
from calibration.errors import EbblineError
from measure.outline import Outline
from measure.photo import Photo, read_photo
from measure.rendering import ExifFacts, Scene, jpeg, render
from measure.scale import Calibration, calibrate
from measure.tissue import TISSUES, TissueMap, map_tissue
from tests.benchmarks.lit import EXPOSURES_EV, GRADIENTS, KELVIN, LAMPS, SHOTS, lit
from tests.benchmarks.run import in_order, print_rows
from tests.benchmarks.scenes import LAYOUTS

Values = NDArray[np.float64]

Job = tuple[str, int, int]
"""Layout, number of the scene, and width."""

FIRST = 5
"""Number of the first wound: those before it were seen when the colours of tissue were chosen."""

CASTS = tuple(f"{kelvin} K" for kelvin in KELVIN)
EXPOSURES = tuple(f"{ev:+g} EV" for ev in EXPOSURES_EV)

LIGHTS: Mapping[str, tuple[str, ...]] = {
    **{name: (name,) for name in (*CASTS, *EXPOSURES)},
    "light from one side": tuple(f"gradient {size:g} from {side}°" for size, side in GRADIENTS),
    "half in shadow": ("half in shadow",),
    "mixtures": tuple(name for name in LAMPS if name.startswith("mixture")),
    "all": tuple(LAMPS),
}
"""The lamps of each row."""

TONES = ((-60, -30), (-30, 10), (10, 28), (28, 41), (41, 60))
"""Typology angle of the skin, degrees: bands of the classes dark, brown, tan, intermediate, and light or lighter."""

TONE_LAMPS = ("6500 K", "2700 K")
"""Under which the same wound is tried on skin of each band."""


class AsItIs:
    """A colour correction that takes the photo's values for sRGB."""

    lab_sigma = np.zeros(3)

    def reflectance(self, picture: NDArray[np.uint8], _origin: Values, _step: Values) -> NDArray[np.float32]:
        """Return linear light as it is."""
        return np.asarray(linear_light()[picture])

    def light_sigma(self, places_px: Values) -> Values:
        """Take the light for known."""
        return np.zeros(len(places_px))


@dataclass(frozen=True, eq=False)
class Found:
    """One photo: shares in % in the order of `TISSUES`, and what they rest on."""

    true: Values
    corrected: Values
    expanded: Values
    as_it_is: Values
    residual: float


@dataclass(frozen=True)
class Refused:
    """One photo of whose tissue nothing was said, and why."""

    reason: str


Photos = Mapping[str, Found | Refused]
"""Of one wound, by the name of the lamp, shot or tone."""


def scenes_of(job: Job) -> dict[str, Scene]:
    """Return one wound under each lamp, with each look and print, and on skin of each tone."""
    layout, number, width = job
    scene = lit(layout, number, width)
    random = np.random.default_rng((ord(layout[0]), 6, number))
    scenes = {name: change(scene) for name, change in (LAMPS | SHOTS).items()}
    for band in TONES:
        skin = replace(scene.skin, ita_deg=random.uniform(*band))
        scenes |= {_tone(band, lamp): LAMPS[lamp](replace(scene, skin=skin)) for lamp in TONE_LAMPS}
    return scenes


def _tone(band: tuple[int, int], lamp: str) -> str:
    return f"ITA {band[0]} to {band[1]}°, {lamp}"


def photos_of(job: Job) -> Photos:
    """Map a wound in every photo; scenes that are alike are rendered once."""
    seen: dict[str, Found | Refused] = {}
    found = {}
    for name, scene in scenes_of(job).items():
        words = repr(scene)
        if words not in seen:
            seen[words] = found_in(scene)
        found[name] = seen[words]
    return found


def found_in(scene: Scene) -> Found | Refused:
    """Map the wound of one scene, by its true outline."""
    rendering = render(scene)
    photo = read_photo(jpeg(rendering, 85, ExifFacts()), "photo")
    try:
        calibration = calibrate(photo)
    except EbblineError as error:
        return Refused(error.code)
    colour = fit_colour(photo.pixels, calibration.stickers, calibration.plane)
    if not colour.trusted:
        return Refused(_distrust(colour))
    outline = Outline(rendering.outline_px, rendering.holes_px)
    corrected = map_tissue(photo.pixels, colour, calibration, outline)
    return Found(
        100 * np.array([rendering.tissue[name] for name in TISSUES]),
        _percent(corrected),
        np.array([corrected.shares[name].expanded_uncertainty for name in TISSUES]),
        _percent(_uncorrected(photo, calibration, outline)),
        colour.residual,
    )


def _distrust(colour: Correction) -> str:
    if colour.source == "none":
        return "no patch can be read"
    return "patches are too far off" if np.isfinite(colour.residual) else "too few patches can be read"


def _uncorrected(photo: Photo, calibration: Calibration, outline: Outline) -> TissueMap:
    return map_tissue(photo.pixels, AsItIs(), calibration, outline)


def _percent(tissue: TissueMap) -> Values:
    return np.array([tissue.shares[name].percent for name in TISSUES])


def rows(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the tables."""
    jobs = [(layout, FIRST + i, width) for i in range(count) for layout in LAYOUTS]
    yield from tables(list(in_order(photos_of, jobs, workers)), width)


def tables(wounds: Sequence[Photos], width: int) -> Iterator[str]:
    """Yield the tables of wounds that were tried."""
    yield f"{len(wounds)} wounds, {len(_distinct(wounds))} photos of {width} px.\n"
    yield from table("lamp", {name: _those(wounds, lamps) for name, lamps in LIGHTS.items()})
    yield from table("camera or print", {name: _those(wounds, (name,)) for name in SHOTS}, extra=RESIDUAL)
    yield from pair_table(wounds)
    yield from table("skin", {_band(band): _those(wounds, _on(band)) for band in TONES})
    yield from coverage_table(wounds)
    yield from refusal_table(wounds)


def _those(wounds: Sequence[Photos], names: Iterable[str]) -> list[Found]:
    chosen = list(names)
    return [each for photos in wounds for name in chosen if isinstance(each := photos[name], Found)]


def _distinct(wounds: Sequence[Photos]) -> list[Found | Refused]:
    """Return each photo once: "6500 K" and "+0 EV" are the same one."""
    return list({id(each): each for photos in wounds for each in photos.values()}.values())


def _on(band: tuple[int, int]) -> tuple[str, ...]:
    return tuple(_tone(band, lamp) for lamp in TONE_LAMPS)


def _band(band: tuple[int, int]) -> str:
    return f"ITA {band[0]} to {band[1]}°"


Column = tuple[str, Callable[[list[Found]], str]]

RESIDUAL: Column = ("left-out patches, median CIEDE2000", lambda found: f"{np.median([f.residual for f in found]):.1f}")


def table(first: str, groups: Mapping[str, list[Found]], extra: Column | None = None) -> Iterator[str]:
    """Yield a table of root-mean-square errors, corrected and as it is, a row a group."""
    columns = [first, *(f"{name}: corrected (as it is)" for name in TISSUES), *([extra[0]] if extra else []), "photos"]
    yield from _head(columns)
    for name, found in groups.items():
        cells = [name, *errors(found), *([extra[1](found) if found else ""] if extra else []), str(len(found))]
        yield f"| {' | '.join(cells)} |"
    yield ""


def errors(found: list[Found]) -> list[str]:
    """Return the root-mean-square errors of each tissue, as cells."""
    if not found:
        return [""] * len(TISSUES)
    true = np.array([each.true for each in found])
    corrected, as_it_is = (
        np.sqrt(np.mean(np.square(np.array(shares) - true), axis=0))
        for shares in ([each.corrected for each in found], [each.as_it_is for each in found])
    )
    return [f"{one:.1f} ({other:.1f})" for one, other in zip(corrected, as_it_is, strict=True)]


def pair_table(wounds: Sequence[Photos]) -> Iterator[str]:
    """Yield how far two photos of one wound are apart, under two casts or at two exposures."""
    yield from _head(["tissue", *(f"two {kind}: median, 95 %, under 3 points" for kind in ("casts", "exposures"))])
    apart = [_differences(wounds, lamps) for lamps in (CASTS, EXPOSURES)]
    for i, name in enumerate(TISSUES):
        yield f"| {name} | {' | '.join(_apart(each[:, i]) for each in apart)} |"
    yield f"| all five at once | {' | '.join(_apart(each.max(axis=1, initial=0)) for each in apart)} |"
    yield f"| pairs | {' | '.join(str(len(each)) for each in apart)} |"
    yield ""


def _differences(wounds: Sequence[Photos], lamps: Sequence[str]) -> Values:
    """Return the absolute difference of each share of every pair of photos of one wound, shape (N, 5)."""
    pairs = [
        np.abs(one.corrected - other.corrected)
        for photos in wounds
        for one, other in combinations(_those([photos], lamps), 2)
    ]
    return np.array(pairs).reshape(-1, len(TISSUES))


def _apart(points: Values) -> str:
    if not points.size:
        return ""
    return f"{np.median(points):.1f}, {np.quantile(points, 0.95):.1f}, {100 * np.mean(points < 3):.0f} %"


def coverage_table(wounds: Sequence[Photos]) -> Iterator[str]:
    """Yield how often the k = 2 interval held the truth, over all photos; and its median width."""
    yield from _head(["tissue", "truth within k = 2", "missed by more than 3 points", "median k = 2, points"])
    found = [each for each in _distinct(wounds) if isinstance(each, Found)]
    off = np.array([np.abs(each.corrected - each.true) for each in found]).reshape(-1, len(TISSUES))
    expanded = np.array([each.expanded for each in found]).reshape(-1, len(TISSUES))
    for i, name in enumerate(TISSUES if found else ()):
        held, far = off[:, i] <= expanded[:, i], off[:, i] > expanded[:, i] + 3
        yield f"| {name} | {_share(held)} | {_share(far)} | {np.median(expanded[:, i]):.1f} |"
    yield ""


def _share(which: NDArray[np.bool_]) -> str:
    return f"{100 * which.mean():.0f} %"


def refusal_table(wounds: Sequence[Photos]) -> Iterator[str]:
    """Yield why of some photos nothing was said, and what they show."""
    distinct = _distinct(wounds)
    refused = [each for each in distinct if isinstance(each, Refused)]
    yield f"{len(refused)} of {len(distinct)} photos were refused.\n"
    reasons = sorted({each.reason for each in refused})
    if reasons:
        yield from _head(["why", "photos", "under"])
    for reason in reasons:
        names = Counter(name for photos in wounds for name, each in photos.items() if each == Refused(reason))
        under = ", ".join(f"{name} ({count})" for name, count in names.items())
        yield f"| {reason} | {sum(each.reason == reason for each in refused)} | {under} |"


def _head(columns: Sequence[str]) -> Iterator[str]:
    yield f"| {' | '.join(columns)} |"
    yield "|" + "---|" * len(columns)


if __name__ == "__main__":
    print_rows(rows, __doc__, 4)
