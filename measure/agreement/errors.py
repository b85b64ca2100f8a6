"""What keeps a table from being analysed."""

from calibration.errors import EbblineError


class AgreementError(EbblineError):
    """A figure that a table can't give, or a table that can't be read; the sentence says what it would need."""

    code = "no-agreement"
