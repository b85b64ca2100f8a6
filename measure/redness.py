"""Redness of the skin round a wound: by how much its a* exceeds that of a control patch of the person's own skin.

a* is that of CIE Lab under D65; it rises with the blood in the skin. Its difference to unreddened skin of the same
person is taken in bands of distance from the wound's edge on the wound plane, as the median over the skin that the
photo shows there. Redness tells nothing of its cause.

The standard uncertainty of a difference has three components, independent of one another:

mottling
    Skin is redder here than there without being reddened. The spread s of a* from patch to patch of far skin stands for
    that: the control is one patch, a band of n patches' area averages over n of them, so s sqrt(1 + 1 / n).
colour correction
    The error of a corrected colour changes smoothly with the colour, so in a difference of like colours most of it
    cancels. With a correlation exp(-d^2 / 2 l^2) between errors of colours that are d apart, where l is the usual
    distance between neighbouring patches of a sticker, the difference of two has sigma sqrt(2 (1 - exp(-d^2 / 2 l^2))):
    sigma d / l where d is small.
light
    a* goes with the cube root of light, so light that is wrong by a relative u makes a* wrong by a* u / 3, at the band
    and at the control. What they have in common, the exposure of the photo, scales the difference alone.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measure.control import FAR_MM, Control, chosen_control, proposed_control
from measure.flat import STEP_MM, Colour
from measure.outline import Outline
from measure.periwound import EDGE_MM, Periwound, surroundings
from measure.rounding import rounded
from measure.scale import Calibration
from measure.skin import Bytes
from measure.skin_tone import angle_sigma, skin_class, typology_angle
from measure.uncertainty import COVERAGE_FACTOR

BANDS_MM = ((0.0, 5.0), (5.0, 10.0), (10.0, 20.0))
"""Distances from the wound's edge. Guidelines on the diabetic foot ask whether redness ends within 5 mm, within 20 mm
or farther out (IWGDF/IDSA 2023); 10 mm divide the range between."""

LEAST_SEEN = 0.2
"""Share of a band that must be seen as skin: of less, what is seen may lie on one side of the wound alone."""

DARKER_BELOW_DEG = 28.0
"""Typology angle from which on redness is called a poor sign: tan, brown and dark skin. Melanin hides blood by degrees;
the angle is uncertain by several degrees, and to be told to look closer does no harm."""

CAUSES = (
    "Redness has many causes: pressure, moisture, friction, tape, healing or inflamed skin. A number alone names none "
    "of them: judge it together with everything else you find."
)
DARKER_SKIN = (  # Wounds International 2023, consensus: erythema does not always look red in darker skin
    "On tan, brown and dark skin redness is a poor sign: it may not look red, whatever the number says. Look for "
    "warmth, swelling, hardness, pain, and any change of colour against the skin nearby."
)
NO_CONTROL = (
    "No redness is told: the photo shows no skin clear of the wound to compare with. Take it again with a hand's "
    "breadth of skin round the wound, or choose a place of healthy skin yourself."
)

Pixels = NDArray[np.intp]  # of the raster, row by row

_LIKE_LAB = 20.0  # l above: colours of the sticker's patches lie 14 to 50 Lab units from the next one, 20 usually
_PLACES = 24  # of a band at which the light's uncertainty is asked for


@dataclass(frozen=True)
class Band:
    """The skin between two distances from a wound's edge.

    Attributes
    ----------
    from_mm, to_mm : float
    delta_a : float
        Median a* less that of the control; NaN where less than `LEAST_SEEN` of the band is seen.
    components : mapping of str to float
        Standard uncertainty of it in a* units, by cause; NaN likewise.
    seen : float
        Share of the band that could be seen as skin, 0 to 1.
    """

    from_mm: float
    to_mm: float
    delta_a: float
    components: Mapping[str, float]
    seen: float

    @property
    def standard_uncertainty(self) -> float:
        """Root sum of squares of the components, in a* units."""
        return math.sqrt(math.fsum(share**2 for share in self.components.values()))


@dataclass(frozen=True, eq=False)
class Redness:
    """Redness round one wound.

    Attributes
    ----------
    control_px : tuple of float
        Middle of the control patch in the photo.
    control_radius_mm : float
    chosen : bool
        Whether a person chose it.
    control_away_mm : float
        From its middle to the nearest wound's edge.
    control_lab : ndarray of shape (3,)
        Median L*, a*, b*.
    ita_deg, ita_sigma : float
        Typology angle of the control skin, and its standard uncertainty, in degrees.
    skin_class : str
        The same in words.
    bands : tuple of Band
        From the wound outwards.
    sentences : tuple of str
        What to know about these numbers.
    """

    control_px: tuple[float, float]
    control_radius_mm: float
    chosen: bool
    control_away_mm: float
    control_lab: NDArray[np.float64]
    ita_deg: float
    ita_sigma: float
    skin_class: str
    bands: tuple[Band, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class NoRedness:
    """That no redness can be told, and why."""

    sentence: str


def measure_redness(  # noqa: PLR0913, PLR0917 - what a photo is, which of its wounds, and what a person may choose
    pixels: Bytes,
    colour: Colour,
    calibration: Calibration,
    outlines: Sequence[Outline],
    which: int = 0,
    control_px: ArrayLike | None = None,
) -> Redness | NoRedness:
    """Measure the redness round one of the wounds of a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        The photo, RGB.
    colour : Colour
        Its colour correction.
    calibration : Calibration
    outlines : sequence of Outline
        Of all its wounds: the others are no skin.
    which : int
        The wound, counted from 0.
    control_px : array_like of shape (2,), optional
        The middle of the control patch in the photo, as a person chose it; proposed where it isn't given.

    Raises
    ------
    ControlError
        If the chosen patch can't be used.
    OutlineError
        If an outline can't be laid flat.
    """
    if control_px is None:
        around = surroundings(pixels, colour, calibration, outlines, which)
        control = proposed_control(around)
    else:
        place_px = np.asarray(control_px, dtype=np.float64).reshape(2)
        place_mm = calibration.plane.to_mm(place_px[np.newaxis])[0]
        around = surroundings(pixels, colour, calibration, outlines, which, also_mm=place_mm)
        control = chosen_control(around, place_mm)
    if control is None:
        return NoRedness(NO_CONTROL)
    bands = tuple(_band(around, colour, control, *limits) for limits in BANDS_MM)
    ita_deg = typology_angle(control.lab)
    return Redness(
        control.place_px,
        control.radius_mm,
        control.chosen,
        control.away_mm,
        control.lab,
        ita_deg,
        _ita_sigma(control, colour),
        skin_class(ita_deg),
        bands,
        tuple(_sentences(control, bands, ita_deg)),
    )


def _band(around: Periwound, colour: Colour, control: Control, from_mm: float, to_mm: float) -> Band:
    whole = (around.away_mm > max(from_mm, EDGE_MM)) & (around.away_mm <= to_mm)
    skin = np.flatnonzero(whole & around.joined)
    seen = len(skin) / max(int(np.count_nonzero(whole)), 1)
    if seen < LEAST_SEEN:
        unknown = dict.fromkeys(("mottling", "colour correction", "light"), math.nan)
        return Band(from_mm, to_mm, math.nan, MappingProxyType(unknown), seen)
    colours = np.median(around.flat.lab.reshape(-1, 3)[skin], axis=0).astype(np.float64)
    components = {
        "mottling": _mottling(control, skin),
        "colour correction": _correction(colour, colours - control.lab),
        "light": _light(around, colour, control, skin, float(colours[1])),
    }
    return Band(from_mm, to_mm, float(colours[1] - control.lab[1]), MappingProxyType(components), seen)


def _mottling(control: Control, skin: Pixels) -> float:
    patches = len(skin) * STEP_MM**2 / (math.pi * control.radius_mm**2)
    return float(control.spread[1] * math.sqrt(1 + 1 / max(patches, 1.0)))


def _correction(colour: Colour, apart: NDArray[np.float64]) -> float:
    like = math.exp(-float(apart @ apart) / (2 * _LIKE_LAB**2))
    return float(colour.lab_sigma[1]) * math.sqrt(2 * (1 - like))


def _light(around: Periwound, colour: Colour, control: Control, skin: Pixels, a: float) -> float:
    some = skin[:: max(1, len(skin) // _PLACES)]
    places = around.flat.places_px.reshape(-1, 2)[some].astype(np.float64)
    at_band = float(np.sqrt(np.mean(np.square(colour.light_sigma(places)))))
    return math.hypot(a * at_band, float(control.lab[1]) * _light_sigma(control, colour)) / 3


def _light_sigma(control: Control, colour: Colour) -> float:
    return float(colour.light_sigma(np.array([control.place_px]))[0])


def _ita_sigma(control: Control, colour: Colour) -> float:
    """Return the standard uncertainty of the typology angle: of the colour, and of the light, which moves L* and b*.

    The angle is one of the control skin alone, so nothing cancels and the mottling of other skin does not matter.
    """
    lightness, _, yellow = control.lab
    light = _light_sigma(control, colour)
    return angle_sigma(
        control.lab,
        math.hypot(float(colour.lab_sigma[0]), (lightness + 16) / 3 * light),
        math.hypot(float(colour.lab_sigma[2]), yellow / 3 * light),
    )


# What a person reads


def _sentences(control: Control, bands: Sequence[Band], ita_deg: float) -> list[str]:
    sentences = []
    if control.away_mm < FAR_MM:
        sentences.append(
            f"The circle of skin lies only {control.away_mm:.0f} mm from a wound's edge, "
            f"{'' if control.chosen else 'the best skin that was found, '}"
            "and may be reddened itself: the true redness may be greater."
        )
    sentences += [
        f"Of the skin {band.from_mm:g} to {band.to_mm:g} mm from the edge only {100 * band.seen:.0f} % can be seen, "
        f"{100 * LEAST_SEEN:.0f} % are needed: no redness is told for it."
        for band in bands
        if math.isnan(band.delta_a)
    ]
    if not ita_deg > DARKER_BELOW_DEG:
        sentences.append(DARKER_SKIN)
    return [*sentences, CAUSES]


def redness_lines(redness: Redness | NoRedness) -> list[str]:
    """Return redness as lines to read in a terminal or on a page."""
    if isinstance(redness, NoRedness):
        return [redness.sentence]
    lines = [
        f"redness {band.from_mm:g} to {band.to_mm:g} mm from the edge: {shown(band)}"
        for band in redness.bands
        if not math.isnan(band.delta_a)
    ]
    expanded = COVERAGE_FACTOR * redness.ita_sigma
    tone = f"control skin: {redness.skin_class}, typology angle {redness.ita_deg:.0f} +- {expanded:.0f} degrees (k = 2)"
    return [*lines, tone, *redness.sentences]


def shown(band: Band) -> str:
    """Return the redness of a band as text, value and expanded uncertainty to the same decimal."""
    expanded = COVERAGE_FACTOR * band.standard_uncertainty
    return f"a* {band.delta_a:+.1f} +- {expanded:.1f} against the control skin (k = 2)"


def redness_document(redness: Redness | NoRedness) -> dict[str, Any]:
    """Return redness as a part of the JSON document, NaN as null; without a control patch only why."""
    if isinstance(redness, NoRedness):
        return {"control": None, "bands": [], "sentences": [redness.sentence]}
    return {
        "control": {
            "place_px": [rounded(value) for value in redness.control_px],
            "radius_mm": rounded(redness.control_radius_mm),
            "away_mm": rounded(redness.control_away_mm),
            "chosen": redness.chosen,
            "lab": [rounded(float(value)) for value in redness.control_lab],
            "ita_deg": rounded(redness.ita_deg),
            "ita_standard_uncertainty": rounded(redness.ita_sigma),
            "skin": redness.skin_class,
        },
        "bands": [_band_document(band) for band in redness.bands],
        "sentences": list(redness.sentences),
    }


def _band_document(band: Band) -> dict[str, Any]:
    return {
        "from_mm": band.from_mm,
        "to_mm": band.to_mm,
        "delta_a": rounded(band.delta_a),
        "standard_uncertainty": rounded(band.standard_uncertainty),
        "components": {name: rounded(share) for name, share in band.components.items()},
        "seen": rounded(band.seen),
    }
