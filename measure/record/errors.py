"""What can go wrong with the record."""

from calibration.errors import EbblineError


class RecordError(EbblineError):
    """The record can't be opened, or can't take what it was given; nothing of it was saved."""

    code = "unusable-record"


class UnknownWoundError(RecordError):
    """A wound, visit or photo that is not in the record."""

    code = "unknown-wound"


class ChangedError(RecordError):
    """What an act rests on was changed by somebody else in the meantime."""

    code = "changed-meanwhile"


class UnknownStudyError(RecordError):
    """A study that is not in the record."""

    code = "unknown-study"
