"""What several test files share: the sample photographs and their truth, the pages, the record."""

import csv
import os
import shutil
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import uuid4

import pytest
from hypothesis import settings

if "PYTEST_XDIST_WORKER" in os.environ:  # as many tests run as there are cores: one thread for each
    os.environ |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"), "1")

from serving import CHROMIUM, FLAGS, Browser, aiming, serving
from sqlalchemy import URL, create_engine

from measure.cli import main
from measure.demo import fill
from measure.proposal import COLOUR
from measure.record.store import open_record
from measure.rendering import Camera, Scene, render, write_photo
from measure.server import DATA_VARIABLE

settings.register_profile("busy", deadline=None)  # other tests run beside: an example that is slow is not wrong
settings.load_profile("busy")

SAMPLES = Path(__file__).parent.parent / "sample_images"

DEMO_DAY = date(2026, 3, 20)
"""From which the small demo record is told."""


@dataclass(frozen=True)
class Sample:
    """A sample photograph, its true outline, and what is true of it."""

    photo: Path
    outline: Path
    layout: str
    area_cm2: float
    perimeter_cm: float
    length_cm: float
    width_cm: float
    tilt_deg: float
    tissue_percent: dict[str, float]


TISSUES = ("granulation", "slough", "necrotic", "epithelial")


def _samples() -> list[Sample]:
    with (SAMPLES / "truth.csv").open(encoding="utf-8", newline="") as table:
        return [
            Sample(
                SAMPLES / row["file"],
                SAMPLES / row["file"].replace(".jpg", ".outline.json"),
                row["layout"],
                *(float(row[name]) for name in ("area_cm2", "perimeter_cm", "length_cm", "width_cm", "tilt_deg")),
                {name: float(row[f"{name}_percent"]) for name in TISSUES},
            )
            for row in csv.DictReader(table)
        ]


@pytest.fixture(scope="session", params=_samples(), ids=lambda sample: sample.photo.stem)
def sample(request) -> Sample:
    """Each sample photograph in turn."""
    return request.param


@pytest.fixture(scope="session")
def first_sample() -> Sample:
    """One sample photograph, with the corner sticker."""
    return _samples()[0]


@pytest.fixture(scope="session")
def island_sample() -> Sample:
    """Return the sample photograph whose wound surrounds an island of healed skin."""
    return next(sample for sample in _samples() if sample.photo.name.startswith("W03"))


@pytest.fixture(scope="session")
def tilted(tmp_path_factory) -> Path:
    """Return a photo that fails one check: the camera was tilted by 40 degrees, 30 are allowed."""
    path = tmp_path_factory.mktemp("photos") / "tilted.jpg"
    write_photo(path, render(Scene(camera=Camera(width=2016, height=1512, distance_mm=200, tilt_deg=40), seed=4)))
    return path


# Commands


@pytest.fixture
def run_here(monkeypatch, capfd):
    """Run commands in this process, through the door that a person comes in by; all that is printed is caught."""

    def ran(*words):
        monkeypatch.setattr(sys, "argv", ["ebbline", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return subprocess.CompletedProcess(words, ended.value.code, *capfd.readouterr())

    return ran


# A record of invented people


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory) -> Path:
    """Return the folder of a small demo record, made once a session and never changed: read it, or copy it."""
    folder = tmp_path_factory.mktemp("demo") / "record"
    with open_record(folder) as record:
        fill(record, lambda _: None, width_px=1200, today=DEMO_DAY, photos=3, method=COLOUR)
    return folder


@pytest.fixture
def demo_record(demo_folder, tmp_path):
    """Give a copy of the small demo record, open, which the test may change."""
    shutil.copytree(demo_folder, tmp_path / "record")
    with open_record(tmp_path / "record", create=False) as record:
        yield record


# Pages in a browser


@pytest.fixture(scope="session")
def address():
    """Start the pages as a person does, and wait until they answer."""
    with serving("measure", "app", "--port", "{port}") as url:
        yield url


@pytest.fixture(scope="module")
def browser():
    """Start Chromium; for one file, since Playwright's event loop must not run beside other files' tests."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright, aiming():
        started = Browser(playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS))
        yield started
        started.close()


# The record on both databases

POSTGRES = os.environ.get("EBBLINE_TEST_POSTGRES", "")
"""URL of a PostgreSQL server where databases may be made and dropped."""


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory):
    """Return the SQLite file of an empty record, to be copied: making its tables takes longer than most tests."""
    folder = tmp_path_factory.mktemp("record")
    open_record(folder).close()
    return folder / "record.db"


@pytest.fixture
def ward(empty_file, tmp_path, monkeypatch):
    """Give an empty record, open, that pages use too."""
    from measure.pages import held

    shutil.copy(empty_file, tmp_path / "record.db")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    with open_record(tmp_path, create=False) as record:
        yield record
    held._opened.clear()


@pytest.fixture(scope="session")
def server():
    """Connect to the server where databases may be made."""
    if not POSTGRES:
        pytest.skip("EBBLINE_TEST_POSTGRES names no server")
    engine = create_engine(POSTGRES, isolation_level="AUTOCOMMIT")
    yield engine
    engine.dispose()


@contextmanager
def _database(server, like="template1"):
    """Make a database like another one, and drop it afterwards."""
    name = f"ebbline_{uuid4().hex}"
    with server.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE {like}")
    yield server.url.set(database=name)
    with server.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def empty_database(server):
    """Name the database of an empty record on the server, to be copied."""
    with _database(server) as url:
        open_record(url.update_query_dict({"photos": "unused"}).render_as_string(hide_password=False)).close()
        yield url.database


@pytest.fixture(params=["sqlite", "postgresql"])
def bare_url(request, tmp_path):
    """Give a URL for a record that is not made yet, on SQLite and on a server if there is one."""
    photos = {"photos": str(tmp_path / "photos")}
    if request.param == "sqlite":
        yield URL.create("sqlite", database=str(tmp_path / "record.db"), query=photos).render_as_string()
        return
    with _database(request.getfixturevalue("server")) as url:
        yield url.update_query_dict(photos).render_as_string(hide_password=False)


@pytest.fixture(params=["sqlite", "postgresql"])
def record_url(request, tmp_path):
    """Give the URL of an empty record in a database of its own, on SQLite and on a server if there is one."""
    photos = {"photos": str(tmp_path / "photos")}
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("empty_file"), tmp_path / "record.db")
        yield URL.create("sqlite", database=str(tmp_path / "record.db"), query=photos).render_as_string()
        return
    server, like = request.getfixturevalue("server"), request.getfixturevalue("empty_database")
    with _database(server, like) as url:
        yield url.update_query_dict(photos).render_as_string(hide_password=False)


@pytest.fixture
def record(record_url):
    """Open an empty record."""
    opened = open_record(record_url)
    yield opened
    opened.close()
