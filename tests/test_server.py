"""The server as a person starts it: links to photos, the port, and how it ends."""

import signal
import socket
import subprocess
import sys
import time
from io import BytesIO
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

import pytest
from PIL import Image

SERVE = """
import sys
from measure.kept_photos import KEPT
from measure.photo import read_photo
from measure.server import serve
print(*KEPT.links(read_photo(sys.argv[2]), "visit"), flush=True)
serve(int(sys.argv[1]), "127.0.0.1")
"""
"""Keeps a photo as a page would do, tells its links, and serves."""


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _wait(url):
    for _ in range(120):
        try:
            with urlopen(url, timeout=5):
                return
        except (URLError, ConnectionError):
            time.sleep(0.25)
    pytest.fail("the pages did not start")


@pytest.fixture(scope="module")
def links(first_sample):
    """Serve one photo; give its links, preview and full, with the address before them."""
    port = _free_port()
    command = [sys.executable, "-c", SERVE, str(port), str(first_sample.photo)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as server:
        told = server.stdout.readline().split()
        _wait(f"http://127.0.0.1:{port}")
        yield [f"http://127.0.0.1:{port}{link}" for link in told]
        server.terminate()


def _answer(url):
    try:
        with urlopen(url, timeout=10) as response:
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
    port = _free_port()
    command = [sys.executable, "-m", "measure", "app", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as server:
        _wait(f"http://127.0.0.1:{port}")
        server.send_signal(ending)
        out, err = server.communicate(timeout=20)
    assert server.returncode == 0
    assert not err
    assert f"http://127.0.0.1:{port}" in out


def test_a_port_that_is_taken_is_said():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        command = [sys.executable, "-m", "measure", "app", "--port", str(port)]
        ended = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 1
    assert f"Port {port} is not available" in ended.stderr
    assert "Traceback" not in ended.stderr
