"""How often an area measured later lies within the interval that was told: ``python -m tests.benchmarks.trend``.

Wounds shrink by the same share every week; each area is measured with the uncertainty of its budget, which grows as the
wound becomes smaller, and scatters beside that by so much as the row says. The area two weeks after the last visit is
compared with the 95 % interval. Of all series an interval can be reckoned; told it is only where the points carry it.
Those that happen to look tidy are told more often, so where areas scatter much and visits are few, told intervals are
too narrow; how many are told at all stands beside it. Prints Markdown.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import product

import numpy as np

from measure.trend.decay import AHEAD_DAYS, Decay, decay_of, fitted
from measure.trend.series import Point
from measure.uncertainty import Quantity
from tests.benchmarks.run import print_lines

VISITS = (4, 5, 6, 8, 12)
SCATTERS = (0.0, 0.03, 0.05, 0.10, 0.20)
"""Standard deviations of the logarithm of an area beside what measuring adds; what wounds do is not published."""

MEASURING = 0.05
"""Relative standard uncertainty of the first area."""

RATES = (0.08, 0.30)
"""Per week, from and to: to half the area in two to nine weeks."""

_START = datetime(2026, 1, 5, tzinfo=UTC)


@dataclass(frozen=True)
class Trial:
    """Whether the later area lies in the interval, and whether that interval is told."""

    within: bool
    told: bool


def trial(visits: int, scatter: float, random: np.random.Generator) -> Trial:
    """Draw one wound, fit it, and measure it once more."""
    rate = random.uniform(*RATES)
    days = 7.0 * np.arange(visits) + random.integers(-1, 2, visits) * (np.arange(visits) > 0)
    *points, later = _measured(np.append(days, days[-1] + AHEAD_DAYS), rate, scatter, random)
    low, high = fitted(points).interval_cm2(later.at)
    return Trial(low <= later.area.value <= high, isinstance(decay_of(points), Decay))


def _measured(days: np.ndarray, rate: float, scatter: float, random: np.random.Generator) -> list[Point]:
    """Return points on some days; an edge drawn as exactly as before is more of a smaller area."""
    true = 10.0 * np.exp(-rate * days / 7)
    share = MEASURING * np.sqrt(true[0] / true)
    seen = true * np.exp(np.hypot(share, scatter) * random.normal(size=len(days)))
    return [_point(*each) for each in zip(days, seen, share, strict=True)]


def _point(day: float, area: float, share: float) -> Point:
    none = Quantity(0.0, "cm", {})
    quantity = Quantity(float(area), "cm2", {"outline placement": float(share)})
    at = _START + timedelta(days=float(day))
    return Point(at, "", quantity, none, none, none, none, none, "", "", None, None, None)


def rows(count: int, seed: int = 1) -> Iterator[str]:
    """Yield the table, a row a scatter and number of visits."""
    yield f"{count} wounds a row, measured to {100 * MEASURING:.0f} %.\n"
    yield "| scatter | visits | within, all | told | within, of those told |"
    yield "|---|---|---|---|---|"
    every: list[Trial] = []
    for scatter, visits in product(SCATTERS, VISITS):
        random = np.random.default_rng((seed, visits, round(100 * scatter)))
        trials = [trial(visits, scatter, random) for _ in range(count)]
        every += trials
        yield f"| {100 * scatter:.0f} % | {visits} | {_cells(trials)} |"
    yield f"| all | all | {_cells(every)} |"


def _cells(trials: list[Trial]) -> str:
    told = [each.within for each in trials if each.told]
    shown = f"{100 * np.mean(told):.1f} %" if told else ""
    return f"{100 * np.mean([each.within for each in trials]):.1f} % | {100 * len(told) / len(trials):.0f} % | {shown}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=2000, help="wounds a row")
    print_lines(rows(parser.parse_args().count))


if __name__ == "__main__":
    main()
