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


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(url):
    for _ in range(120):
        try:
            with urlopen(url, timeout=5):
                return
        except (URLError, ConnectionError):
            time.sleep(0.25)
    pytest.fail("the pages did not start")


@contextmanager
def serving(module, *words):
    """Start ``python -m module`` on a free port, {port} in its words; give its address once it answers."""
    port = free_port()
    command = [sys.executable, "-m", module, *(word.format(port=port) for word in words)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        url = f"http://127.0.0.1:{port}"
        wait_for(url)
        yield url
        server.terminate()
