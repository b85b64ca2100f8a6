"""How soon the pages about a record open when it holds many visits.

Run it with ``python -m tests.benchmarks.pages`` in the repository's root, with a Chromium on the path. The record is
that of `tests.benchmarks.record`; the wound looked at has 50 visits with whole documents. Each page is opened by a tap
on its link and counts as open when what it is for is on the screen. Opened first is the first time after the pages were
started, when a server still loads its libraries. All visits show one photo, so *Compare* has nothing to lay over
another and is left out. Prints Markdown.
"""

import argparse
from collections.abc import Iterator
from contextlib import closing
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from playwright.sync_api import Page, sync_playwright

from measure.record.store import open_record
from tests.benchmarks.record import fill_record, measured_visit
from tests.benchmarks.run import print_lines
from tests.serving import CHROMIUM, FLAGS, serving

TIMES = 5
SHOWS = {
    "Wounds": "button:has-text('P1')",
    "Visit": "[data-testid=stExpander]:has-text('Exudate')",
    "Progress": "[data-testid=stBidiComponentIsolated] svg, [data-testid=stBidiComponentIsolated] img",
    "History": "[data-testid=stTable]",
}
"""Each page with a part of it that is only there once the page says what it is for."""


def rows(visits: int) -> Iterator[str]:
    """Yield the table: each page's first and median time."""
    with TemporaryDirectory() as folder:
        with closing(open_record(folder)) as record:
            draft, _ = measured_visit(record)
            _, long = fill_record(record, draft, visits)
        yield f"{visits} visits, a wound with 50 of them:\n"
        yield "| page | opened first | median of the next |"
        yield "|---|---:|---:|"
        with (
            serving("measure", "app", "--port", "{port}", "--data", folder) as address,
            sync_playwright() as playwright,
        ):
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.set_default_timeout(15_000)
            page.goto(address)
            page.get_by_label("Find a person by code").fill(long.person)
            page.keyboard.press("Enter")
            page.get_by_role("button", name=f"{long.person} · wound {long.number}").first.click()
            page.locator(SHOWS["Visit"]).first.wait_for()
            took: dict[str, list[float]] = {name: [] for name in SHOWS}
            for _ in range(TIMES + 1):
                for name in ("Progress", "History", "Visit", "Wounds"):
                    took[name].append(_open(page, name))
            for name, times in took.items():
                yield f"| {name} | {times[0]:.2f} s | {median(times[1:]):.2f} s |"
            browser.close()


def _open(page: Page, name: str) -> float:
    link = page.get_by_test_id("stTopNavLink").filter(has_text=name)
    began = perf_counter()
    link.first.click()
    page.locator(SHOWS[name]).first.wait_for()
    return perf_counter() - began


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--visits", type=int, default=10_000)
    print_lines(rows(parser.parse_args().visits))
