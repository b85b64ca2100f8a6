"""The commands about a record: ``ebbline trend``, ``ebbline import`` and ``ebbline demo``."""

import json
import sys
from datetime import datetime
from pathlib import Path

import click

CONVENTIONS = ("longest-perpendicular", "head-to-toe")

_DATA = click.option("--data", metavar="DIR|URL", required=True, help="The record: a folder, or a database's URL.")


@click.command()
@click.argument("wound")
@_DATA
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def trend(wound: str, data: str, *, as_json: bool) -> None:
    """Say how a wound has changed over time, and whether that is more than the noise.

    WOUND is the person's code and the wound's number, as in P014/2.

    \b
    Example:
      ebbline trend P014/2 --data ward-7
    """
    from measure.record.store import open_record
    from measure.trend.series import series_of
    from measure.trend.trend import trend as trend_of
    from measure.trend.trend import trend_document, trend_summary

    with open_record(data, create=False) as record:
        found = record.wound(wound)
        sdc = record.setting("smallest_detectable_change")
        result = trend_of(series_of(found, record.visits(found.id)), sdc=sdc)
    click.echo(json.dumps(trend_document(result), indent=2, allow_nan=False) if as_json else trend_summary(result))


@click.command()
@_DATA
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), help="Day of the last visit; today where it isn't given.")
def demo(data: str, until: datetime | None) -> None:
    """Fill an empty record with invented people: three wounds over ten weeks, with rendered photos.

    \b
    Example:
      ebbline demo --data demo
      ebbline app --data demo
    """
    from measure.demo import fill
    from measure.record.store import open_record

    today = (until or datetime.now().astimezone()).date()
    with open_record(data) as record:
        fill(record, lambda line: click.echo(line, err=True), today=today)
    click.echo(f"Wrote {data}. Look at it with: ebbline app --data {data}", err=True)


@click.command("import")
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
@_DATA
@click.option("--wound", required=True, help="Whose photos they are: code of the person and number, as in P014/2.")
@click.option("--by", required=True, help="Initials or staff code of who imports, no name.")
@click.option("--unit", default="", help="Ward or team of the visits.")
@click.option("--convention", type=click.Choice(CONVENTIONS), help="Length and width; by default as the site does.")
@click.option("--method", default="network", show_default=True, metavar="NAME", help="What proposes the outlines.")
@click.option("--accept", metavar="REASON", help="Why photos are kept if a check of them failed.")
@click.option("--at", type=click.DateTime(["%Y-%m-%dT%H:%M", "%Y-%m-%d"]), help="Time of photos that note none.")
@click.option("--file-time", is_flag=True, help="Let a photo without a capture time have that of its file.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def import_photos(  # noqa: PLR0913, PLR0917 - one parameter an option
    folder: Path,
    data: str,
    wound: str,
    by: str,
    unit: str,
    convention: str | None,
    method: str,
    accept: str | None,
    at: datetime | None,
    *,
    file_time: bool,
    as_json: bool,
) -> None:
    """Take a folder of existing photos of one wound into its series: a visit a photo, at its capture time.

    What is in the record already is left out, so that a run that was interrupted can be run again. The outlines are as
    proposed until somebody checks them: trace them again on the page History.

    \b
    Example:
      ebbline import photos --wound P014/2 --by AB --data ward-7
    """
    from measure.geometry import Convention
    from measure.proposal import check_method
    from measure.record.importing import Manner, import_folder
    from measure.record.store import open_record

    check_method(method)
    with open_record(data, create=False) as record:
        chosen = Convention(convention or record.setting("convention", CONVENTIONS[0]))
        manner = Manner(
            unit=unit,
            convention=chosen,
            method=method,
            accept=accept,
            at=at.astimezone() if at else None,
            file_time=file_time,
        )
        done = import_folder(record, wound, folder, by, lambda line: click.echo(line, err=True), manner=manner)
    left = [{"file": str(each.file), "sentence": each.sentence} for each in done.left_out]
    said = {"wound": wound, "visits": len(done.visits), "already": len(done.already), "left_out": left}
    if as_json:
        click.echo(json.dumps(said, indent=2))
    else:
        added, known = len(done.visits), len(done.already)
        click.echo(f"Visits added: {added}. Photos known already: {known}. Left out: {len(left)}.")
    if left:
        sys.exit(1)
