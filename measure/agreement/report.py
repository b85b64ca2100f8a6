"""What an analysis says, as a JSON document or as text; the document is a contract (see DEVELOPERS.md)."""

from collections.abc import Iterator
from typing import Any

from measure.agreement.analysis import Analysis
from measure.agreement.section import Figure, Section
from measure.agreement.statistic import Statistic

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
        _counted(len(observations.value), "value"),
        _counted(len(observations.subjects), "subject"),
        _counted(len(observations.raters), "rater"),
        *([_counted(len(methods), "method")] if methods else []),
        *([f"{observations.missing} without a value left out"] if observations.missing else []),
    )
    yield f"  {', '.join(parts)}"
    for section in analysis.sections:
        yield f"{section.title}"
        told = [figure for figure in section.figures if not figure.detail]
        width = max((len(figure.label) for figure in told), default=0)
        yield from (f"    {figure.label:<{width}}  {in_words(figure.statistic)}" for figure in told)
        yield from (f"  ! {sentence}" for sentence in section.sentences)
    sources = dict.fromkeys(figure.statistic.source for section in analysis.sections for figure in section.figures)
    yield "Sources (methods stand in the report and in the JSON document)"
    yield from (f"    {source}" for source in sources)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def in_words(statistic: Statistic) -> str:
    """Return value, unit and interval to four digits."""
    unit = f" {statistic.unit}" if statistic.unit else ""
    interval = f" ({statistic.low:.4g} to {statistic.high:.4g})" if statistic.has_interval else ""
    return f"{statistic.value:.4g}{unit}{interval}"
