"""The results of a study as files; each is made when it is asked for."""

import json
from collections.abc import Callable
from datetime import date

import streamlit as st

from measure.agreement.paper.as_html import agreement_html
from measure.agreement.paper.as_pdf import agreement_pdf
from measure.agreement.paper.paper import Paper
from measure.agreement.report import agreement_document
from measure.agreement.table_csv import observations_csv
from measure.pages.consistency_charts import outlines_of
from measure.study.results import Results, results

Made = Callable[[Results], str | bytes]
"""Makes what a file holds."""


def offer_results(found: Results, photo: int | None) -> None:
    """Offer the report and the numbers.

    Parameters
    ----------
    found : Results
    photo : int, optional
        Number of the photo whose outlines are shown.
    """
    st.subheader("Take it along", anchor=False)
    people = found.people and st.checkbox("Name raters in the files, for the quality team alone")
    with_photo = photo is not None and st.checkbox(f"Put photo {photo} with its outlines into the report")
    shown = photo if with_photo else None
    files: dict[str, tuple[Made, str, str]] = {
        "Report (PDF)": (lambda told: agreement_pdf(_paper(told, shown), people=people), "pdf", "application/pdf"),
        "Report (HTML)": (lambda told: agreement_html(_paper(told, shown), people=people), "html", "text/html"),
        "Figures (JSON)": (_document, "json", "application/json"),
        "Table (CSV)": (lambda told: observations_csv(told.analysis.observations), "csv", "text/csv"),
    }
    name = f"ebbline-study-{found.study.id}-{found.quantity.replace('_', '-')}"
    for label, (made, suffix, kind) in files.items():
        _offer(found, label, made, (f"{name}.{suffix}", kind), people=people)


def _offer(found: Results, label: str, made: Made, file: tuple[str, str], *, people: bool) -> None:
    """Offer a file; raters have letters in it unless their names were asked for."""

    def make() -> str | bytes:
        return made(found if people == found.people else results(found.study, found.quantity, people=people))

    st.download_button(label, make, *file, on_click="ignore", width="stretch")


def _paper(told: Results, photo: int | None) -> Paper:
    outlines = () if photo is None else (outlines_of(told, photo),)
    return told.paper(date.today(), outlines)  # noqa: DTZ011 - the day of whoever reads it


def _document(told: Results) -> str:
    return json.dumps(agreement_document(told.analysis), indent=2, allow_nan=False)
