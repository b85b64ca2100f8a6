"""The stages of one photo's path, each as a piece of work on what the stage before it left."""

from collections.abc import Callable
from copyreg import pickle
from dataclasses import dataclass
from types import MappingProxyType

import cv2
import numpy as np

from calibration.correction import fit_colour
from calibration.detect import find_stickers
from calibration.fit import fit_plane
from measure.overlay import draw_measurement
from measure.photo import Photo, read_photo
from measure.pipeline import Measurement, Prepared, complete, prepare
from measure.redness import measure_redness
from measure.tissue import map_tissue

DECODE = "decode the JPEG (the unit)"


@dataclass(frozen=True, eq=False)
class Inputs:
    """What the stages work on, made once from one file."""

    data: bytes
    photo: Photo
    prepared: Prepared
    measurement: Measurement

    @classmethod
    def of(cls, data: bytes) -> "Inputs":
        """Walk the whole path once."""
        photo = read_photo(data, "photo")
        prepared = prepare(photo)
        return cls(data, photo, prepared, complete(prepared))


@dataclass(frozen=True)
class Stage:
    """A piece of work and the name of the part of `Inputs` that it takes."""

    takes: str
    work: Callable[..., object]


def _decode(data: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def _fit(prepared: Prepared) -> object:
    photo, sticker = prepared.photo, prepared.calibration.stickers[0]
    return fit_plane([sticker], photo.width, photo.height, photo.focal_px)


def _colour(prepared: Prepared) -> object:
    return fit_colour(prepared.photo.pixels, prepared.calibration.stickers, prepared.calibration.plane)


def _tissue(prepared: Prepared) -> object:
    return map_tissue(prepared.photo.pixels, prepared.colour, prepared.calibration, prepared.outlines[0])


def _redness(prepared: Prepared) -> object:
    return measure_redness(prepared.photo.pixels, prepared.colour, prepared.calibration, prepared.outlines)


STAGES = {
    DECODE: Stage("data", _decode),
    "read the photo": Stage("data", lambda data: read_photo(data, "photo")),
    "find the sticker": Stage("photo", lambda photo: find_stickers(photo.pixels)),
    "fit the plane": Stage("prepared", _fit),
    "fit the colours": Stage("prepared", _colour),
    "prepare (sticker, plane, colours, checks, proposal)": Stage("photo", prepare),
    "map the tissue": Stage("prepared", _tissue),
    "measure the redness": Stage("prepared", _redness),
    "complete (numbers, budgets, tissue, redness)": Stage("prepared", complete),
    "draw the overlay": Stage("measurement", draw_measurement),
    "whole path": Stage("data", lambda data: complete(prepare(read_photo(data, "photo")))),
}
"""In the order of the path."""


def _read_only(mapping: dict) -> MappingProxyType:
    return MappingProxyType(mapping)


pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))  # so that budgets travel to another process
