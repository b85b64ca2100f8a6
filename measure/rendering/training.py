"""Writes close-ups with their masks, to train and try proposals on: ``python -m measure.rendering.training FOLDER``.

``FOLDER`` gets ``photos/NAME.jpg`` (512 x 512), ``masks/NAME.png`` (1 bit, 1 is wound) and ``groups.csv`` (name, group;
each close-up is a group of its own). A quarter of the close-ups shows no wound. Everything follows from ``--seed``.
"""

import argparse
import csv
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from calibration.sticker import LAYOUTS

from .camera import Camera
from .closeup import CloseUp
from .light import Light, cast
from .limb import Limb
from .mark import MARKS, Mark
from .plain_ruler import PlainRuler
from .scene import Scene
from .sensor import Sensor
from .skin import Skin
from .stain import STAINS, Stain
from .sticker import Sticker, outline_on_plane
from .thing import COLOURS, Thing
from .wound import TISSUES, Wound

SIDE = 512
"""Pixels of a close-up, each way."""

WITHOUT = 0.25
"""Share of close-ups without a wound."""

SHARES = (0.03, 0.35)
"""Of the frame that the wounds fill, unless something hides a part of them."""

QUALITY = 92
"""Of the JPEG that is written."""

_LEAST_SHARE = 0.01  # of the frame that is seen of a wound; else nothing lies about
_FRAME_MM = (52.0, 230.0)  # what the side of a close-up spans
_ROOM_MM = {"trunk": 95.0, "sacrum": 80.0, "shin": 60.0, "forearm": 55.0, "heel": 45.0, "forefoot": 18.0}
_WRITING = {
    "corner": ((), ("W01", "4 Mar", "KL")),
    "strip": ((), ("W02", "6 Mar", "KL")),
    "tile": ((), ("W05", "8 Mar KL")),
}
_BEDS = ((0.90, 0.06, 0.0, 0.04), (0.45, 0.45, 0.0, 0.10), (0.15, 0.75, 0.05, 0.05), (0.2, 0.2, 0.55, 0.05))
_RULERS = (
    PlainRuler(),
    PlainRuler(("mm", "inch/16"), width_mm=20.0),
    PlainRuler(("cm", ""), width_mm=15.0, length_mm=120.0),
    PlainRuler(("comb", "mm"), width_mm=25.0, numbers=False),
)

Random = np.random.Generator

Others = tuple[tuple[Wound, tuple[float, float]], ...]
"""Further wounds, and where on the plane their middles lie."""


def closeup(seed: int, number: int) -> CloseUp:
    """Return a close-up as chance makes it, the same for every run."""
    random = np.random.default_rng((seed, number))
    scene = _whole(_scene(random, int(random.integers(1, 2**31))))
    others = _others(scene, scene.wound, random) if scene.wound and random.random() < 0.25 else ()
    scene, frame_mm = _framed(scene, others, random)
    return CloseUp(
        scene,
        others,
        _marks(scene, frame_mm, random),
        _things(scene, frame_mm, random),
        tuple(np.exp(random.normal(0, (0.10, 0.12, 0.18))).tolist()),
    )


def picture(seed: int, number: int) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return the pixels of a close-up, shape (512, 512, 3), and the mask of its wounds."""
    shown = closeup(seed, number)
    pixels, mask = shown.render()
    if shown.scene.wound and mask.mean() < _LEAST_SHARE:
        pixels, mask = replace(shown, things=()).render()
    random = np.random.default_rng((seed, number, 1))
    return _processed(pixels, random), mask


def _whole(scene: Scene) -> Scene:
    """Return the scene without the wound's island where it does not fit."""
    try:
        scene.wound_mm()
    except ValueError:
        return replace(scene, wound=scene.wound and replace(scene.wound, island_mm=0.0))
    return scene


def _log_uniform(random: Random, low: float, high: float) -> float:
    return float(np.exp(random.uniform(np.log(low), np.log(high))))


def _scene(random: Random, seed: int) -> Scene:
    layout = str(random.choice(["corner", "strip", "tile"], p=[0.45, 0.33, 0.22]))
    wound = _wound(random, 12.0, 26.0 if layout == "tile" else 90.0) if random.random() >= WITHOUT else None
    writing = _WRITING[layout][int(random.integers(2))]
    turn = random.uniform(0, 360) if layout == "tile" else random.uniform(-12, 12)
    sticker = Sticker(layout, turn, random.uniform(2, 14), grey=bool(random.random() < 0.2), writing=writing)
    limb = None
    if random.random() < 0.25:
        limb = Limb(random.uniform(40, 130), random.uniform(0, 180), tuple(random.uniform(-12, 12, 2).tolist()))
    stickers = (sticker,) if random.random() < (0.92 if wound else 0.75) else ()
    return Scene(
        stickers, wound, _skin(random, wound, flat=limb is None), light=_light(random), limb=limb, seed=seed,
        sensor=_sensor(random),
    )  # fmt: skip


def _wound(random: Random, least_mm: float, most_mm: float) -> Wound:
    length = _log_uniform(random, least_mm, most_mm)
    bed = random.dirichlet(14 * np.array(_BEDS[int(random.choice(4, p=[0.4, 0.25, 0.2, 0.15]))]) + 0.15)
    width = length * random.uniform(0.45, 1.0)
    island = width * random.uniform(0.15, 0.32) if random.random() < 0.15 and width > 14 else 0.0
    return Wound(
        str(random.choice(["blob", "lobed", "ellipse"], p=[0.55, 0.35, 0.10])),
        length,
        width,
        random.uniform(0, 180),
        island if width > 0.6 * length else 0.0,
        dict(zip(TISSUES, bed.tolist(), strict=True)),
        redness=random.uniform(0, 1),
        maceration=random.uniform(0, 0.8),
        moisture=random.uniform(0, 1),
    )


def _skin(random: Random, wound: Wound | None, *, flat: bool) -> Skin:
    need = wound.length_mm if wound else 0.0
    fitting = [body for body, room in _ROOM_MM.items() if room >= need]
    body = str(random.choice(fitting)) if flat and random.random() < 0.8 else "trunk"
    near = (0.0, 2.0) if body == "forefoot" else tuple(random.normal(0, 7, 2).tolist())
    hair = random.uniform(0.05, 0.5) if random.random() < 0.3 else 0.0
    turn = random.uniform(0, 360)
    return Skin(random.uniform(-55, 62), random.uniform(0.4, 1.5), hair, random.uniform(0, 0.8), body, turn, near)


def _light(random: Random) -> Light:
    shadow = random.uniform(0.2, 0.65) if random.random() < 0.3 else 0.0
    return Light(
        gains=cast(random.uniform(2700, 7500), random.uniform(0, 1)),
        exposure_ev=random.uniform(-0.9, 0.45),
        from_deg=random.uniform(0, 360),
        gradient=random.uniform(0, 0.5),
        vignetting=random.uniform(0, 0.35),
        shadow=shadow,
        shadow_towards_deg=random.uniform(0, 360),
        shadow_softness_mm=random.uniform(5, 40),
    )


def _sensor(random: Random) -> Sensor:
    return Sensor(
        blur_px=_log_uniform(random, 0.4, 1.8),
        motion_px=random.uniform(1, 5) if random.random() < 0.15 else 0.0,
        motion_deg=random.uniform(0, 180),
        read_noise=_log_uniform(random, 0.0005, 0.008),
        shot_noise=_log_uniform(random, 1e-5, 4e-4),
    )


def _others(scene: Scene, first: Wound, random: Random) -> Others:
    """Return up to three further wounds that lie free of the first, of one another and of the stickers."""
    taken = [scene.wound_mm(), *_stickers_mm(scene)]
    others = []
    for _ in range(int(random.integers(1, 4))):
        wound = _wound(random, 6.0, max(0.7 * first.length_mm, 10.0))
        away = (first.length_mm + wound.length_mm) / 2 + random.uniform(1, 10)
        angle = random.uniform(0, 2 * np.pi)
        at_mm = float(away * np.cos(angle)), float(away * np.sin(angle))
        room = Point(at_mm).buffer(wound.length_mm / 2 + 1)
        if all(room.disjoint(shape) for shape in taken):
            taken.append(room)
            others.append((replace(wound, island_mm=0.0), at_mm))
    return tuple(others)


def _stickers_mm(scene: Scene) -> list[Polygon]:
    return [
        Polygon(outline_on_plane(LAYOUTS[each.layout], pose))
        for each, pose in zip(scene.stickers, scene.poses(), strict=True)
    ]


def _framed(scene: Scene, others: Others, random: Random) -> tuple[Scene, float]:
    """Return the scene with a camera so near that the wounds fill their share, and the side of its frame in mm."""
    rooms = [Point(at_mm).buffer(wound.length_mm / 2) for wound, at_mm in others]
    wounds = shapely.union_all([scene.wound_mm(), *rooms])
    share = _log_uniform(random, *SHARES)
    side = np.sqrt(wounds.area / share) if scene.wound else random.uniform(55, 200)
    side = float(np.clip(side, *_FRAME_MM))
    distance = random.uniform(180, 420)
    camera = Camera(
        SIDE, SIDE, SIDE * distance / side, distance, random.uniform(0, 32), random.uniform(0, 360),
        random.uniform(0, 360), _aim(scene, wounds, side, random), random.normal(0, 0.01),
    )  # fmt: skip
    return replace(scene, camera=camera), side


def _aim(scene: Scene, wounds: BaseGeometry, side: float, random: Random) -> tuple[float, float]:
    """Return where the camera aims: between the wounds and the sticker, the wounds mostly whole in the frame."""
    start = np.array(wounds.centroid.coords[0]) if scene.wound else np.zeros(2)
    sticker = _stickers_mm(scene)
    towards = np.array(sticker[0].centroid.coords[0]) - start if sticker else random.normal(0, 1, 2)
    reach = np.sqrt(wounds.area / np.pi) if scene.wound else 0.0
    room = max(0.5 * side - 1.15 * reach, 0.06 * side) * (1.4 if random.random() < 0.12 else 1.0)
    length = max(float(np.linalg.norm(towards)), 1e-6)
    step = towards / length * min(room, 0.8 * length) * random.uniform(0.3, 1.0)
    x, y = start + step + random.normal(0, 0.04 * side, 2)
    return float(x), float(y)


def _marks(scene: Scene, side: float, random: Random) -> tuple[Mark, ...]:
    """Return marks of the skin anywhere in the frame."""
    marks = []
    for _ in range(int(random.choice(4, p=[0.35, 0.3, 0.2, 0.15]) if scene.wound else random.integers(0, 5))):
        kind = str(random.choice(MARKS, p=[0.3, 0.25, 0.15, 0.2, 0.1]))
        x, y = np.array(scene.camera.aim_mm) + random.uniform(-0.45, 0.45, 2) * side
        length = {"mole": _log_uniform(random, 1.5, 9), "scar": _log_uniform(random, 12, 70)}.get(
            kind, _log_uniform(random, 8, 60)
        )
        slim = random.uniform(0.06, 0.5) if kind == "scar" else random.uniform(0.6, 1.0)
        marks.append(
            Mark(kind, (float(x), float(y)), length, slim * length, random.uniform(0, 180), random.uniform(0.35, 1.0))
        )
    return tuple(marks)


def _things(scene: Scene, side: float, random: Random) -> tuple[Thing, ...]:
    """Return what lies about, drapes and rulers undermost; where there is a wound it seldom hides much of it."""
    count = int(random.choice(4, p=[0.35, 0.35, 0.2, 0.1] if scene.wound else [0.15, 0.35, 0.3, 0.2]))
    kinds = random.choice(list(COLOURS), count, p=[0.27, 0.18, 0.25, 0.18, 0.12])
    undermost_first = sorted(kinds.tolist(), key=("drape", "ruler", "gauze", "dressing", "glove").index)
    return tuple(_thing(kind, scene, side, random) for kind in undermost_first)


def _thing(kind: str, scene: Scene, side: float, random: Random) -> Thing:
    """Return a thing that comes in from any side."""
    angle, aim = random.uniform(0, 2 * np.pi), np.array(scene.camera.aim_mm)
    towards = np.array([np.cos(angle), np.sin(angle)])
    away = random.uniform(-0.25 if kind in {"gauze", "dressing"} else 0.02, 0.42) * side
    if scene.wound:
        edge = shapely.get_coordinates(scene.wound_mm())
        away = float(((edge - aim) @ towards).max()) + random.uniform(-0.08, 0.25) * side
    sideways = np.array([-towards[1], towards[0]]) * random.uniform(-0.25, 0.25) * side
    ruler, colours = _RULERS[int(random.integers(len(_RULERS)))], COLOURS[kind]
    thing = Thing(
        kind,
        _pair(aim + away * towards + sideways),
        float(np.degrees(angle)),
        random.uniform(-35, 35),
        random.uniform(35, 90) if kind == "dressing" else random.uniform(0.35, 0.9) * side,
        int(random.integers(1, 4)),
        colours[int(random.integers(len(colours)))],
        ruler=ruler,
    )
    if kind == "ruler":
        return _alongside(thing, random)
    if kind in {"gauze", "dressing"} and random.random() < 0.65:
        return replace(thing, stains=tuple(_stain(thing, aim, side, random) for _ in range(random.integers(1, 4))))
    return thing


def _pair(point: NDArray[np.float64]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _alongside(ruler: Thing, random: Random) -> Thing:
    """Return the ruler turned so that it passes the middle of the photo with its long edge."""
    turned = replace(ruler, turn_deg=float(random.choice([-90.0, 90.0]) + random.uniform(-20, 20)))
    angle = np.radians(ruler.from_deg)
    outward = (0.5 * ruler.ruler.width_mm + 2) * np.array([np.cos(angle), np.sin(angle)])
    back = 0.6 * (np.array(ruler.tip_mm) - np.array(turned.shape().centroid.coords[0]))
    return replace(turned, tip_mm=_pair(np.array(ruler.tip_mm) + outward + back))


def _stain(thing: Thing, aim: NDArray[np.float64], side: float, random: Random) -> Stain:
    """Return a stain on a part of the thing that the photo shows."""
    half = 0.45 * side
    seen = thing.shape().intersection(shapely.box(*(aim - half), *(aim + half)))
    seen = thing.shape() if seen.is_empty else seen
    left, top, right, bottom = seen.bounds
    at_mm = random.uniform(left, right), random.uniform(top, bottom)
    return Stain(str(random.choice(STAINS)), at_mm, _log_uniform(random, 0.05 * side, 0.4 * side))


def _processed(pixels: NDArray[np.uint8], random: Random) -> NDArray[np.uint8]:
    """Return the pixels as a telephone makes them nicer: contrast, saturation, sharpening, and often a first JPEG."""
    photo = pixels.astype(np.float32)
    grey = photo.mean(axis=2, keepdims=True)
    photo = grey + random.uniform(0.8, 1.25) * (photo - grey)
    photo = 128 + random.uniform(0.85, 1.2) * (photo - 128) + random.uniform(-8, 8)
    if random.random() < 0.4:
        photo += random.uniform(0.2, 0.9) * (photo - cv2.GaussianBlur(photo, (0, 0), 1.2))
    whole = np.asarray(np.clip(np.rint(photo), 0, 255), np.uint8)
    if random.random() < 0.5:
        _, data = cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, int(random.integers(35, 90))])
        return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
    return whole


def write(folder: Path, seed: int, number: int) -> str:
    """Write one close-up and its mask, and return its name."""
    name = f"closeup-{seed}-{number:05d}"
    pixels, mask = picture(seed, number)
    Image.fromarray(pixels).save(folder / "photos" / f"{name}.jpg", quality=QUALITY)
    Image.fromarray(mask).save(folder / "masks" / f"{name}.png")
    return name


def write_all(folder: Path, count: int, seed: int, workers: int = 1) -> Iterator[str]:
    """Write close-ups, their masks and the table of groups, and yield their names."""
    for part in ("photos", "masks"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    names = []
    for name in _written(folder, count, seed, workers):
        names.append(name)
        yield name
    with (folder / "groups.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["name", "group"])
        table.writerows((name, number) for number, name in enumerate(names, 1))


def _written(folder: Path, count: int, seed: int, workers: int) -> Iterator[str]:
    work, numbers = partial(write, folder, seed), range(1, count + 1)
    if workers <= 1:
        yield from map(work, numbers)
        return
    fresh = get_context("spawn")  # a fork would carry over OpenCV's threads half
    with ProcessPoolExecutor(workers, mp_context=fresh, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        yield from pool.map(work, numbers, chunksize=4)


def main() -> None:
    """Write what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="where the close-ups go")
    parser.add_argument("--count", type=int, default=100, help="how many")
    parser.add_argument("--seed", type=int, default=1, help="of everything random")
    parser.add_argument("--workers", type=int, default=1, help="processes at a time")
    chosen = parser.parse_args()
    for _ in write_all(chosen.folder, chosen.count, chosen.seed, chosen.workers):
        pass


if __name__ == "__main__":
    main()
