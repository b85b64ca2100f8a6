"""What a drain gave in a day, from readings at uneven times.

Shifts empty drains when it suits them, and a provider asks for the output of 24 hours. So each reading is shared out
evenly over the time in which it gathered, (since, emptied_at], and a day gets its shares, with the hours that readings
cover. A day that is not covered all the way is said to be so, and is never scaled up.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import dropwhile
from typing import NamedTuple

from measure.findings.drains import MAX_ML
from measure.findings.findings import Findings
from measure.findings.form import FindingError, instant, number

MIDNIGHT = time(0)

WINDOW_H = 24.0
"""Over which a rate is taken."""

_HOUR = 3600.0  # s
_SLACK_H = 1 / 60  # a day lacks nothing if it lacks a minute: times are entered to the minute
_ONE_DAY = timedelta(days=1)


class Reading(NamedTuple):
    """One emptying: when, since when that had gathered, and how much in mL.

    ``since`` may be None: then it is the time of the reading before, and unknown for the first one.
    """

    emptied_at: datetime
    since: datetime | None
    ml: float


@dataclass(frozen=True)
class DayTotal:
    """What a drain gave in one day.

    Attributes
    ----------
    day : date
        The date on which it begins.
    begins, ends : datetime
        In UTC.
    ml : float
        Shares of the readings; NaN where no reading covers any of the day.
    hours_covered : float
        Of the day, by readings.
    unplaced_ml : float
        Emptied on this day, of which nobody knows since when it had gathered; not in ``ml``.
    """

    day: date
    begins: datetime
    ends: datetime
    ml: float
    hours_covered: float
    unplaced_ml: float = 0.0

    @property
    def hours(self) -> float:
        """Length of the day: 23 or 25 where clocks are changed."""
        return (self.ends - self.begins).total_seconds() / _HOUR

    @property
    def complete(self) -> bool:
        """Whether readings cover all of it."""
        return self.hours_covered >= self.hours - _SLACK_H

    def __str__(self) -> str:
        """Say it with the hours it stands for: 2026-03-05: 85 mL in 24 h."""
        if math.isnan(self.ml):
            told = "not known"
        elif self.complete:
            told = f"{self.ml:.0f} mL in {self.hours:.0f} h"
        else:
            told = f"{self.ml:.0f} mL in {self.hours_covered:.1f} of {self.hours:.0f} h, not the whole day"
        extra = f"; {self.unplaced_ml:.0f} mL more, gathered since an unknown time" if self.unplaced_ml else ""
        return f"{self.day.isoformat()}: {told}{extra}"


@dataclass(frozen=True)
class Rate:
    """Output a day, taken over some hours; both from readings alone.

    Attributes
    ----------
    ml_per_24h : float
        NaN where no reading covers any of the window.
    hours_covered : float
        Of the window, by readings.
    window_h : float
    """

    ml_per_24h: float
    hours_covered: float
    window_h: float = WINDOW_H

    def __str__(self) -> str:
        """Say it with the hours it rests on."""
        if math.isnan(self.ml_per_24h):
            return f"no reading in the last {self.window_h:.0f} h"
        return f"{self.ml_per_24h:.0f} mL per 24 h, from {self.hours_covered:.1f} of the last {self.window_h:.0f} h"


class _Span(NamedTuple):
    """A reading in seconds since 1970."""

    begin: float
    end: float
    ml: float

    def within(self, begin: float, end: float) -> float:
        """Return the seconds of it between two times."""
        return max(0.0, min(self.end, end) - max(self.begin, begin))

    def share(self, begin: float, end: float) -> float:
        """Return the mL of it between two times."""
        return self.ml * self.within(begin, end) / (self.end - self.begin)


def daily_totals(
    readings: Sequence[tuple[datetime, datetime | None, float]], tz: tzinfo, begins: time = MIDNIGHT
) -> tuple[DayTotal, ...]:
    """Share the readings of one drain out over days.

    Parameters
    ----------
    readings : sequence of (emptied_at, since, ml)
        In any order. What was emptied can't have gathered before the reading before, whatever ``since`` says.
    tz : tzinfo
        Of the site.
    begins : time
        When a day begins there.

    Returns
    -------
    tuple of DayTotal
        Every day from the first that a reading touches to the last, also those that none covers.

    Raises
    ------
    FindingError
        If a time has no offset from UTC, two readings are of one time, one gathered before nothing, or an amount is
        impossible.
    """
    chain = _chain(readings)
    spans, loose = _spans(chain), [reading for reading in chain if reading.since is None]
    if not chain:
        return ()
    first, last = min([_s(reading.emptied_at) for reading in loose] + [span.begin for span in spans]), chain[-1]
    totals = [_total(*day, spans, loose) for day in _days(first, _s(last.emptied_at), tz, begins)]
    return tuple(dropwhile(lambda total: not total.hours_covered and not total.unplaced_ml, totals))


def rate(readings: Sequence[tuple[datetime, datetime | None, float]], at: datetime, window_h: float = WINDOW_H) -> Rate:
    """Return what a drain gives in 24 h, from the readings that cover the last hours before a time.

    Raises
    ------
    FindingError
        As `daily_totals`.
    """
    spans, end = _spans(_chain(readings)), _s(instant(at, "The time of a rate"))
    begin = end - window_h * _HOUR
    hours = math.fsum(span.within(begin, end) for span in spans) / _HOUR
    ml = math.fsum(span.share(begin, end) for span in spans)
    return Rate(ml / hours * 24 if hours else math.nan, hours, window_h)


def readings_of(found: Iterable[Findings], label: str) -> tuple[Reading, ...]:
    """Return the readings of one drain from the findings of visits, oldest first; of one time the later one counts."""
    by_time: dict[datetime, Reading] = {}
    for findings in found:
        for drain in findings.drains or ():
            if drain.label == label and drain.output_ml is not None and drain.emptied_at is not None:
                by_time[drain.emptied_at] = Reading(drain.emptied_at, drain.since, drain.output_ml)
    return tuple(by_time[at] for at in sorted(by_time))


def _chain(readings: Sequence[tuple[datetime, datetime | None, float]]) -> list[Reading]:
    """Check readings, put them in order, and begin each where the one before ended, unless it began later."""
    known = sorted((_checked(Reading(*each)) for each in readings), key=lambda each: each.emptied_at)
    chain: list[Reading] = []
    for reading in known:
        since, before = reading.since, chain[-1].emptied_at if chain else None
        if before == reading.emptied_at:
            raise FindingError(
                f"Two readings of one drain are of {reading.emptied_at.isoformat()}: take away the one that is wrong."
            )
        if before is not None:
            since = before if since is None else max(since, before)
        chain.append(reading._replace(since=since))
    return chain


def _checked(reading: Reading) -> Reading:
    emptied_at = instant(reading.emptied_at, "The time a drain was emptied")
    since = None if reading.since is None else instant(reading.since, "The start of its output")
    if since is not None and since >= emptied_at:
        raise FindingError(
            f"A drain was emptied at {emptied_at.isoformat()}, and that had gathered since {since.isoformat()}: give a "
            "start before the end."
        )
    return Reading(emptied_at, since, number(reading.ml, "The output of a drain", 0, MAX_ML, "mL"))


def _spans(chain: Iterable[Reading]) -> list[_Span]:
    return [_Span(_s(each.since), _s(each.emptied_at), each.ml) for each in chain if each.since is not None]


def _s(at: datetime) -> float:
    return at.timestamp()


def _days(first: float, last: float, tz: tzinfo, begins: time) -> Iterator[tuple[date, datetime, datetime]]:
    """Yield the days from two before a time up to another time, each with its begin and end in UTC."""
    day = datetime.fromtimestamp(first, tz).date() - 2 * _ONE_DAY
    while _s(_begin(day, tz, begins)) < last:
        yield day, _begin(day, tz, begins), _begin(day + _ONE_DAY, tz, begins)
        day += _ONE_DAY


def _begin(day: date, tz: tzinfo, begins: time) -> datetime:
    """Return the begin of a day in UTC, where differences are hours that went by."""
    return datetime.combine(day, begins, tzinfo=tz).astimezone(UTC)


def _total(day: date, begins: datetime, ends: datetime, spans: Sequence[_Span], loose: Sequence[Reading]) -> DayTotal:
    """Sum up one day; what was emptied as it ends belongs to it."""
    begin, end = _s(begins), _s(ends)
    hours = math.fsum(span.within(begin, end) for span in spans) / _HOUR
    ml = math.fsum(span.share(begin, end) for span in spans) if hours else math.nan
    unplaced = math.fsum(reading.ml for reading in loose if begins < reading.emptied_at <= ends)
    return DayTotal(day, begins, ends, ml, hours, unplaced)
