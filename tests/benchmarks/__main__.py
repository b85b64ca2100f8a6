"""All measurements of the tool in one go: ``python -m tests.benchmarks --count 10 --workers 8``, as Markdown."""

from collections.abc import Iterator

from tests.benchmarks import accuracy, conditions, coverage, speed
from tests.benchmarks.run import options


def tables(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the lines of every table; speed first, while the machine is quiet."""
    yield "## Speed and memory\n"
    yield from speed.rows()
    for name, benchmark in (("Accuracy", accuracy), ("Conditions", conditions), ("Coverage", coverage)):
        yield f"\n## {name}\n"
        yield from benchmark.rows(count, width, workers)


def main() -> None:
    """Print everything."""
    chosen = options(__doc__, 10).parse_args()
    for line in tables(chosen.count, chosen.width, chosen.workers):
        print(line, flush=True)  # noqa: T201 - this is what it is for


if __name__ == "__main__":
    main()
