"""Everything that can go wrong, as one short tree; each message is a sentence for a person.

::

    EbblineError
    ├── StickerError            the printed sticker
    │   ├── StickerNotFoundError
    │   ├── StickerCutOffError
    │   └── StickerMirroredError
    ├── SheetError              a drawing that can't be made as asked
    ├── PlaneError              points that fix no plane
    ├── PhotoError              (measure.photo)   a file that can't be used as a photo
    └── OutlineError            (measure.outline) an outline that can't be measured

A message says what was found, what was expected and what to do, in that order.
"""


class EbblineError(Exception):
    """A problem that a person can act on; ``str(error)`` is the sentence to show."""


class StickerError(EbblineError):
    """The calibration sticker can't be used."""


class StickerNotFoundError(StickerError):
    """No sticker of a known layout was recognised in the photo."""


class StickerCutOffError(StickerError):
    """So little of a sticker is visible that the wound plane can't be found from it."""


class StickerMirroredError(StickerError):
    """The photo is a mirror image: the sticker reads the wrong way round."""


class PlaneError(EbblineError):
    """The matched points do not determine a wound plane."""


class SheetError(EbblineError):
    """A sticker can't be drawn as asked."""
