"""Opens the pictures of a folder of examples, upright, or says in a sentence why not."""

import warnings
from pathlib import Path

from PIL import Image, ImageOps

from calibration.errors import EbblineError


class ExamplesError(EbblineError):
    """A folder of examples can't be used; the text says why and what to do."""

    code = "unusable-examples"


def opened(path: Path, remedy: str) -> Image.Image:
    """Return a picture in its own mode, turned as the camera noted (EXIF orientation).

    Parameters
    ----------
    path : Path
    remedy : str
        What to do if it can't be read.

    Raises
    ------
    ExamplesError
        If it is missing, damaged, or so large that it may be a trap for the memory.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path) as picture:
                return ImageOps.exif_transpose(picture)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise ExamplesError(
            f"{path} has more than {(Image.MAX_IMAGE_PIXELS or 0) // 1_000_000} megapixels, the most that is read "
            "here; save photograph and mask smaller (12 megapixels are plenty)."
        ) from error
    except (OSError, ValueError, SyntaxError) as error:  # SyntaxError: Pillow, on damaged PNG and EXIF data
        raise ExamplesError(f"{path} is missing or can't be read as a picture; {remedy}.") from error
