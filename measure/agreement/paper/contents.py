"""What stands in a report: what it means, what was done, what it looks like, all figures, and what it doesn't tell."""

from collections.abc import Iterator, Sequence

from measure.agreement.figure_words import unit_words
from measure.agreement.letters import letters
from measure.agreement.observations import Observations
from measure.agreement.paper.blocks import Block, Facts, Figures, Heading, Notes, Picture, Points, Text
from measure.agreement.paper.paper import Paper, software

COLUMNS = ("Figure", "Value", "95 % interval", "Method and source")
"""Of the tables of figures."""

_SAME_PHOTOS = (
    "All raters traced the same photos. What taking the photo adds - distance, angle, light, where the sticker lies, "
    "how the person lies - is in none of these figures, so two visits differ by more than they say."
)
_SAME_ROWS = (
    "The figures hold what differed from row to row of the table. What was the same in all rows that are compared, as "
    "one photo that all raters traced, adds nothing to them."
)
_SAMPLE = (
    "The figures hold for wounds, raters and working conditions like those of this study; others may agree better or "
    "worse."
)
_TRUTH = "Raters who agree can still all be wrong: agreement tells nothing about the true size of a wound."
_INTERVALS = (
    "A 95 % interval holds the figure that endless such studies would find in 95 of 100 studies; a wide one asks for "
    "more {noun}s or raters."
)
_FOR = (
    "This report supports documentation. It does not diagnose, and it does not say how a person is to be treated; your "
    "facility's policy decides what follows from it."
)
_PEOPLE = "Raters are named by letters, and figures about single raters are left out."


def contents(paper: Paper, *, people: bool) -> Iterator[Block]:
    """Yield what stands in a report, in order; without what tells about single raters unless ``people``."""
    yield Heading(1, paper.title)
    yield Text(f"Agreement study, {_day(paper)}, {software()}")
    yield Heading(2, "What it means")
    yield Text(paper.analysis.headline, leads=True)
    yield Heading(2, "What was done")
    yield Facts("Design of the study", tuple(_design(paper, people=people)))
    if not people:
        yield Text(_PEOPLE)
    shown = [chart for chart in paper.charts if people or not chart.about_people]
    if shown:
        yield Heading(2, "What it looks like")
        yield from map(Picture, shown)
    yield Heading(2, "All figures")
    notes: dict[tuple[str, str], int] = {}
    yield from _sections(paper, notes, people=people)
    yield Heading(2, "What it does not tell")
    yield Points(tuple(_limits(paper)))
    if notes:
        yield Heading(2, "Methods and sources")
        yield Notes(tuple(notes))


def _design(paper: Paper, *, people: bool) -> Iterator[tuple[str, str]]:
    observations = paper.analysis.observations
    yield f"{paper.noun.capitalize()}s", str(len(observations.subjects))
    yield "Raters", _raters(observations, people=people)
    yield "Trials", _listed(observations.trials)
    if any(observations.methods):
        yield "Methods", _listed(observations.methods)
    yield "Values", _values(observations)
    yield "Rows without a value", _missing(observations)
    yield from paper.design
    yield "Analysed with", software()
    yield "Date of the report", _day(paper)


def _raters(observations: Observations, *, people: bool) -> str:
    return (
        _listed(observations.raters) if people else _listed(sorted(letters(observations.raters).values(), key=_place))
    )


def _place(letter: str) -> tuple[int, str]:
    return len(letter), letter


def _listed(names: Sequence[str]) -> str:
    return f"{len(names)} ({', '.join(names)})" if len(names) > 1 else f"1 ({names[0]})"


def _values(observations: Observations) -> str:
    count = len(observations.value)
    if not observations.numeric:
        return f"{count} categories"
    unit = unit_words(observations.unit)
    return f"{count} numbers in {unit}" if unit else f"{count} numbers"


def _missing(observations: Observations) -> str:
    return f"{observations.missing}, left out" if observations.missing else "none"


def _sections(paper: Paper, notes: dict[tuple[str, str], int], *, people: bool) -> Iterator[Block]:
    """Yield the sections; methods that are new get the next number among the notes."""
    for section in paper.analysis.sections:
        if section.about_people and not people:
            continue
        yield Heading(3, section.title)
        if section.figures:
            found = [(figure.statistic.method, figure.statistic.source) for figure in section.figures]
            numbers = tuple(notes.setdefault(each, len(notes) + 1) for each in found)
            yield Figures(section.title, section.figures, numbers)
        if section.sentences:
            yield Points(section.sentences)


def _limits(paper: Paper) -> Iterator[str]:
    yield _SAME_PHOTOS if paper.same_photos else _SAME_ROWS
    yield _SAMPLE
    yield _TRUTH
    yield _INTERVALS.format(noun=paper.noun)
    yield _FOR


def _day(paper: Paper) -> str:
    return f"{paper.day.day} {paper.day:%B %Y}"
