"""The counts as a file for a spreadsheet: a row for each question, unit and month."""

import csv
import io
from collections.abc import Collection, Iterator, Sequence
from datetime import tzinfo

from measure.practice.groups import by_month, by_person, by_unit
from measure.practice.questions import Question
from measure.practice.share import Share
from measure.record.practice import PracticeVisit
from measure.spreadsheet import harmless

ALL = "all"

_NAMES = ("count", "of", "percent", "wilson_low_percent", "wilson_high_percent", "too_few_to_judge")


def practice_csv(visits: Sequence[PracticeVisit], asked: Collection[Question], zone: tzinfo) -> str:
    """Return the counts by unit and month, each also over all."""
    units = {ALL: list(visits), **by_unit(visits)}
    rows = (
        (question.key, question.label, unit, month, question.of(counted))
        for question in asked
        for unit, several in units.items()
        for month, counted in {ALL: several, **by_month(several, zone)}.items()
    )
    return _file(("question", "counted", "unit", "month"), rows)


def people_csv(visits: Sequence[PracticeVisit], asked: Collection[Question]) -> str:
    """Return the counts by person; for the quality role alone."""
    rows = (
        (question.key, question.label, person, question.of(several))
        for question in asked
        for person, several in by_person(visits).items()
    )
    return _file(("question", "counted", "person"), rows)


def _file(names: tuple[str, ...], rows: Iterator[tuple[str | Share, ...]]) -> str:
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow([*names, *_NAMES])
    for *texts, share in rows:
        writer.writerow([*(harmless(str(text)) for text in texts), *_numbers(share)])
    return file.getvalue()


def _numbers(share: object) -> Iterator[str]:
    if not isinstance(share, Share):
        raise TypeError(share)
    yield from (str(share.count), str(share.total))
    shown = (share.percent, *share.interval) if share.total else ()
    yield from (f"{value:.1f}" for value in shown)
    yield from ("",) * (3 - len(shown))
    yield "yes" if share.few else "no"
