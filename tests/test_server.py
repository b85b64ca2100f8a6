"""The server as a person starts it: links to photos, the port, and how it ends."""

import os
import signal
import socket
import subprocess
import sys
from contextlib import contextmanager
from io import BytesIO
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from PIL import Image
from serving import CHROMIUM, free_port, wait_for

SERVE = """
import sys
from measure.kept_photos import KEPT
from measure.photo import read_photo
from measure.server import serve
print(*KEPT.links(read_photo(sys.argv[2]), "visit"), flush=True)
serve(int(sys.argv[1]), "127.0.0.1", "network")
"""
"""Keeps a photo as a page would do, tells its links, and serves."""


SERVE_PAGE = """
import sys
from pathlib import Path
import measure.server
measure.server._PAGE = Path(sys.argv[2])
measure.server.serve(int(sys.argv[1]), "127.0.0.1", "network")
"""
"""Serves another page in place of the product's."""

PAGE = """
import numpy as np
import streamlit as st
from measure.pages.photo_link import photo_links
from measure.photo import Photo

pixels = np.full((300, 400, 3), 150, dtype=np.uint8)
links = photo_links(Photo("grey.png", pixels, "ab" * 32, None, None))
st.html(f'<img id="photo" src="{links.preview}">')
st.text(links.full)
st.button("Again")
"""


@contextmanager
def _running(command, **words):
    """Run a server; end it whatever happens."""
    with subprocess.Popen(command, text=True, **words) as server:
        try:
            yield server
        finally:
            server.kill()


@pytest.fixture(scope="module")
def links(first_sample):
    """Serve one photo; give its links, preview and full, with the address before them."""
    port = free_port()
    command = [sys.executable, "-c", SERVE, str(port), str(first_sample.photo)]
    with _running(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as server:
        told = server.stdout.readline().split()
        wait_for(f"http://127.0.0.1:{port}")
        yield [f"http://127.0.0.1:{port}{link}" for link in told]


def _answer(url):
    try:
        with urlopen(url, timeout=90) as response:
            return response.status, response.read(), response.headers
    except HTTPError as error:
        with error:
            return error.code, error.read(), error.headers


def test_a_signed_link_is_answered_with_a_jpeg_without_exif(links, first_sample):
    status, preview, headers = _answer(links[0])
    assert status == 200
    assert headers["Content-Type"] == "image/jpeg"
    assert "private" in headers["Cache-Control"]
    assert headers["Content-Encoding"] is None
    assert b"Exif" not in preview
    _, full, _ = _answer(links[1])
    with Image.open(first_sample.photo) as photo, Image.open(BytesIO(full)) as shown:
        assert photo.getexif()
        assert not shown.getexif()
        assert shown.size == photo.size
    with Image.open(BytesIO(preview)) as shown:
        assert max(shown.size) == min(2048, max(photo.size))


def test_a_link_under_the_base_path_is_answered_too(links):
    assert _answer(links[0].replace("/photo/", "/tools/ui/photo/"))[0] == 200


@pytest.mark.parametrize("change", ["unsigned", "tampered", "other size"])
def test_any_other_link_is_answered_with_a_sentence(links, change):
    address, signature = links[0].split("?signature=")
    url = {
        "unsigned": address,
        "tampered": f"{address}?signature={'0' * 8}{signature[8:]}",
        "other size": links[0].replace("preview", "full"),
    }[change]
    status, said, headers = _answer(url)
    assert status == 403
    assert said.decode() == "This link to a photo is not signed as it should be: open the photo from its page."
    assert "no-store" in headers["Cache-Control"]


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_quietly(ending):
    port = free_port()
    command = [sys.executable, "-m", "measure", "app", "--port", str(port)]
    with _running(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as server:
        wait_for(f"http://127.0.0.1:{port}")
        server.send_signal(ending)
        out, err = server.communicate(timeout=90)
    assert server.returncode == 0
    assert not err
    assert f"http://127.0.0.1:{port}" in out


def test_a_port_that_is_taken_is_said():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        command = [sys.executable, "-m", "measure", "app", "--port", str(port)]
        ended = subprocess.run(command, capture_output=True, text=True, timeout=90, check=False)
    assert ended.returncode == 1
    assert f"Port {port} is not available" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
# Playwright's sync API leaves its event loop to the garbage collector
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("base", ["", "/tools/ui"])
def test_a_page_shows_a_photo_by_its_link(browser, tmp_path, base):
    """Page and route share one memory; the link stays through runs, differs between visits, and knows the base path."""
    (tmp_path / "page.py").write_text(PAGE, encoding="utf-8")
    port = free_port()
    address = f"http://127.0.0.1:{port}{base}"
    command = [sys.executable, "-c", SERVE_PAGE, str(port), str(tmp_path / "page.py")]
    settings = os.environ | {"STREAMLIT_SERVER_BASE_URL_PATH": base}
    with _running(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=settings):
        wait_for(address)
        first, second = (browser.new_page() for _ in range(2))
        told = []
        for page in (first, second, first):
            if page.url == "about:blank":
                page.goto(address)
            else:
                page.get_by_role("button", name="Again").click()
                page.wait_for_timeout(500)
            photo = page.locator("#photo")
            photo.wait_for()
            page.wait_for_function("document.querySelector('#photo').naturalWidth == 400")
            told.append(photo.get_attribute("src"))
            assert _answer(f"http://127.0.0.1:{port}{page.get_by_test_id('stText').inner_text()}")[0] == 200
        assert told[0].startswith(f"{base}/photo/")
        assert told[0] == told[2] != told[1]
        for page in (first, second):
            page.context.close()
