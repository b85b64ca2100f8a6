"""What tests need to start the pages and to look at them."""

import shutil
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from urllib.error import URLError
from urllib.request import urlopen

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
PATIENCE_MS = 90_000
"""How long a page may take for anything, on a machine that is busy with other tests."""
STILL = """async () => {
  const app = () => document.querySelector("[data-testid=stApp]")?.dataset.testScriptState ?? "notRunning";
  const shown = () => [...document.querySelectorAll("summary, button, input")];
  const wait = ms => new Promise(done => setTimeout(done, ms));
  for (let was = "", calm = 0, end = performance.now() + 15000; calm < 3 && performance.now() < end; await wait(50)) {
    const now = JSON.stringify(shown().map(one => one.getBoundingClientRect().y));
    const moves = document.getAnimations().some(one => one.playState === "running");
    calm = app() === "notRunning" && now === was && !moves ? calm + 1 : 0;
    was = now;
  }
}"""
"""Wait in a page until all of it is drawn and nothing moves, 15 s at most: what a person aims at must not go away."""


class Browser:
    """A Chromium whose pages are patient."""

    def __init__(self, started):
        """Take a browser that Playwright started."""
        self._started = started

    def new_context(self, **words):
        """Open a context: a visitor with a store of its own."""
        context = self._started.new_context(**words)
        context.set_default_timeout(PATIENCE_MS)
        return context

    def new_page(self):
        """Open a page in a context of its own."""
        return self.new_context().new_page()

    def close(self):
        """End the browser."""
        self._started.close()


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(url):
    end = time.monotonic() + PATIENCE_MS / 1000
    while time.monotonic() < end:
        try:
            with urlopen(url, timeout=10):
                return
        except (URLError, ConnectionError, TimeoutError):
            time.sleep(0.25)
    pytest.fail("the pages did not start")


@contextmanager
def aiming():
    """Let every click, tap and choice of a file wait until nothing moves: as people do, and Playwright doesn't.

    It looks at two frames, which are alike on a busy machine though a group above is just opening; and a chooser of
    files that is just being drawn anew hears nothing.
    """
    from playwright.sync_api import Locator, Page

    with pytest.MonkeyPatch.context() as patch:
        for kind, name in ((Locator, "click"), (Locator, "tap"), (Page, "set_input_files")):
            patch.setattr(kind, name, _still_first(getattr(kind, name)))
        yield


def _still_first(act):
    def aimed(self, *places, **words):
        (self if hasattr(self, "goto") else self.page).evaluate(STILL)
        return act(self, *places, **words)

    return aimed


@contextmanager
def serving(module, *words):
    """Start ``python -m module`` on a free port, {port} in its words; give its address once it answers."""
    port = free_port()
    command = [sys.executable, "-m", module, *(word.format(port=port) for word in words)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        url = f"http://127.0.0.1:{port}"
        try:
            wait_for(url)
            yield url
        finally:
            server.terminate()
