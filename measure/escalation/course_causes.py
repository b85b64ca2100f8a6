"""What the series of a wound shows that the provider should be told."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Protocol

from measure.days import said
from measure.escalation.texts import Cause
from measure.uncertainty import Quantity


class Changed(Protocol):
    """A change of the area, as of `measure.trend.change.Change`."""

    @property
    def difference(self) -> float:
        """Later less earlier."""

    @property
    def larger(self) -> bool | None:
        """Whether it is more than noise; None where that is not known."""

    @property
    def source(self) -> str:
        """Where the smallest detectable change comes from."""


class Measured(Protocol):
    """A point of a series, as of `measure.trend.series.Point`."""

    @property
    def at(self) -> datetime:
        """When the wound was seen."""

    @property
    def area(self) -> Quantity:
        """In cm2."""


class Stepped(Protocol):
    """From one point to the next, as of `measure.trend.trend.Step`."""

    @property
    def earlier(self) -> Measured:
        """The point before."""

    @property
    def later(self) -> Measured:
        """The point after."""

    @property
    def area(self) -> Changed:
        """How the area changed."""


class Behind(Protocol):
    """Whether a wound is behind the figure for its kind, as of `measure.trend.stalled.Stalled`."""

    @property
    def reason(self) -> str:
        """Why that is said."""

    def __bool__(self) -> bool:
        """Whether it is."""


class Course(Protocol):
    """What a series says, as of `measure.trend.trend.Trend`."""

    @property
    def steps(self) -> Sequence[Stepped]:
        """Between points that follow each other."""

    @property
    def stalled(self) -> Behind:
        """Whether the wound is behind."""


def course_causes(course: Course) -> Iterator[Cause]:
    """Yield what a series shows lately that the provider should be told."""
    if not course.steps:
        return
    last = course.steps[-1]
    if last.area.larger and last.area.difference > 0:
        facts = {"now": last.later.area.value, "before": last.earlier.area.value, "since": said(last.earlier.at)}
        yield Cause("wound-growing", (last.later.at,), facts | {"source": last.area.source})
    if course.stalled:
        reference = getattr(course.stalled, "reference", None)
        source = getattr(reference, "source", "common practice")
        reason = course.stalled.reason
        facts = {"reason": reason[:1].lower() + reason[1:], "source": source}
        yield Cause("stalled", (last.later.at,), facts)
