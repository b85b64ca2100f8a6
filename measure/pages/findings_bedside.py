"""What the questions about a visit's findings depend on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from measure.findings.findings import Findings
from measure.pages.findings_answers import Answers
from measure.record.entries import WoundEntry


@dataclass(frozen=True)
class Bedside:
    """A wound at a visit.

    Attributes
    ----------
    wound : WoundEntry
    answers : Answers
        Of this visit.
    earlier : Findings
        Of the last visit; empty where there was none.
    at : datetime
        When the wound is seen, with the time zone of whoever looks.
    before : sequence of Findings
        Of all earlier visits that may tell how much drains gave, oldest first.
    """

    wound: WoundEntry
    answers: Answers
    earlier: Findings
    at: datetime
    before: Sequence[Findings] = ()
