"""What tests need to start the pages and to look at them."""

import shutil
import socket
import time
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
