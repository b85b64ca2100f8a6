"""The command line: ``ebbline sticker``, ``measure`` and ``app``, with the commands ``learn`` and about a record.

Exit codes: 0 done, 1 the work could not be done (one sentence on stderr), 2 wrong usage. With ``--json`` stdout carries
one JSON document and nothing else; progress and notes go to stderr.
"""

import json
import math
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from calibration.errors import EbblineError, UnexpectedError
from measure.agreement.commands import agreement
from measure.learn.commands import learn
from measure.record.commands import CONVENTIONS, demo, import_photos, trend

if TYPE_CHECKING:
    from measure.outline import Outline
    from measure.photo import Photo
    from measure.pipeline import Measurement
    from measure.scale import TwoPoints

LAYOUT_NAMES = ("corner", "strip", "tile")
PICTURE_SUFFIXES = (".png", ".jpg", ".jpeg")
_METHOD_HELP = (
    "What proposes the outline: network (weights CC BY-NC 4.0, not for commercial use), colour, or a network of your "
    "own (FILE.onnx)."
)
_HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


@click.group(context_settings=_HELP)
@click.version_option(package_name="ebbline", prog_name="ebbline")
def commands() -> None:
    """Measure wounds from a photo taken beside a printed calibration sticker.

    It supports documentation and never diagnoses. Follow your facility's policy.

    \b
    Example:
      ebbline sticker corner --out corner.pdf
      ebbline measure photo.jpg
    """


@commands.command()
@click.argument("layout", type=click.Choice(LAYOUT_NAMES), required=False)
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="File to write: .pdf, .svg or .png.")
@click.option("--dpi", type=int, default=600, show_default=True, help="Resolution of a PNG: dpi/25.4 pixels a mm.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of a PDF.")
@click.option("--list", "listing", is_flag=True, help="List the layouts with their size in mm.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def sticker(  # noqa: PLR0913 - one parameter an option
    layout: str | None, out: Path | None, dpi: int, paper: str, *, listing: bool, as_json: bool
) -> None:
    """Draw a calibration sticker true to size: a PDF sheet to print, or one as SVG or PNG.

    \b
    Example:
      ebbline sticker corner --out corner.pdf
      ebbline sticker --list
    """
    from calibration.sheet import write_sticker
    from calibration.sticker import LAYOUTS

    if listing:
        _list_layouts(as_json=as_json)
        return
    if layout is None or out is None:
        raise click.UsageError("Name a LAYOUT and a file with --out, or use --list.")
    write_sticker(LAYOUTS[layout], out, dpi=dpi, paper=paper)
    if as_json:
        click.echo(json.dumps(_described(layout) | {"file": str(out)}, indent=2))
    click.echo(f"Wrote {out}.", err=True)
    if out.suffix.lower() == ".pdf":
        click.echo("Print it at 100 % ('actual size') and check both lines on the sheet before you cut.", err=True)


def _list_layouts(*, as_json: bool) -> None:
    from calibration.sticker import LAYOUTS

    if as_json:
        click.echo(json.dumps({"layouts": [_described(name) for name in LAYOUTS]}, indent=2))
        return
    for name, layout in LAYOUTS.items():
        width, height = layout.size_mm
        click.echo(f"{name:<8}{width:g} x {height:g} mm, version {layout.version}")


def _described(name: str) -> dict[str, Any]:
    from calibration.sticker import LAYOUTS

    width, height = LAYOUTS[name].size_mm
    return {"layout": name, "version": LAYOUTS[name].version, "width_mm": width, "height_mm": height}


class _Scale(click.ParamType["TwoPoints"]):
    """Five numbers: two points in photo pixels and the distance between them in mm."""

    name = "X1,Y1,X2,Y2,MM"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> "TwoPoints":  # noqa: ANN401 - click's own signature
        try:
            x1, y1, x2, y2, distance = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"'{value}' is not five numbers X1,Y1,X2,Y2,MM, as in 100,200,900,210,50.", param, ctx)
        return x1, y1, x2, y2, distance


class _Reason(click.ParamType[str]):
    """Why a photo is kept, on one line."""

    name = "REASON"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:  # noqa: ANN401 - click's own signature
        from measure.acceptance import ReasonError, usable_reason

        try:
            return usable_reason(str(value))
        except ReasonError as error:
            self.fail(str(error), param, ctx)


class _Degrees(click.FloatRange):
    """A direction: a finite number of degrees within a turn to either side."""

    def __init__(self) -> None:
        super().__init__(-360.0, 360.0)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:  # noqa: ANN401 - click's own signature
        degrees: float = super().convert(value, param, ctx)
        if math.isnan(degrees):
            self.fail(f"'{value}' is not a number of degrees.", param, ctx)
        return degrees


@commands.command()
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True)
@click.option("--outline", metavar="FILE.json", help="Outlines in photo pixels; they replace the proposal.")
@click.option(
    "--convention", type=click.Choice(CONVENTIONS), default=CONVENTIONS[0], show_default=True, help="Length and width."
)
@click.option("--head", type=_Degrees(), metavar="DEGREES", help="Where the head is, clockwise from the photo's top.")
@click.option("--method", default="network", show_default=True, metavar="NAME", help=_METHOD_HELP)
@click.option("--scale", type=_Scale(), help="Two points and their distance in mm, where there is no sticker.")
@click.option("--accept", type=_Reason(), help="Why a photo is kept if a check of it failed; goes into the record.")
@click.option("--overlay", type=click.Path(dir_okay=False, path_type=Path), help="Picture to write (.png or .jpg).")
@click.option("--close", is_flag=True, help="Let the picture show only the part round sticker and wounds.")
@click.option("--tissue", is_flag=True, help="Let the picture show which tissue lies where.")
@click.option("--culture", is_flag=True, help="A culture is ordered: say where to swab, and what to think of.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document (a list for several photos).")
def measure(  # noqa: PLR0913, PLR0917 - one parameter an option
    photos: tuple[str, ...],
    outline: str | None,
    convention: str,
    head: float | None,
    method: str,
    scale: "TwoPoints | None",
    accept: str | None,
    overlay: Path | None,
    *,
    close: bool,
    tissue: bool,
    culture: bool,
    as_json: bool,
) -> None:
    """Measure the wounds in one or more photos.

    With several photos, the name of each photo goes into the name of its overlay.

    \b
    Example:
      ebbline measure photo.jpg --overlay seen.png --tissue
      ebbline measure photo.jpg --outline traced.json --json
      ebbline measure photo.jpg --accept "No second photo was possible"
    """
    if len(photos) > 1 and (outline or scale):
        raise click.UsageError("--outline and --scale belong to one photo: give one photo at a time with them.")
    _need_overlay(overlay, {"--close": close, "--tissue": tissue})
    from measure.report import document, refusal, summary

    pictures = _picture_paths(overlay, photos, outline)
    wanted = _Wanted(outline, convention, _head(head, convention), method, scale, accept, culture=culture)
    documents, failed = [], False
    for number, (name, picture) in enumerate(zip(photos, pictures, strict=True), 1):
        if len(photos) > 1:
            click.echo(f"[{number}/{len(photos)}] {name}", err=True)
        result = _measure_one(name, wanted)
        if isinstance(result, _Refused):
            failed = True
            click.echo(str(result.error), err=True)
            documents.append(refusal(name, result.error, result.photo))
            continue
        documents.append(document(result))
        if not as_json:
            click.echo(summary(result))
        if picture and not _write_picture(result, picture, close=close, tissue=tissue):
            failed = True
    if as_json:
        click.echo(json.dumps(documents if len(photos) > 1 else documents[0], indent=2, allow_nan=False))
    if failed:
        sys.exit(1)


def _need_overlay(overlay: Path | None, chosen: dict[str, bool]) -> None:
    """Refuse choices of what a picture shows without one."""
    for option, given in chosen.items():
        if given and not overlay:
            raise click.UsageError(f"{option} says what --overlay shows: give both or neither.")


def _head(head: float | None, convention: str) -> float | None:
    """Return the direction of the head, which only one convention looks at."""
    if head is not None and convention != CONVENTIONS[1]:
        raise click.UsageError(f"--head is for --convention {CONVENTIONS[1]}: give both or neither.")
    return head


@dataclass(frozen=True)
class _Wanted:
    """What a person asked for, beside the photo."""

    outline: str | None
    convention: str
    head: float | None
    method: str
    scale: "TwoPoints | None"
    accept: str | None
    culture: bool


@dataclass(frozen=True)
class _Refused:
    """A photo that could not be measured, and why."""

    error: EbblineError
    photo: "Photo | None"


def _measure_one(name: str, wanted: _Wanted) -> "Measurement | _Refused":
    from measure.geometry import Convention
    from measure.photo import read_photo
    from measure.pipeline import complete, prepare

    photo = None
    try:
        photo = read_photo(name)
        outlines, said = _given(wanted.outline, photo) if wanted.outline else (None, {})
        prepared = prepare(photo, scale=wanted.scale, propose=outlines is None, method=wanted.method)
        return complete(
            prepared,
            outlines,
            convention=Convention(wanted.convention),
            head_deg=wanted.head,
            accept=wanted.accept,
            culture=wanted.culture,
            **said,
        )
    except EbblineError as error:
        return _Refused(error, photo)
    except Exception as error:  # noqa: BLE001 - one photo must never take the others' results with it
        return _Refused(_unexpected(error), photo)


def _given(path: str, photo: "Photo") -> "tuple[tuple[Outline, ...], dict[str, Any]]":
    """Read a file of outlines, and, as far as it says so, who edited them and what a person said of tissue and skin."""
    from measure.editing import parse_editing
    from measure.notes import parse_notes
    from measure.outline import load_document, parse_outlines

    loaded = load_document(path)
    outlines = parse_outlines(loaded, photo.width, photo.height)
    editing = parse_editing(loaded, photo.width, photo.height)
    return outlines, {"editing": editing, "notes": parse_notes(loaded)}


def _unexpected(error: Exception) -> EbblineError:
    """Turn an error that nobody foresaw into a sentence, or let it through for whoever asked to see it."""
    if os.environ.get("EBBLINE_DEBUG"):
        raise error
    what = " ".join(f"{type(error).__name__}: {error}".split())
    return UnexpectedError(
        f"Something went wrong inside ebbline ({what}): run it again with EBBLINE_DEBUG=1 and report that."
    )


def _picture_paths(overlay: Path | None, photos: tuple[str, ...], outline: str | None) -> list[Path | None]:
    """Return where the picture of each photo goes: a path each, none of them a file that is read.

    Raises
    ------
    click.UsageError
        If the ending is no picture's, or a picture would replace a photo or the outline.
    """
    if overlay is None:
        return [None] * len(photos)
    if overlay.suffix.lower() not in PICTURE_SUFFIXES:
        raise click.UsageError(f"--overlay '{overlay}' must end in {' or '.join(PICTURE_SUFFIXES)}.")
    read = {Path(name).resolve() for name in (*photos, *([outline] if outline else []))}
    paths: list[Path] = []
    for name in photos:
        stem = f"{overlay.stem}.{Path(name).stem}" if len(photos) > 1 else overlay.stem
        path = overlay.with_name(f"{stem}{overlay.suffix}")
        path = path.with_name(f"{stem}-{len(paths) + 1}{overlay.suffix}") if path in paths else path
        if path.resolve() in read:
            raise click.UsageError(f"--overlay '{path}' would replace a file that is read: choose another name.")
        paths.append(path)
    return list(paths)


def _write_picture(measurement: "Measurement", path: Path, *, close: bool, tissue: bool) -> bool:
    """Write the picture; say so, or say why not, and tell whether it was written."""
    from measure.overlay import draw_measurement, write_picture

    try:
        write_picture(draw_measurement(measurement, close=close, tissue=tissue), path)
    except EbblineError as error:
        click.echo(str(error), err=True)
        return False
    click.echo(f"Wrote {path}.", err=True)
    return True


@commands.command()
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True, help="Where the page answers.")
@click.option("--host", default="127.0.0.1", show_default=True, help="0.0.0.0 lets other devices open the page.")
@click.option("--method", default="network", show_default=True, metavar="NAME", help=_METHOD_HELP)
@click.option("--data", metavar="DIR|URL", help="The record: a folder, made if it is not there, or a database.")
def app(port: int, host: str, method: str, data: str | None) -> None:
    """Open the pages in a browser: photo, outline, numbers; with --data visits and the series over time.

    \b
    Example:
      ebbline app --data ward-7
      ebbline app --host 0.0.0.0 --port 8600
    """
    from measure.proposal import check_method
    from measure.server import serve

    check_method(method)
    if data:
        from measure.record.store import open_record

        open_record(data).close()
    if host not in {"127.0.0.1", "localhost"}:
        click.echo("The page asks nobody for a password: open it to a network that you trust only.", err=True)
    serve(port, host, method, data)


for _command in (agreement, learn, demo, import_photos, trend):
    commands.add_command(_command)


def main() -> None:
    """Run a command; whatever happens, a person gets a sentence and no traceback."""
    try:
        commands(prog_name="ebbline")
    except EbblineError as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    except Exception as error:  # noqa: BLE001 - the last door before a person
        click.echo(str(_unexpected(error)), err=True)
        sys.exit(1)
