"""The command about agreement: ``ebbline agreement``."""

import json
from pathlib import Path

import click

_PAPERS = (".html", ".pdf")


@click.command()
@click.argument("table", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--unit", default="", metavar="NAME", help="Unit of the values, as cm2.")
@click.option("--relative", is_flag=True, help="Errors grow in proportion to the size, as those of areas do.")
@click.option("--categories", is_flag=True, help="The values are categories, even if they are written as numbers.")
@click.option("--order", metavar="A,B,C", help="Categories from least to most, where they have an order.")
@click.option("--report", type=click.Path(dir_okay=False, path_type=Path), help="Also write a report: .html or .pdf.")
@click.option("--title", default="Agreement study", show_default=True, help="Of the report.")
@click.option("--people", is_flag=True, help="Name raters in the report; by default they are letters.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def agreement(  # noqa: PLR0913 - one parameter an option
    table: Path,
    unit: str,
    order: str | None,
    report: Path | None,
    title: str,
    *,
    relative: bool,
    categories: bool,
    people: bool,
    as_json: bool,
) -> None:
    """Say how well raters, methods and repeated measurements agree, and how large a change must be to be one.

    TABLE is a CSV file with the columns subject, rater and value, and trial and method where there are any: a row a
    measurement, whatever was measured.

    \b
    Example:
      ebbline agreement table.csv --unit cm2 --relative --report study.pdf
    """
    from measure.agreement.analysis import analyse
    from measure.agreement.report import agreement_document, agreement_summary
    from measure.agreement.table_file import read_observations

    if report and report.suffix.lower() not in _PAPERS:
        raise click.UsageError(f"A report ends in .html or .pdf, and '{report.name}' was given.")
    observations = read_observations(table, unit=unit)
    ordered = [part.strip() for part in order.split(",")] if order else None
    found = analyse(observations, relative=relative, order=ordered, categories=categories)
    click.echo(
        json.dumps(agreement_document(found), indent=2, allow_nan=False) if as_json else agreement_summary(found)
    )
    if report:
        from measure.agreement.paper import write_paper

        write_paper(found, report, title=title, people=people)
        click.echo(f"Wrote {report}.", err=True)
