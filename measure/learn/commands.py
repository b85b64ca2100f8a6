"""The command that trains a network: ``ebbline learn``."""

import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from measure.learn.lesson import Lesson


class _Side(click.IntRange):
    """Side of a view in pixels, which the network halves five times."""

    def __init__(self) -> None:
        super().__init__(64, 1024)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:  # noqa: ANN401 - click's own signature
        side: int = super().convert(value, param, ctx)
        if side % 32:
            self.fail(f"{side} is no multiple of 32, as in 256, 384 or 512.", param, ctx)
        return side


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), required=True, help="Network to write: .onnx.")
@click.option("--also", type=click.Path(file_okay=False, path_type=Path), help="More to learn from, never tried on.")
@click.option("--method", default="network", show_default=True, metavar="NAME", help="What to compare with.")
@click.option("--steps", type=click.IntRange(1), default=2200, show_default=True, help="Of each of two trainings.")
@click.option("--minutes", type=click.FloatRange(0, min_open=True), help="Longest time of each of two trainings.")
@click.option("--batch", type=click.IntRange(1), default=32, show_default=True, help="Views in a step.")
@click.option("--size", type=_Side(), default=512, show_default=True, help="Side of a view, in pixels.")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    default=1,
    show_default=True,
    help="The same seed trains alike; --minutes and graphics cards make small differences.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
def learn(  # noqa: PLR0913, PLR0917 - one parameter an option
    folder: Path,
    out: Path,
    also: Path | None,
    method: str,
    steps: int,
    minutes: float | None,
    batch: int,
    size: int,
    seed: int,
    *,
    as_json: bool,
) -> None:
    """Train a network that proposes outlines on photographs of your own, and compare it with the present one.

    FOLDER holds photos/NAME.jpg, masks/NAME.png (white where there is wound, black elsewhere) and, if several
    photographs show the same wound, be it on different days, groups.csv (columns name, group). A fifth of the groups is
    held out and never learnt from. Nothing that is in use changes: to use the new network, give its file to --method of
    'ebbline measure' or 'ebbline app'.

    A graphics card makes it minutes instead of days. A view of 512 pixels needs about 0.8 GB of memory, the 32 of a
    batch 27 GB; on a graphics card roughly half. A smaller --batch or --size needs less.

    \b
    Example:
      pip install 'ebbline[train]'
      ebbline learn wounds --out clinic-1.onnx
      ebbline app --method clinic-1.onnx
    """
    if out.suffix != ".onnx":
        raise click.UsageError(f"--out '{out}' must end in .onnx, in small letters.")
    if not out.parent.is_dir():
        raise click.UsageError(f"--out '{out}' lies in a folder that does not exist: create it first.")
    from measure.learn.readiness import check_destination, check_packages
    from measure.proposal import check_method

    check_destination(out)
    check_method(method)
    check_packages()
    lesson = _lesson(
        folder, also, out, _Training(steps, math.inf if minutes is None else 60 * minutes, batch, size, seed)
    )
    _compare(lesson, method, as_json=as_json)


@dataclass(frozen=True)
class _Training:
    steps: int
    seconds: float
    batch: int
    size: int
    seed: int


def _lesson(folder: Path, also: Path | None, out: Path, training: _Training) -> "Lesson":
    from measure.learn.examples import read_examples
    from measure.learn.lesson import learn as learn_from
    from measure.learn.training import Settings

    examples, more = read_examples(folder), read_examples(also) if also else ()
    return learn_from(examples, more, out, Settings(**asdict(training)), lambda line: click.echo(line, err=True))


def _compare(lesson: "Lesson", method: str, *, as_json: bool) -> None:
    """Say how the new network and the present method do on the photographs held out."""
    from measure.learn.comparison import figures, table, tried

    click.echo(f"Comparing on {len(lesson.held_out)} photographs held out.", err=True)
    new, present = tried(str(lesson.path), lesson.held_out), tried(method, lesson.held_out)
    if as_json:
        said = {"file": str(lesson.path), "learnt": lesson.learnt, "held_out": len(lesson.held_out)}
        both = {"new": figures(new), "present": figures(present)}
        click.echo(json.dumps(said | both, indent=2, allow_nan=False))
    else:
        click.echo(table(new, present))
    both_files = f"{lesson.path} and {lesson.path.with_suffix('.json')}"
    click.echo(f"Wrote {both_files}. Nothing that is in use has changed.", err=True)
