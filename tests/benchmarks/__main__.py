"""All measurements of the tool in one go: ``python -m tests.benchmarks --count 10 --workers 8``, as Markdown."""

from collections.abc import Iterator

from tests.benchmarks import accuracy, colour, conditions, coverage, limbs, rulers, speed, tissue
from tests.benchmarks.run import print_rows


def tables(count: int, width: int, workers: int) -> Iterator[str]:
    """Yield the lines of every table; speed first, while the machine is quiet."""
    yield "## Speed and memory\n"
    yield from speed.rows()
    benchmarks = {
        "Accuracy": accuracy,
        "Limbs": limbs,
        "Conditions": conditions,
        "Coverage": coverage,
        "Colour": colour,
        "Tissue": tissue,
    }
    for name, benchmark in benchmarks.items():
        yield f"\n## {name}\n"
        yield from benchmark.rows(count, width, workers)
    yield "\n## Plain rulers\n"
    yield from rulers.rows(count, width)


if __name__ == "__main__":
    print_rows(tables, __doc__, 10)
