"""Writes the report of a table to a file."""

from datetime import date
from pathlib import Path

from measure.agreement.analysis import Analysis
from measure.agreement.charts import charts
from measure.agreement.errors import AgreementError
from measure.agreement.paper.as_html import agreement_html
from measure.agreement.paper.as_pdf import agreement_pdf
from measure.agreement.paper.paper import Paper

_NOUN = "subject"  # a table may hold anything


def write_paper(analysis: Analysis, path: Path, *, title: str, people: bool) -> None:
    """Write a report with its charts, as PDF where the name ends in .pdf, else as HTML.

    Parameters
    ----------
    analysis : Analysis
    path : Path
    title : str
    people : bool
        Whether it names raters and tells figures about single ones.

    Raises
    ------
    AgreementError
        If the file can't be written.
    """
    drawn = charts(analysis.observations, relative=analysis.relative, people=people, noun=_NOUN).drawn
    day = date.today()  # noqa: DTZ011 - the day of whoever reads it
    paper = Paper(title, analysis, drawn, day, noun=_NOUN, same_photos=False)
    made = (
        agreement_pdf(paper, people=people)
        if path.suffix.lower() == ".pdf"
        else agreement_html(paper, people=people).encode()
    )
    try:
        path.write_bytes(made)
    except OSError as error:
        reason = error.strerror or error
        raise AgreementError(f"'{path}' can't be written ({reason}): choose another folder or name.") from error
