"""The commands about a record: ``ebbline trend``, ``ebbline import`` and ``ebbline demo``."""

import json
from datetime import datetime
from pathlib import Path

import click

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
    from measure.series import series_of
    from measure.trend import trend as trend_of
    from measure.trend import trend_document, trend_summary

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
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@_DATA
@click.option("--wound", required=True, help="Whose photos they are: code of the person and number, as in P014/2.")
@click.option("--by", required=True, help="Initials or staff code of who imports, no name.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def import_photos(folder: Path, data: str, wound: str, by: str, *, as_json: bool) -> None:
    """Take a folder of existing photos of one wound into its series: a visit a photo, at its capture time.

    What is in the record already is left out, so that a run that was interrupted can be run again.

    \b
    Example:
      ebbline import photos --wound P014/2 --by AB --data ward-7
    """
