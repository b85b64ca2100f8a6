"""Wounds of all tissues under many lights, the same for every run: what colour and tissue maps are tried on.

`lit` gives a wound in even daylight; `LAMPS` changes its light, `SHOTS` the camera's look and the print. The same
number gives the same wound under each of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import product
from types import MappingProxyType

import numpy as np

from measure.rendering import LOOKS, TISSUES, Camera, Light, Scene, Sensor, Skin, Sticker, Wound, cast

Change = Callable[[Scene], Scene]

KELVIN = (2700, 3500, 4200, 5500, 6500, 7500)
"""Colour of the light: lamps at home, in wards and in theatres, and a window towards the sky."""

EXPOSURES_EV = (-1.5, -0.75, 0.0, 0.5, 1.0)

GRADIENTS = tuple(product((0.25, 0.5), (0, 90, 180, 270)))
"""Relative change of the light over 100 mm, and the side from which it comes in degrees."""

PRINT_ERRORS = (0.0, 2.0, 4.0, 8.0)
"""CIEDE2000 by which patches are off: from a perfect printer to one that is low on an ink."""

_MOST, _MOST_EPITHELIAL = 0.7, 0.35  # of a bed
_SIZES_MM = {"corner": ((22.0, 50.0), (16.0, 34.0)), "strip": ((22.0, 60.0), (16.0, 34.0)), "tile": ((10.0, 18.0),) * 2}


def lit(layout: str, number: int, width: int = 4032, *, blood: float = 0.0, residue: float = 0.0) -> Scene:
    """Return a wound in even daylight beside a sticker.

    Any skin, tilt to 25 degrees, 200 to 400 mm away. ``blood`` and ``residue`` change nothing else.
    """
    random = np.random.default_rng((ord(layout[0]), 4, number))
    (least, most), (narrowest, widest) = _SIZES_MM[layout]
    long, short = random.uniform(least, most), random.uniform(narrowest, widest)
    wound = Wound(
        shape=str(random.choice(["blob", "lobed", "ellipse"], p=[0.6, 0.3, 0.1])),
        length_mm=max(long, short),
        width_mm=min(long, short),
        turn_deg=random.uniform(0, 180),
        tissue=dict(zip(TISSUES, _bed(random), strict=True)),
        redness=random.uniform(0, 1),
        maceration=random.uniform(0, 0.6),
        moisture=random.uniform(0.2, 0.9),
        blood=blood,
        residue=residue,
    )
    camera = Camera(
        width,
        width * 3 // 4,
        distance_mm=random.uniform(200, 400),
        tilt_deg=random.uniform(0, 25),
        tilt_towards_deg=random.uniform(0, 360),
        roll_deg=random.uniform(0, 360),
    )
    turn = random.uniform(0, 360) if layout == "tile" else 0.0
    return Scene(
        stickers=(Sticker(layout, turn, random.uniform(4, 9)),),
        wound=wound,
        skin=Skin(random.uniform(-60, 60), veins=random.uniform(0, 0.6), body="trunk"),
        camera=camera,
        light=Light(gradient=0.0, from_deg=random.uniform(0, 360)),
        sensor=Sensor(blur_px=random.uniform(0.5, 1.2)),
        seed=1000 + number,
    )


def _bed(random: np.random.Generator) -> list[float]:
    """Return fractions of the four tissues: each up to 0.7, epithelium seldom above 0.35."""
    while True:
        bed = random.dirichlet((1.2, 1.2, 0.9, 0.6))
        if bed.max() <= _MOST and (bed[TISSUES.index("epithelial")] <= _MOST_EPITHELIAL or random.random() < 0.1):
            return bed.tolist()


def _light(**values: float) -> Change:
    return lambda scene: replace(scene, light=replace(scene.light, **values))


def _look(name: str) -> Change:
    return lambda scene: replace(scene, sensor=replace(scene.sensor, look=LOOKS[name]))


def _print(error: float) -> Change:
    return lambda scene: replace(
        scene, stickers=tuple(replace(sticker, print_error=error) for sticker in scene.stickers)
    )


def _from_side(gradient: float, side_deg: float) -> Change:
    """Return the change to light from one side, from which the slopes of the bed are lit too."""
    return _light(gradient=gradient, from_deg=side_deg)


def _mixed(scene: Scene, number: int) -> Scene:
    """Return the scene in a random mixture of all lights; the same wound gets another for each number."""
    random = np.random.default_rng((scene.seed, 5, number))
    light = replace(
        scene.light,
        gains=cast(random.uniform(min(KELVIN), max(KELVIN)), random.uniform(0.5, 1)),
        exposure_ev=random.uniform(-1.2, 0.6),
        from_deg=random.uniform(0, 360),
        gradient=random.uniform(0, 0.5),
        vignetting=random.uniform(0, 0.35),
        shadow=0.5 if random.random() < 0.3 else 0.0,
        shadow_towards_deg=random.uniform(0, 360),
        shadow_softness_mm=random.uniform(8, 30),
    )
    return replace(scene, light=light)


def _mixture(number: int) -> Change:
    return lambda scene: _mixed(scene, number)


LAMPS: Mapping[str, Change] = MappingProxyType(
    {
        **{f"{kelvin} K": _light(gains=cast(kelvin)) for kelvin in KELVIN},
        **{f"{ev:+g} EV": _light(exposure_ev=ev) for ev in EXPOSURES_EV},
        **{f"gradient {size:g} from {side}°": _from_side(size, side) for size, side in GRADIENTS},
        "half in shadow": _light(shadow=0.5, shadow_towards_deg=20.0),
        **{f"mixture {number}": _mixture(number) for number in range(1, 7)},
    }
)
"""Changes of the light alone, by name; "6500 K" and "+0 EV" leave it as it is."""

SHOTS: Mapping[str, Change] = MappingProxyType(
    {
        **{f"look: {name}": _look(name) for name in LOOKS},
        **{f"print off by {error:g}": _print(error) for error in PRINT_ERRORS},
    }
)
"""Changes of the camera's look and of the print, by name."""
