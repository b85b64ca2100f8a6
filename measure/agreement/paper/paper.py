"""What a report of an agreement study is made from."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

from measure.agreement.analysis import Analysis
from measure.agreement.chart import Chart


@dataclass(frozen=True, eq=False)
class Paper:
    """A report.

    Attributes
    ----------
    title : str
    analysis : Analysis
    charts : sequence of Chart
    day : date
        Of the report.
    design : sequence of (str, str)
        What else is to be known of how it was done: a name and what holds, as ``("Drawn by", "KL")``.
    noun : str
        What a subject is called.
    same_photos : bool
        Whether all raters traced the same photos, so that what taking them adds is in no figure.
    """

    title: str
    analysis: Analysis
    charts: Sequence[Chart]
    day: date
    design: Sequence[tuple[str, str]] = ()
    noun: str = "photo"
    same_photos: bool = True


def software() -> str:
    """Return name and version of what made the report."""
    return f"Ebbline {version('ebbline')}"
