"""Takes the photo of a visit: another standpoint, light and sticker each time, as on a ward."""

import numpy as np

from measure.demo.course import Course, Look, Seen
from measure.rendering import Camera, ExifFacts, Light, Rendering, Scene, Sensor, Sticker, cast, jpeg, render

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_QUALITY = 86  # of the JPEG
_TURNS = {"corner": (0.0,), "strip": (0.0, 180.0), "tile": (0.0, 180.0)}  # on which the sticker's ruler faces the wound


def scene_of(course: Course, seen: Seen, look: Look, number: int, width_px: int) -> Scene:
    """Return what the photo of a visit shows; ``number`` counts the visits of the course."""
    random = np.random.default_rng((course.seed, number))
    layout = course.layouts[number % len(course.layouts)]
    turn = float(random.choice(_TURNS[layout])) + random.uniform(-7, 7)
    sticker = Sticker(layout, turn, course.gap_mm + random.uniform(0, 3), writing=_writing(layout, course, seen))
    return Scene(
        (sticker,),
        look.wound,
        course.skin,
        _camera(course, random, width_px),
        _light(random),
        Sensor(blur_px=random.uniform(0.6, 0.9)),
        seam=look.seam,
        seed=course.seed + number,
    )


def photographed(scene: Scene, seen: Seen) -> tuple[Rendering, bytes]:
    """Return the photo with its truth, and its file as a telephone writes it."""
    rendering = render(scene)
    facts = ExifFacts(taken_at=f"{seen.at:%Y:%m:%d %H:%M:%S}", offset=seen.at.isoformat()[-6:])
    return rendering, jpeg(rendering, _QUALITY, facts)


def _camera(course: Course, random: np.random.Generator, width_px: int) -> Camera:
    sides = width_px, round(width_px * 3 / 4)
    upright = random.random() < 0.25 and course.aim_mm is None
    width, height = sides[::-1] if upright else sides
    return Camera(
        width,
        height,
        distance_mm=random.uniform(152, 176) if course.aim_mm is None else random.uniform(176, 196),
        tilt_deg=random.uniform(4, 20),
        tilt_towards_deg=random.uniform(0, 360),
        roll_deg=random.uniform(-14, 14),
        aim_mm=course.aim_mm,
    )


def _light(random: np.random.Generator) -> Light:
    return Light(
        gains=cast(random.uniform(3400, 6800), random.uniform(0.15, 0.5)),
        exposure_ev=random.uniform(-0.25, 0.2),
        from_deg=random.uniform(0, 360),
        gradient=random.uniform(0.05, 0.25),
    )


def _writing(layout: str, course: Course, seen: Seen) -> tuple[str, ...]:
    day = f"{seen.at.day} {_MONTHS[seen.at.month - 1]}"
    return (course.person, f"{day} {seen.by}") if layout == "tile" else (course.person, day, seen.by)
