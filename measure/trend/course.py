"""What is known of how a wound goes: the numbers of its series, each with its uncertainty."""

from collections.abc import Mapping
from dataclasses import dataclass

from measure.trend.change import Change
from measure.trend.decay import Decay
from measure.trend.estimate import Estimate
from measure.trend.gaps import Break, Gap
from measure.trend.linear_advance import Advance
from measure.trend.references import Reference
from measure.trend.series import Point, Series
from measure.trend.stalled import Stalled
from measure.trend.words import sentence


@dataclass(frozen=True, eq=False)
class Step:
    """From one point to the next.

    Attributes
    ----------
    earlier, later : Point
    area : Change
        In cm2.
    length_x_width : Change, optional
        In cm2; None where the convention differs or the wound is recorded as healed.
    tissue : mapping of str to Change
        In percentage points; empty where one of both tells nothing of tissue.
    """

    earlier: Point
    later: Point
    area: Change
    length_x_width: Change | None
    tissue: Mapping[str, Change]


@dataclass(frozen=True, eq=False)
class Trend:
    """What a series says.

    All of it but ``steps``, ``breaks`` and ``gaps`` is about the time since the wound was opened, or opened again, for
    the last time, and compares with the first measurement of that time.

    Attributes
    ----------
    series : Series
    percentage_area_reduction : Estimate, optional
        In percent, from the first to the newest point; None, as the next three, where there are not two.
    linear_advance : Advance, optional
    change : Change, optional
        Of the area, from the first to the newest point.
    exponential : Decay, optional
        A weekly rate, where the points carry one.
    no_exponential : str
        Why they don't, in a sentence; empty where they do.
    references : tuple of Reference
        For the kind of wound.
    steps : tuple of Step
        Between points that follow each other; none from a healed wound to the same one opened again.
    breaks : tuple of Break
    gaps : tuple of Gap
    stalled : Stalled
    """

    series: Series
    percentage_area_reduction: Estimate | None
    linear_advance: Advance | None
    change: Change | None
    exponential: Decay | None
    no_exponential: str
    references: tuple[Reference, ...]
    steps: tuple[Step, ...]
    breaks: tuple[Break, ...]
    gaps: tuple[Gap, ...]
    stalled: Stalled

    @property
    def sentence(self) -> str:
        """What the traced area did, in plain words."""
        return sentence(self.series, self.percentage_area_reduction, self.change)
