"""How right the figures of an agreement study are: simulated studies whose variances are known.

Run it with ``python -m tests.benchmarks.agreement --count 500``. Each study draws what its subjects, its raters, their
interaction and its errors add, loses some values by chance where the row says so, and is analysed as any table. Prints
tables in Markdown: how far the components are off on the mean; how often an interval of 95 % holds the truth, and how
wide it is; the same for precision of one level; and the time that 5 000 rows take, beside that of 500.
"""

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from measure.agreement.components import components
from measure.agreement.correlation import correlations
from measure.agreement.errors import AgreementError
from measure.agreement.measurement_error import Kind, relative_change, relative_sdc, standard_error
from measure.agreement.observations import Observations
from measure.agreement.precision import precision
from measure.agreement.statistic import Statistic
from tests.benchmarks.run import print_lines

Table = NDArray[np.float64]


@dataclass(frozen=True)
class Spreads:
    """Standard deviations of subject, rater, interaction and error: of logarithms, so 0.2 is about 20 %."""

    subject: float
    rater: float
    interaction: float
    error: float

    def table(self, shape: tuple[int, int, int], missing: float, random: np.random.Generator) -> Table:
        """Draw a table (subjects, raters, trials) of logarithms; NaN is missing."""
        subjects, raters, _ = shape
        values = (
            self.subject * random.normal(size=(subjects, 1, 1))
            + self.rater * random.normal(size=(1, raters, 1))
            + self.interaction * random.normal(size=(subjects, raters, 1))
            + self.error * random.normal(size=shape)
        )
        return np.where(random.random(shape) < missing, np.nan, values)

    def squared_error(self, kind: Kind) -> float:
        """Return the true square of a standard error of measurement."""
        rater = self.rater**2 if kind is Kind.AGREEMENT else 0.0
        interaction = self.interaction**2 if kind is not Kind.SAME_RATER else 0.0
        return rater + interaction + self.error**2


@dataclass(frozen=True)
class Study:
    """What a row of the tables simulates."""

    shape: tuple[int, int, int]
    missing: float
    spreads: Spreads

    @property
    def name(self) -> str:
        """Its cells, ``12 x 3 x 2 | 25 % | 15 % ``: size, missing values, and how far raters are apart."""
        return f"{' x '.join(map(str, self.shape))} | {100 * self.missing:.0f} % | {100 * self.spreads.rater:.0f} %"


APART = Spreads(0.8, 0.10, 0.05, 0.08)
"""Wounds from 1 to 20 cm², raters as far apart as tracings may be: a setting, no published figure."""

ALIKE = Spreads(0.8, 0.0, 0.0, 0.08)
"""The same where raters are no source of error, and half of the estimates of their variance are negative."""

STUDIES = (
    Study((12, 3, 2), 0.0, APART),
    Study((12, 3, 2), 0.25, APART),
    Study((20, 2, 2), 0.0, APART),
    Study((30, 5, 2), 0.0, APART),
    Study((30, 5, 2), 0.4, APART),
    Study((40, 4, 1), 0.2, APART),
    Study((12, 3, 2), 0.0, ALIKE),
    Study((12, 3, 2), 0.25, ALIKE),
)

LEVELS = ((3, 2, 0.0), (8, 3, 0.0), (8, 3, 0.25))
"""Raters, trials, and share missing, of a single subject."""

LARGE, SMALL = (250, 10, 2), (25, 10, 2)
"""5 000 rows and 500."""
TIMES = 7


@dataclass(frozen=True)
class Trial:
    """One study: what was found, None where a sentence said why not; keys are kinds and names of correlations."""

    parts: tuple[float, float | None, float | None, float] | None
    found: dict[str, Statistic | None]


def trial(study: Study, random: np.random.Generator) -> Trial:
    """Draw a study and analyse it."""
    observations = observed(study.spreads.table(study.shape, study.missing, random))
    try:
        parts = components(observations)
    except AgreementError:
        return Trial(None, {})
    found: dict[str, Statistic | None] = {kind: told(lambda kind=kind: standard_error(parts, kind)) for kind in Kind}
    found["relative"] = told(lambda: relative_change(parts))
    if not study.missing:
        of_one = correlations(observations.first_trials().crossed())
        found |= {"ICC(A,1)": of_one.icc_a_1, "ICC(C,1)": of_one.icc_c_1}
        found |= {"ICC(1,1)": of_one.icc_1_1} if study.spreads.rater == 0 else {}
    return Trial((parts.subject, parts.rater, parts.interaction, parts.error), found)


def told(find: Callable[[], Statistic]) -> Statistic | None:
    """Return a figure, or None where there is none."""
    try:
        return find()
    except AgreementError:
        return None


def truths(spreads: Spreads) -> dict[str, float]:
    """Return the true figures, by the keys of `Trial`."""
    agreement, consistency = (spreads.squared_error(kind) for kind in (Kind.AGREEMENT, Kind.CONSISTENCY))
    between = spreads.subject**2
    return {
        **{kind: np.sqrt(spreads.squared_error(kind)) for kind in Kind},
        "relative": relative_sdc(np.sqrt(agreement)),
        "ICC(A,1)": between / (between + agreement),
        "ICC(C,1)": between / (between + consistency),
        "ICC(1,1)": between / (between + agreement),
    }


def observed(table: Table) -> Observations:
    """Return the observations of a table (subjects, raters, trials)."""
    kept = ~np.isnan(table)
    subject, rater, trial = (np.char.mod("%03d", numbers[kept]) for numbers in np.indices(table.shape))
    return Observations(subject, rater, trial, np.full(subject.shape, ""), table[kept], "", int((~kept).sum()))


def rows(count: int, seed: int = 1) -> Iterator[str]:
    """Yield all tables."""
    studies = {}
    for number, study in enumerate(STUDIES):
        random = np.random.default_rng((seed, number))
        studies[study] = [trial(study, random) for _ in range(count)]
    head = "| photos x raters x trials | missing | raters apart |"
    yield f"{count} studies a row. Bias of the variances that are reported, in % of the true one (subject) or of the"
    yield "true square of the agreement error (the others); setting negative ones to 0 is part of it. Last, bias of the"
    yield "standard error of measurement (agreement), in % of the true one:\n"
    yield f"{head} subject | rater | interaction | error | SEM |"
    yield "|---|---|---|---:|---:|---:|---:|---:|"
    for study, trials in studies.items():
        yield f"| {study.name} | {' | '.join(_biases(study, trials))} |"
    names = tuple(truths(APART))
    yield "\nIntervals of 95 %: how many hold the truth, and on the median from where to where they go, of the value:\n"
    yield f"{head} {' | '.join(names)} |"
    yield f"|---|---|---|{'---|' * len(names)}"
    for study, trials in studies.items():
        true = truths(study.spreads)
        cells = (_coverage([each.found.get(name) for each in trials], true[name]) for name in names)
        yield f"| {study.name} | {' | '.join(cells)} |"
    yield "\nOne photo alone, repeatability s_r and reproducibility s_R:\n"
    yield from _precision_rows(count, seed)
    yield ""
    yield from _time_rows()


def _biases(study: Study, trials: Sequence[Trial]) -> Iterator[str]:
    spreads = study.spreads
    true = (spreads.subject**2, spreads.rater**2, spreads.interaction**2, spreads.error**2)
    found = [each.parts for each in trials if each.parts]
    for number, square in enumerate(true):
        values = [each[number] for each in found if each[number] is not None]
        by = square if number == 0 else spreads.squared_error(Kind.AGREEMENT)
        # without repeats the interaction is in the error
        expected = true[2] + true[3] if number == 3 and study.shape[2] == 1 else square
        yield f"{100 * (np.mean(values) - expected) / by:+.1f}" if values else ""
    errors = [error.value for each in trials if (error := each.found.get(Kind.AGREEMENT)) is not None]
    yield f"{100 * (np.mean(errors) / truths(spreads)[Kind.AGREEMENT] - 1):+.1f}" if errors else ""


def _coverage(found: Sequence[Statistic | None], true: float) -> str:
    """Return how many intervals hold the truth, how wide they are, and how many studies gave none."""
    known = [each for each in found if each is not None and each.has_interval]
    if not known:
        return ""
    within = np.mean([each.low <= true <= each.high for each in known])
    low, high = (median(getattr(each, end) / each.value for each in known) for end in ("low", "high"))
    none = f", none in {len(found) - len(known)}" if len(known) < len(found) else ""
    return f"{100 * within:.1f} % ({low:.2f} to {high:.2f}{none})"


def _precision_rows(count: int, seed: int) -> Iterator[str]:
    yield "| raters x trials | missing | s_r | s_R |"
    yield "|---|---|---|---|"
    for raters, trials, missing in LEVELS:
        random = np.random.default_rng((seed, raters, trials))
        tables = (APART.table((1, raters, trials), missing, random) for _ in range(count))
        found = [told(lambda table=table: precision(observed(table))) for table in tables]
        same, apart = APART.error, np.sqrt(APART.squared_error(Kind.AGREEMENT))
        cells = (
            _coverage([each and getattr(each, name) for each in found], true)
            for name, true in (("repeatability", same), ("reproducibility", apart))
        )
        yield f"| {raters} x {trials} | {100 * missing:.0f} % | {' | '.join(cells)} |"


def _time_rows() -> Iterator[str]:
    yield "| rows | variance components | over 500 rows |"
    yield "|---|---:|---:|"
    small, large = (seconds_of(observed(APART.table(shape, 0.0, np.random.default_rng(1)))) for shape in (SMALL, LARGE))
    yield f"| 500 | {1000 * small:.1f} ms | 1.0 |"
    yield f"| 5000 | {1000 * large:.1f} ms | {large / small:.1f} |"


def seconds_of(observations: Observations) -> float:
    """Return the median time of finding the variance components."""
    times = []
    for _ in range(TIMES):
        start = perf_counter()
        components(observations)
        times.append(perf_counter() - start)
    return median(times)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=500, help="studies a row")
    print_lines(rows(parser.parse_args().count))


if __name__ == "__main__":
    main()
