"""Why no sticker could be read in a photo: it is blurred or smeared, nearly black, or nearly white.

How wide edges are is told without a sticker, from how much the picture loses when it is blurred once more: an edge
with a blur of s px that is blurred by s0 px has its gradient divided by R = sqrt(1 + (s0 / s)**2), so
s = s0 / sqrt(R**2 - 1) (Zhuo and Sim 2011, Pattern Recognition 44, 1852-1858). Each direction counts for itself, for a
smear leaves the edges along it sharp; and only the sharpest edges of a direction count, for shadows and limbs are soft
in every photo.
"""

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.errors import StickerBlurredError, StickerInDarkError, StickerNotFoundError, StickerOverexposedError

Gray = NDArray[np.uint8]

DARK_LEVEL = 50
"""A photo is nearly black if 99 of 100 pixels are darker: 3 % of full linear light, five stops below a good photo."""

BRIGHT_LEVEL = 250
"""A photo is nearly white if 90 of 100 pixels are lighter; what is left of a sticker is its ink."""

MAX_BLUR_PX = 1.7
"""Of the sharpest edges of the blurriest direction, as standard deviation in px of a picture of 2016 px. Sharp
photographs with stickers stay below 1.0, renderings of a wound without a sticker below 1.65, and so do 771 of 774 real
photographs of feet. At 12 megapixels a blur of 4 px, with which stickers are still found, gives 1.8 and more, one of
6 px 2.2, and a smear of 20 px, with which none is found, 1.8. Skin alone, rendered without hair and pores, reads as
blurred."""

_SIDE = 2016  # px: fine enough for the blur in question, coarse enough to average noise away
_AGAIN_PX = 2.5  # s0: about the blur in question, where the ratio tells most
_LEAST_STEP = 1.0  # levels a px: a weaker gradient may be noise, or the shading of a limb
_DIRECTIONS = 12  # 15 degrees each: wider ones hold edges along a smear beside edges across it
_LEAST_EDGES = 1000  # px: fewer edges of a direction say nothing of it
_STRONGEST = 5  # only the strongest fifth of the edges count
_SHARPEST = 95.0  # percentile


def why_unreadable(gray: Gray) -> Literal["blurred", "dark", "bright"] | None:
    """Tell why a photo in which no sticker was found can't be read; None where it is legible.

    Parameters
    ----------
    gray : ndarray of shape (H, W)
        8-bit, upright.
    """
    small = _reduced(gray)
    darkest_tenth, lightest = np.percentile(small[::4, ::4], (10, 99))
    if lightest < DARK_LEVEL:
        return "dark"
    if darkest_tenth > BRIGHT_LEVEL:
        return "bright"
    return "blurred" if least_blur_px(small) > MAX_BLUR_PX else None


def unreadable_error(gray: Gray) -> StickerNotFoundError | None:
    """Return the error that says why a photo (H, W) without a sticker can't be read; None where it is legible."""
    match why_unreadable(gray):
        case "blurred":
            return StickerBlurredError(
                "The photo is too blurred or smeared for a sticker to be read. "
                "Tap on the sticker to focus, hold the camera still with both hands, and take it again."
            )
        case "dark":
            return StickerInDarkError(
                "The photo is nearly black, so no sticker can be seen. "
                "Turn on a light, see that nothing covers the lens, and take it again."
            )
        case "bright":
            return StickerOverexposedError(
                "The photo is nearly white, so no sticker can be seen. "
                "Dim the light or turn off the flash, tap on the sticker, and take it again."
            )
    return None


def _reduced(gray: Gray) -> Gray:
    scale = _SIDE / max(gray.shape)
    if scale >= 1.0:
        return gray
    size = (max(round(gray.shape[1] * scale), 1), max(round(gray.shape[0] * scale), 1))
    return np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def least_blur_px(gray: Gray) -> float:
    """Return how blurred the sharpest edges are in the blurriest direction: a standard deviation in px.

    0 where the picture (H, W) has too few edges to tell.
    """
    sharp_x, sharp_y = _gradient(gray)
    soft_x, soft_y = _gradient(np.asarray(cv2.GaussianBlur(gray, (0, 0), _AGAIN_PX), dtype=np.uint8))
    soft = np.hypot(soft_x, soft_y)
    edges = soft > _LEAST_STEP
    soft, ratio = soft[edges], np.hypot(sharp_x[edges], sharp_y[edges]) / soft[edges]
    towards = np.arctan2(soft_y[edges], soft_x[edges]) % np.pi
    direction = (towards * (_DIRECTIONS / np.pi)).astype(np.uint8) % _DIRECTIONS
    return max(_blur_px(soft[direction == one], ratio[direction == one]) for one in range(_DIRECTIONS))


def _gradient(gray: Gray) -> NDArray[np.float32]:
    """Return levels a px along x and y at every other pixel of every other row, shape (2, H / 2, W / 2)."""
    along = [cv2.Sobel(gray, cv2.CV_16S, *order)[::2, ::2] for order in ((1, 0), (0, 1))]
    return np.asarray(along, dtype=np.float32) / np.float32(8)  # what the Sobel kernel weighs


def _blur_px(strength: NDArray[np.float32], ratio: NDArray[np.float32]) -> float:
    """Return the blur of the sharpest among the strongest edges of one direction; both arrays of shape (N,)."""
    if len(strength) < _LEAST_EDGES:
        return 0.0
    weakest = np.percentile(strength, 100 - 100 / _STRONGEST)
    loss = float(np.percentile(ratio[strength >= weakest], _SHARPEST))
    return _AGAIN_PX / float(np.sqrt(loss**2 - 1)) if loss > 1.0 else float("inf")
