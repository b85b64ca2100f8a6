"""Everything that can go wrong, as one short tree; each message is a sentence for a person.

::

    EbblineError
    ├── StickerError             the printed sticker
    │   ├── StickerNotFoundError
    │   │   ├── StickerBlurredError      no edge in the photo is sharp enough
    │   │   ├── StickerInDarkError       the photo is nearly black
    │   │   └── StickerOverexposedError  the photo is nearly white
    │   ├── StickerCutOffError
    │   └── StickerMirroredError
    ├── RulerError               a plain ruler in its place
    │   ├── RulerNotFoundError
    │   └── RulerUnclearError
    ├── PlaneError               points that fix no plane
    ├── ScaleError               a scale given by hand that can't be used
    ├── SheetError               a drawing that can't be made as asked
    ├── PhotoError               (measure.photo)   a file that can't be used as a photo
    ├── OutlineError             (measure.outline) an outline that can't be measured
    ├── PictureError             (measure.overlay) a picture that can't be written
    ├── ReasonError              (measure.acceptance) a reason that can't be recorded
    ├── EditingError             (measure.editing) a note of who edited an outline that can't be recorded
    ├── NetworkError             (measure.by_network) a network that can't be used
    ├── ExamplesError            (measure.learn.picture) a folder of examples that can't be learnt from
    ├── TrainingError            (measure.learn.readiness) a training that can't begin or go on
    ├── SnapError                (measure.snap)    an edge that can't be followed as asked
    ├── TissueError              (measure.tissue)  what was said of tissue or skin that can't be used
    ├── ByEyeError               (measure.by_eye)  an estimate by eye that can't be recorded
    ├── FindingError             (measure.findings.form) a finding that can't be recorded
    │   └── UnfinishedError          (measure.pages.findings_controls) an answer that needs another one first
    ├── ControlError             (measure.control) a control patch that can't be used
    ├── AgreementError           (measure.agreement.errors) a table that can't be read, or a figure that it can't give
    ├── SiteChangeError          (measure.trend.change) a smallest detectable change that can't be used
    ├── CompareError             (measure.compare.laid_out) two visits that can't be laid over one another
    ├── PhotoLinkError           (measure.kept_photos) a link to a photo that opens nothing
    │   └── PhotoGoneError
    ├── RecordError              (measure.record)  a record that can't be opened, or can't take what it was given
    │   ├── UnknownWoundError
    │   ├── UnknownStudyError
    │   └── ChangedError             what an act rests on was changed by somebody else
    ├── PhotoFileError           (measure.record.photo_files) a photo of the record that can't be kept or found
    ├── ImportingError           (measure.record.importing) a folder whose photos can't be imported as asked
    ├── DemoError                (measure.demo)    a record that invented people must not be put into
    └── UnexpectedError          what nobody foresaw

A message says what was found, what was expected and what to do, in that order. ``code`` is a short stable name for
records and programs.
"""

from typing import ClassVar


class EbblineError(Exception):
    """A problem that a person can act on; ``str(error)`` is the sentence to show."""

    code: ClassVar[str] = "error"


class StickerError(EbblineError):
    """The calibration sticker can't be used."""


class StickerNotFoundError(StickerError):
    """No sticker of a known layout was recognised in the photo."""

    code = "no-sticker"


class StickerBlurredError(StickerNotFoundError):
    """No sticker was recognised, and the photo is so blurred or smeared that none could be."""

    code = "blurred-photo"


class StickerInDarkError(StickerNotFoundError):
    """No sticker was recognised, and the photo is nearly black."""

    code = "dark-photo"


class StickerOverexposedError(StickerNotFoundError):
    """No sticker was recognised, and the photo is nearly white."""

    code = "bright-photo"


class StickerCutOffError(StickerError):
    """So little of a sticker is visible that the wound plane can't be found from it."""

    code = "too-little-of-the-sticker"


class StickerMirroredError(StickerError):
    """The photo is a mirror image: the sticker reads the wrong way round."""

    code = "mirrored-photo"


class RulerError(EbblineError):
    """A plain ruler can't be used."""


class RulerNotFoundError(RulerError):
    """Nothing in the photo looks like the graduations of a ruler."""

    code = "no-ruler"


class RulerUnclearError(RulerError):
    """Graduations were found, but what they divide, or how far they are apart, can't be told for sure."""

    code = "unclear-ruler"


class PlaneError(EbblineError):
    """The matched points do not determine a wound plane."""

    code = "no-plane"


class ScaleError(EbblineError):
    """A scale given by hand can't be used."""

    code = "unusable-scale"


class SheetError(EbblineError):
    """A sticker can't be drawn as asked."""

    code = "unusable-drawing"


class UnexpectedError(EbblineError):
    """Something that nobody foresaw; the message asks for a report."""

    code = "unexpected"
