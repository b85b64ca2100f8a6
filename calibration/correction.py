"""The colour of what a photo shows, freed from lamp, exposure, uneven light and camera by the sticker's patches.

Only the sticker that set the plane is read. The order of the fit follows the number of patches that can be used: white
paper and greys give the lamp's colour and the fall of its light, four levels of grey give the camera's tone, and four
colours a matrix for its primaries, which is taken only where it comes nearer to patches that were left out of its fit.
Each patch is left out in turn, with all others of its name, and predicted: how far off that is says how true the
colours of the wound can be.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.colour import difference, lab, linear_light
from calibration.detect import Sticker
from calibration.evenness import Evenness
from calibration.neutral import Neutral, NeutralFit, fit_neutral
from calibration.patches import Reading, read_paper, read_patches
from calibration.plane import Plane
from calibration.primaries import COLOURS_FOR_MATRIX, fit_primaries, matrix_of
from calibration.prints import PAPER_REFLECTANCE, PAPER_SIGMA_LAB, is_grey, printed
from calibration.sticker import Points

Values = NDArray[np.float64]

FLAGGED_ABOVE = 4.0
"""Median CIEDE2000 of left-out patches from which colours are named uncertain: a good print reaches 3, and tissues lie
10 apart."""

REFUSED_ABOVE = 8.0
"""The same from which nothing is said about colour: neighbouring tissues, 10 to 15 apart, then mix."""

PRIMARIES_SIGMA_LAB = np.array((1.5, 3.0, 4.0))
"""Standard deviation in L*, a*, b* of a colour as strong as skin from a camera whose primaries no colour patch shows:
half of what Display P3 read as sRGB does to the chart (computed)."""

_GREY_PRINT = 0.35  # of the colour that was drawn: less is a black-and-white print, not a pale camera
_MATRIX_GAIN = 0.95  # of the mean difference without it: a matrix has to earn its place
_WORST = 25.0  # CIEDE2000: a patch that is farther off says no more about the model than that
_COVERED = "does not fit the others: covered, shaded, glaring or misprinted"
_DARKEST = 1e-4  # linear light that stands for black


@dataclass(frozen=True, eq=False)
class Correction:
    """How colours of the photo become reflectance.

    Attributes
    ----------
    source : {"patches", "paper", "none"}
        What it rests on.
    model : str
        What was fitted, in words.
    readings : tuple of Reading
        Each patch of the sticker, used or why not, with its colour difference when left out of the fit.
    residual : float
        Median CIEDE2000 of the patches, each left out of the fit in turn, each colour counting once; NaN where that
        can't be told.
    lab_sigma : ndarray of shape (3,)
        Standard deviation of a corrected colour in L*, a* and b*, apart from the light's.
    neutral : Neutral, optional
        None where nothing could be read.
    matrix : ndarray of shape (3, 3)
        From relative light of neutral neutrals to sRGB primaries.
    """

    source: Literal["patches", "paper", "none"]
    model: str
    readings: tuple[Reading, ...]
    residual: float
    lab_sigma: Values
    neutral: Neutral | None
    matrix: Values

    @property
    def trusted(self) -> bool:
        """Whether the colours may be used; where no patch could be left out, `lab_sigma` alone says how far."""
        return self.source != "none" and not self.residual > REFUSED_ABOVE

    def reflectance(self, picture: NDArray[np.uint8], origin: Points, step: Points) -> NDArray[np.float32]:
        """Return the linear reflectance (h, w, 3) of a part of the photo at another size.

        Parameters
        ----------
        picture : ndarray of uint8, shape (h, w, 3)
            RGB; pixel (column i, row j) lies at ``(i + 0.5, j + 0.5) * step - 0.5 + origin`` of the photo.
        origin, step : ndarray of shape (2,)
            As of `measure.view.View`.

        Returns
        -------
        ndarray of float32, shape (h, w, 3)
            Red, green, blue in primaries of sRGB, 1 for a perfect white diffuser, not cut; without a source linear
            light as it is.
        """
        if self.neutral is None:
            return np.asarray(linear_light()[picture])
        flat = cv2.LUT(picture, _table(self.neutral))
        height, width = picture.shape[:2]
        x = (np.arange(width) + 0.5) * step[0] - 0.5 + origin[0]
        y = (np.arange(height) + 0.5) * step[1] - 0.5 + origin[1]
        light = cv2.exp(-self.neutral.evenness.log_light(self.neutral.terms, x, y))
        mixed = cv2.transform(flat, self.matrix)
        return np.asarray(cv2.multiply(mixed, cv2.merge([light] * 3)), dtype=np.float32)

    def light_sigma(self, places_px: Points) -> Values:
        """Return the relative standard uncertainty of the light at places (N, 2) of the photo; inf without a source."""
        if self.neutral is None:
            return np.full(len(places_px), np.inf)
        return self.neutral.light_sigma(places_px)


def _table(neutral: Neutral) -> NDArray[np.float32]:
    """Return reflectance under even light of each 8-bit value and channel, shape (256, 1, 3); it goes to 0 straight."""
    light = linear_light().astype(np.float64)
    tone = np.exp(neutral.tone(np.log(np.maximum(light, _DARKEST)))) * np.minimum(light / _DARKEST, 1)
    table = PAPER_REFLECTANCE * tone[:, np.newaxis] * np.exp(-neutral.level)
    return np.asarray(table[:, np.newaxis], dtype=np.float32)


def fit_colour(pixels: NDArray[np.uint8], stickers: Sequence[Sticker], plane: Plane) -> Correction:
    """Fit the colour correction of a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (H, W, 3)
        RGB.
    stickers : sequence of Sticker
        As found; the first one set the plane, and is the one that is read.
    plane : Plane
    """
    if not stickers:
        return _nothing(())
    patches, paper = read_patches(pixels, stickers[0], plane), read_paper(pixels, stickers[0], plane)
    greys = [reading for reading in patches if is_grey(reading.name)]
    usable = [reading for reading in (*greys, *paper) if reading.readable.any()]
    if not usable:
        return _nothing(tuple(patches))
    places = _places(usable)
    evenness = Evenness.over(places, plane.mm_per_px(places[len(places) // 2]))
    fit = fit_neutral(usable, evenness)
    return _nothing(tuple(patches)) if fit is None else _completed(patches, usable, fit)


def _nothing(readings: tuple[Reading, ...]) -> Correction:
    return Correction("none", "nothing", readings, float("nan"), np.full(3, np.inf), None, np.eye(3))


def _places(readings: Sequence[Reading]) -> Points:
    return np.array([reading.place for reading in readings]).reshape(-1, 2)


def _completed(patches: list[Reading], usable: list[Reading], fit: NeutralFit) -> Correction:
    """Add what the colour patches tell to the fit of the neutrals, and leave each patch out in turn."""
    misfits = {reading.place for reading, fits in zip(usable, fit.neutral.fits, strict=True) if not fits}
    patches = [replace(each, unused=each.unused or _COVERED) if each.place in misfits else each for each in patches]
    patches, colours = _colours(patches, fit.neutral)
    greys = [i for i, each in enumerate(patches) if is_grey(each.name) and _whole(each)]
    left_out = [*_left_out_greys(patches, greys, fit), *_left_out_colours(patches, colours, fit.neutral)]
    with_matrix = _earns_its_place(left_out, colours)
    matrix = _matrix(patches, colours, fit.neutral) if with_matrix else np.eye(3)
    patches, off = _compared(patches, left_out, with_matrix=with_matrix)
    names = sorted({patches[i].name for i in off})
    each_colour = [np.mean([off[i] for i in off if patches[i].name == name], axis=0) for name in names]
    residuals = [np.median([patches[i].residual for i in off if patches[i].name == name]) for name in names]
    spread = np.sqrt(np.mean(np.square(each_colour), axis=0)) if each_colour else np.zeros(3)
    unseen = np.zeros(3) if colours else PRIMARIES_SIGMA_LAB
    return Correction(
        "patches" if any(is_grey(each.name) and not each.unused for each in patches) else "paper",
        _model(fit.neutral, with_matrix=with_matrix),
        tuple(patches),
        float(np.median(residuals)) if residuals else float("nan"),
        np.sqrt(spread**2 + unseen**2 + PAPER_SIGMA_LAB**2),
        fit.neutral,
        matrix,
    )


def _whole(reading: Reading) -> bool:
    return not reading.unused and bool(reading.readable.all())


def _colours(patches: list[Reading], neutral: Neutral) -> tuple[list[Reading], list[int]]:
    """Return the patches with what is wrong with some colours, and which colours can be used."""
    patches = [_with_channel(each) if not is_grey(each.name) else each for each in patches]
    chosen = [i for i, each in enumerate(patches) if not is_grey(each.name) and _whole(each)]
    if not chosen:
        return patches, []
    seen, shown = _seen(neutral, patches, chosen), _shown(neutral, patches, chosen)
    if _is_grey_print(seen, shown):
        return _excluded(patches, chosen, "printed without colour"), []
    weights = fit_primaries(seen, shown).weights
    misfits = [i for i, weight in zip(chosen, weights, strict=True) if weight == 0]
    return _excluded(patches, misfits, _COVERED), [i for i in chosen if i not in misfits]


def _with_channel(reading: Reading) -> Reading:
    """Say of a colour patch which channels can't be read; a colour needs all three."""
    if reading.unused or reading.readable.all():
        return reading
    bright = reading.light > linear_light()[128]
    words = [
        f"too {'bright' if bright[c] else 'dark'} in {name}"
        for c, name in enumerate(("red", "green", "blue"))
        if not reading.readable[c]
    ]
    return replace(reading, unused=", ".join(words))


def _excluded(patches: list[Reading], which: Sequence[int], reason: str) -> list[Reading]:
    return [replace(each, unused=reason) if i in which else each for i, each in enumerate(patches)]


def _seen(neutral: Neutral, patches: list[Reading], chosen: Sequence[int]) -> Values:
    """Return what some patches reflect of the paper's light, (N, 3), before the matrix."""
    light = np.array([patches[i].light for i in chosen]).reshape(-1, 3)
    return neutral.relative(light, _places([patches[i] for i in chosen]))


def _shown(neutral: Neutral, patches: list[Reading], chosen: Sequence[int]) -> Values:
    """Return what was printed there, (N, 3)."""
    return np.array([printed(patches[i].name, neutral.floor) for i in chosen]).reshape(-1, 3)


def _is_grey_print(seen: Values, shown: Values) -> bool:
    """Tell whether the colours are greys: half of them have little of the chroma that was drawn."""
    found, meant = lab(PAPER_REFLECTANCE * seen)[:, 1:], lab(PAPER_REFLECTANCE * shown)[:, 1:]
    share = (found * meant).sum(axis=1) / np.square(meant).sum(axis=1)
    return float(np.median(share)) < _GREY_PRINT


@dataclass(frozen=True, eq=False)
class _LeftOut:
    """A patch predicted without the patches of its name: as printed, without and with the matrix; each (3,)."""

    patch: int
    printed: Values
    plain: Values
    mixed: Values


def _left_out_greys(patches: list[Reading], greys: list[int], fit: NeutralFit) -> list[_LeftOut]:
    """Predict greys; there is nothing to predict one from where it is all that was read."""
    found = []
    for name in sorted({patches[i].name for i in greys}):
        without = fit.without(name)
        chosen = [i for i in greys if patches[i].name == name]
        if without is None:
            continue
        seen, shown = _seen(without, patches, chosen), _shown(without, patches, chosen)
        found += [_LeftOut(i, shown[k], seen[k], seen[k]) for k, i in enumerate(chosen)]
    return found


def _left_out_colours(patches: list[Reading], colours: list[int], neutral: Neutral) -> list[_LeftOut]:
    if not colours:
        return []
    seen, shown = _seen(neutral, patches, colours), _shown(neutral, patches, colours)
    weights = fit_primaries(seen, shown).weights
    found = []
    for k, i in enumerate(colours):
        others = np.arange(len(colours)) != k
        matrix = matrix_of(seen[others], shown[others], weights[others])
        found.append(_LeftOut(i, shown[k], seen[k], matrix @ seen[k]))
    return found


def _matrix(patches: list[Reading], colours: list[int], neutral: Neutral) -> Values:
    return fit_primaries(_seen(neutral, patches, colours), _shown(neutral, patches, colours)).matrix


def _earns_its_place(left_out: list[_LeftOut], colours: list[int]) -> bool:
    """Tell whether a matrix from the other colours brings each colour nearer to what was printed, on the whole."""
    if len(colours) < COLOURS_FOR_MATRIX:
        return False
    tried = [each for each in left_out if each.patch in colours]
    meant = _lab([each.printed for each in tried])
    plain, mixed = (
        np.minimum(difference(_lab(seen), meant), _WORST).mean()
        for seen in ([each.plain for each in tried], [each.mixed for each in tried])
    )
    return bool(mixed < _MATRIX_GAIN * plain)


def _lab(relative: Sequence[Values]) -> NDArray[np.float32]:
    return lab(PAPER_REFLECTANCE * np.array(relative).reshape(-1, 3))


def _compared(
    patches: list[Reading], left_out: list[_LeftOut], *, with_matrix: bool
) -> tuple[list[Reading], dict[int, Values]]:
    """Return the patches with their residuals, and by patch how far off in L*, a*, b* its prediction is."""
    predicted = _lab([each.mixed if with_matrix else each.plain for each in left_out])
    meant = _lab([each.printed for each in left_out])
    residual = difference(predicted, meant)
    by_patch = {each.patch: float(residual[k]) for k, each in enumerate(left_out)}
    told = [replace(each, residual=by_patch.get(i, float("nan"))) for i, each in enumerate(patches)]
    return told, {each.patch: np.asarray(predicted[k] - meant[k], np.float64) for k, each in enumerate(left_out)}


def _model(neutral: Neutral, *, with_matrix: bool) -> str:
    """Say in words what was fitted."""
    parts = ["gains", *(["tone"] if neutral.has_tone else []), *(["matrix"] if with_matrix else [])]
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
