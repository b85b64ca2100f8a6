"""Renders photographs of invented wounds beside our stickers, with their truth.

>>> rendering = render(Scene(wound=Wound(length_mm=40, width_mm=25), camera=Camera(tilt_deg=20), seed=3))
>>> rendering.pixels, rendering.outline_px, rendering.area_mm2, rendering.homography, rendering.tissue
>>> write_photo(Path("photo.jpg"), rendering)
"""

from .bed import OUTSIDE
from .camera import Camera, View
from .cover import Cover
from .light import Light, cast
from .limb import Limb
from .look import LOOKS, Look
from .photo_file import ExifFacts, jpeg, write_photo
from .redness import Band, redness_round
from .rendering import Rendering, outline_in_photo, polygon_in_photo, render, tissue_fractions, wound_cover
from .scene import Scene
from .seam import Seam
from .sensor import Sensor
from .skin import Skin
from .sticker import Sticker
from .truth import reflectance_in_photo, tissue_in_photo
from .wound import CLASSES, TISSUES, UNCLEAR, Wound

__all__ = [
    "CLASSES",
    "LOOKS",
    "OUTSIDE",
    "TISSUES",
    "UNCLEAR",
    "Band",
    "Camera",
    "Cover",
    "ExifFacts",
    "Light",
    "Limb",
    "Look",
    "Rendering",
    "Scene",
    "Seam",
    "Sensor",
    "Skin",
    "Sticker",
    "View",
    "Wound",
    "cast",
    "jpeg",
    "outline_in_photo",
    "polygon_in_photo",
    "redness_round",
    "reflectance_in_photo",
    "render",
    "tissue_fractions",
    "tissue_in_photo",
    "wound_cover",
    "write_photo",
]
