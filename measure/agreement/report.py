"""What an analysis says, as a JSON document or as text; the document is a contract (see DEVELOPERS.md)."""

from collections.abc import Iterable, Iterator
from typing import Any

from measure.agreement.analysis import Analysis
from measure.agreement.figure_words import counted
from measure.agreement.section import Figure, Section

Document = dict[str, Any]


def agreement_document(analysis: Analysis) -> Document:
    """Return the JSON document of an analysis: an interval is null where there is none."""
    observations = analysis.observations
    return {
        "headline": analysis.headline,
        "design": {
            "rows": len(observations.value),
            "missing": observations.missing,
            "subjects": len(observations.subjects),
            "raters": list(observations.raters),
            "trials": list(observations.trials),
            "methods": [method for method in observations.methods if method],
            "values": "numbers" if observations.numeric else "categories",
            "unit": observations.unit,
            "errors": "in proportion to the size" if analysis.relative else "of the same size everywhere",
        },
        "results": {section.key: _section(section) for section in analysis.sections},
    }


def _section(section: Section) -> Document:
    return {
        "title": section.title,
        "figures": {figure.key: _figure(figure) for figure in section.figures},
        "sentences": list(section.sentences),
    }


def _figure(figure: Figure) -> Document:
    found = figure.statistic
    return {
        "label": figure.label,
        "value": found.value,
        "interval_95": [found.low, found.high] if found.has_interval else None,
        "unit": found.unit,
        "method": found.method,
        "source": found.source,
    }


def agreement_summary(analysis: Analysis) -> str:
    """Return what an analysis says as lines to read in a terminal."""
    return "\n".join(line.replace("²", "2") for line in _lines(analysis))


def _lines(analysis: Analysis) -> Iterator[str]:
    observations = analysis.observations
    yield analysis.headline
    methods = [method for method in observations.methods if method]
    parts = (
        counted(len(observations.value), "value"),
        counted(len(observations.subjects), "subject"),
        counted(len(observations.raters), "rater"),
        *([counted(len(methods), "method")] if methods else []),
        *([f"{observations.missing} without a value left out"] if observations.missing else []),
    )
    yield f"  {', '.join(parts)}"
    for section in analysis.sections:
        yield f"{section.title}"
        told = [figure for figure in section.figures if not figure.detail]
        width = max((len(figure.label) for figure in told), default=0)
        yield from (f"    {figure.label:<{width}}  {_in_words(figure)}" for figure in told)
        yield from (f"  ! {sentence}" for sentence in section.sentences)
    yield "Sources (methods stand in the report and in the JSON document)"
    yield from (f"    {source}" for source in _sources(analysis))


def _sources(analysis: Analysis) -> Iterable[str]:
    """Return each paper or standard behind the figures of the text once, in their order."""
    figures = (figure for section in analysis.sections for figure in section.figures if not figure.detail)
    return dict.fromkeys(source for figure in figures for source in figure.statistic.source.split("; "))


def _in_words(figure: Figure) -> str:
    """Return value, unit and interval to four digits; shares in percent."""
    found = figure.shown
    value, low, high = (f"{each:.4g}" for each in (found.value, found.low, found.high))
    return f"{value} {found.unit}".strip() + (f" ({low} to {high})" if found.has_interval else "")
