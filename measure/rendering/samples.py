"""Makes the photographs of ``sample_images/``: run ``python -m measure.rendering.samples`` in the repository's root."""

import csv
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from measure.geometry import Convention, extents

from .camera import Camera
from .cover import Cover
from .light import Light, cast
from .photo_file import ExifFacts, write_photo
from .rendering import outline_in_photo, render, tissue_fractions
from .scene import Scene
from .sensor import Sensor
from .skin import Skin
from .sticker import Sticker
from .wound import TISSUES, Wound

FOLDER = Path(__file__).parents[2] / "sample_images"
"""Where the photographs lie."""


@dataclass(frozen=True)
class Sample:
    """One photograph: the name of its file without ending, what it shows, and when it claims to be taken."""

    name: str
    scene: Scene
    taken_at: str
    quality: int = 88


SAMPLES = (
    Sample(
        "W01-shin-corner",
        Scene(
            stickers=(Sticker("corner", turn_deg=2, writing=("W01", "4 Mar", "KL")),),
            wound=Wound("blob", 46, 30, tissue={"granulation": 0.68, "slough": 0.23, "epithelial": 0.09}, redness=0.8),
            skin=Skin(ita_deg=58, body="shin", veins=0.6, hair=0.12, body_turn_deg=-3),
            camera=Camera(distance_mm=225, tilt_deg=9, tilt_towards_deg=70, roll_deg=-3),
            light=Light(gradient=0.16, from_deg=215),
            seed=101,
        ),
        "2024:03:04 10:12:31",
    ),
    Sample(
        "W02-heel-strip",
        Scene(
            stickers=(Sticker("strip", turn_deg=-4, writing=("W02", "6 Mar", "KL")),),
            wound=Wound(
                "blob",
                38,
                33,
                tissue={"granulation": 0.22, "slough": 0.28, "necrotic": 0.44, "epithelial": 0.06},
                maceration=0.7,
                moisture=0.4,
            ),
            skin=Skin(ita_deg=33, body="heel", relief=1.3, veins=0.1),
            camera=Camera(3024, 4032, distance_mm=250, tilt_deg=17, tilt_towards_deg=100, roll_deg=5),
            light=Light(gains=cast(4200, 0.25), gradient=0.22, from_deg=150),
            seed=205,
        ),
        "2024:03:06 15:40:08",
    ),
    Sample(
        "W03-sacrum-corner",
        Scene(
            stickers=(Sticker("corner", turn_deg=-6, gap_mm=5, writing=("W03", "7 Mar", "AB")),),
            wound=Wound(
                "lobed",
                62,
                44,
                island_mm=9,
                tissue={"granulation": 0.61, "slough": 0.39},
                redness=0.7,
                moisture=0.8,
            ),
            skin=Skin(ita_deg=4, body="sacrum", body_at_mm=(4, -20), veins=0.05),
            camera=Camera(4000, 3000, distance_mm=290, tilt_deg=22, tilt_towards_deg=60, roll_deg=4),
            light=Light(
                gains=cast(3200, 0.3),
                exposure_ev=0.35,
                shadow=0.5,
                shadow_towards_deg=20,
                shadow_through_mm=(-12, 0),
                shadow_softness_mm=22,
            ),
            seed=307,
        ),
        "2024:03:07 09:03:55",
    ),
    Sample(
        "W04-forearm-strip",
        Scene(
            stickers=(Sticker("strip", turn_deg=3, writing=("W04", "7 Mar", "AB")),),
            wound=Wound("blob", 52, 27, turn_deg=-8, tissue={"granulation": 0.82, "slough": 0.05, "epithelial": 0.13}),
            skin=Skin(ita_deg=-42, body="forearm", hair=0.25),
            camera=Camera(4000, 3000, distance_mm=260, tilt_deg=13, tilt_towards_deg=240, roll_deg=172),
            light=Light(exposure_ev=0.3, gradient=0.1, from_deg=60),
            seed=409,
        ),
        "2024:03:07 11:27:44",
    ),
    Sample(
        "W05-toe-tile",
        Scene(
            stickers=(Sticker("tile", turn_deg=4, gap_mm=4, writing=("W05", "8 Mar KL")),),
            wound=Wound("blob", 14, 11, tissue={"granulation": 0.57, "slough": 0.33, "epithelial": 0.10}, redness=0.9),
            skin=Skin(ita_deg=46, body="forefoot", body_at_mm=(0, 2), hair=0.1, veins=0.5),
            camera=Camera(3264, 2448, distance_mm=175, tilt_deg=14, tilt_towards_deg=20, roll_deg=-12, aim_mm=(12, -8)),
            light=Light(gains=cast(5200, 0.5), gradient=0.2, from_deg=300),
            seed=511,
        ),
        "2024:03:08 08:51:19",
    ),
    Sample(
        "W06-shin-corner",
        Scene(
            stickers=(Sticker("corner", turn_deg=5, grey=True, writing=("W06", "8 Mar", "KL")),),
            wound=Wound(
                "lobed",
                40,
                30,
                tissue={"granulation": 0.55, "slough": 0.25, "necrotic": 0.12, "epithelial": 0.08},
                moisture=1.0,
            ),
            skin=Skin(ita_deg=17, body="shin", hair=0.35, body_turn_deg=178),
            camera=Camera(3264, 2448, distance_mm=240, tilt_deg=28, tilt_towards_deg=80, roll_deg=-9),
            light=Light(gains=cast(7200, 0.6), gradient=0.3, vignetting=0.35, from_deg=260),
            sensor=Sensor(blur_px=1.0, motion_px=2.0, shot_noise=0.00012),
            cover=Cover("glove", 0.14),
            seed=613,
        ),
        "2024:03:08 16:20:02",
    ),
)
"""The photographs, each with another skin, site, light and pose."""


def truth_of(sample: Sample) -> dict[str, str | int | float]:
    """Return what is true of a sample, as a row of ``truth.csv``."""
    scene, wound = sample.scene, sample.scene.wound_mm()
    size = extents(wound, Convention.LONGEST_PERPENDICULAR)
    fractions = tissue_fractions(scene)
    return {
        "file": f"{sample.name}.jpg",
        "layout": scene.stickers[0].layout,
        "area_cm2": round(wound.area / 100, 4),
        "perimeter_cm": round(wound.length / 10, 4),
        "length_cm": round(size.length_mm / 10, 4),
        "width_cm": round(size.width_mm / 10, 4),
        "tilt_deg": scene.camera.tilt_deg,
        "distance_mm": scene.camera.distance_mm,
        **{f"{name}_percent": round(100 * fractions[name], 1) for name in TISSUES},
        "skin_ita_deg": scene.skin.ita_deg,
        "seed": scene.seed,
    }


def outline_of(sample: Sample) -> dict[str, list[dict[str, list[Any]]]]:
    """Return the true outline in photo pixels, as ``ebbline measure --outline`` reads it."""
    outline, holes = outline_in_photo(sample.scene)
    wound = {"outline": outline.round(2).tolist(), "holes": [hole.round(2).tolist() for hole in holes]}
    return {"wounds": [wound]}


def write_samples(folder: Path) -> None:
    """Write every photograph, its outline and the table of truths."""
    folder.mkdir(exist_ok=True)
    for sample in SAMPLES:
        write_photo(
            folder / f"{sample.name}.jpg", render(sample.scene), sample.quality, ExifFacts(taken_at=sample.taken_at)
        )
        (folder / f"{sample.name}.outline.json").write_text(json.dumps(outline_of(sample)) + "\n", encoding="utf-8")
    rows = [truth_of(sample) for sample in SAMPLES]
    with (folder / "truth.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(rows)


if __name__ == "__main__":
    write_samples(FOLDER)
