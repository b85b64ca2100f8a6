"""Random scenes over the conditions of a bedside, the same for every run."""

from dataclasses import replace

import numpy as np

from measure.rendering import Camera, Cover, Light, Scene, Sensor, Skin, Sticker, Wound

LAYOUTS = ("corner", "strip", "tile")


def bedside(layout: str, number: int, width: int = 4032) -> Scene:
    """Return a scene as a careful nurse takes it: tilt to 30 degrees, blur to 2 px, uneven light, any skin."""
    random = np.random.default_rng((ord(layout[0]), number))
    return Scene(
        stickers=(_sticker(layout, random),),
        wound=_wound(layout, random),
        skin=Skin(ita_deg=random.uniform(-50, 60)),
        camera=_camera(random, width, distance_mm=random.uniform(200, 450), tilt_deg=random.uniform(0, 30)),
        light=Light(gradient=random.uniform(0, 0.3), exposure_ev=random.uniform(-0.7, 0.5)),
        sensor=Sensor(blur_px=random.uniform(0.5, 2.0)),
        seed=number,
    )


def hard(layout: str, number: int, width: int = 4032) -> Scene:
    """Return a scene at the limits: 150 to 600 mm, tilt to 45 degrees, shadow, up to 30 % of the sticker covered."""
    random = np.random.default_rng((ord(layout[0]), 1, number))
    distance = float(random.choice([150, 300, 450, 600]))
    covered = random.uniform(0.05, 0.3) if random.random() < 0.5 else 0.0
    shadow = 0.6 if random.random() < 0.5 else 0.0
    scene = Scene(
        stickers=(_sticker(layout, random),),
        wound=_wound(layout, random),
        skin=Skin(ita_deg=random.uniform(-50, 60)),
        camera=_camera(random, width, distance_mm=distance, tilt_deg=random.uniform(0, 45)),
        light=Light(
            gradient=random.uniform(0, 0.3),
            exposure_ev=random.uniform(-0.7, 0.5),
            shadow=shadow,
            shadow_towards_deg=random.uniform(0, 360),
        ),
        sensor=Sensor(blur_px=random.uniform(0.5, 1.5)),
        seed=number,
    )
    return with_cover(scene, str(random.choice(["glove", "gauze"])), covered) if covered else scene


def plain(layout: str, number: int, width: int = 4032) -> Scene:
    """Return a scene from which one condition at a time departs: 300 mm, tilt 15 degrees, blur 1 px, flat skin."""
    random = np.random.default_rng((ord(layout[0]), 2, number))
    return Scene(
        stickers=(replace(_sticker(layout, random), gap_mm=5.0),),
        wound=_wound(layout, random),
        skin=Skin(ita_deg=random.uniform(-50, 60), body="trunk"),
        camera=_camera(random, width, distance_mm=300.0, tilt_deg=15.0),
        light=Light(gradient=0.1),
        sensor=Sensor(blur_px=1.0),
        seed=number,
    )


def with_cover(scene: Scene, kind: str, fraction: float) -> Scene:
    """Return the scene with part of the sticker covered, from the first side from which the wound stays free."""
    for direction in (None, 180.0, 270.0, 225.0, 0.0, 90.0):
        covered = replace(scene, cover=Cover(kind=kind, fraction=fraction, from_deg=direction))
        try:
            covered.cover_mm()
        except ValueError:
            continue
        return covered
    return scene


def _sticker(layout: str, random: np.random.Generator) -> Sticker:
    return Sticker(layout=layout, turn_deg=random.uniform(0, 360) if layout == "tile" else 0.0)


def _wound(layout: str, random: np.random.Generator) -> Wound:
    """Return a wound that suits the sticker: toes for the tile."""
    length, width = (15.0, 11.0) if layout == "tile" else (random.uniform(20, 50), random.uniform(15, 28))
    return Wound(length_mm=max(length, width), width_mm=min(length, width), turn_deg=random.uniform(0, 180))


def _camera(random: np.random.Generator, width: int, **pose: float) -> Camera:
    turns = {"tilt_towards_deg": random.uniform(0, 360), "roll_deg": random.uniform(0, 360)}
    return Camera(width=width, height=width * 3 // 4, **pose, **turns)
