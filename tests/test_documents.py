"""The documents tell the same story as the code."""

import json
import re
import shlex
import shutil
from functools import partial
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from calibration.errors import EbblineError
from calibration.sticker import LAYOUTS
from measure.cli import CONVENTIONS, LAYOUT_NAMES, commands
from measure.compare.laid_out import CompareError
from measure.demo import DemoError, fill
from measure.findings.findings import NAMES
from measure.flags import FLAGS, flag
from measure.geometry import Convention
from measure.outline import OutlineError
from measure.overlay import PictureError
from measure.pages.findings_controls import UnfinishedError
from measure.photo import PhotoError
from measure.proposal import COLOUR
from measure.record.importing import ImportingError
from measure.record.tables import Table
from measure.trend.change import SiteChangeError

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def _errors(kind=EbblineError):
    for child in kind.__subclasses__():
        yield child
        yield from _errors(child)


def test_every_command_and_option_is_documented():
    for name, command in commands.commands.items():
        assert f"ebbline {name}" in DEVELOPERS
        assert f"ebbline {name}" in README
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.opts[0] in DEVELOPERS


def test_every_flag_is_documented():
    for code in FLAGS:
        assert f"| `{code}` |" in DEVELOPERS


def test_every_error_code_is_documented_and_its_own():
    codes = [error.code for error in _errors() if error.__name__ not in {"StickerError", "RulerError"}]
    of_rooms = (
        CompareError,
        DemoError,
        ImportingError,
        OutlineError,
        PhotoError,
        PictureError,
        SiteChangeError,
        UnfinishedError,
    )
    assert {error.code for error in of_rooms} <= set(codes)
    assert len(set(codes)) == len(codes)
    for code in codes:
        assert f"`{code}`" in DEVELOPERS


def test_every_finding_and_every_table_is_documented():
    for name in (*NAMES, *Table.metadata.tables):
        assert f"| `{name}` |" in DEVELOPERS


def test_every_error_is_in_the_tree():
    tree = (ROOT / "calibration" / "errors.py").read_text(encoding="utf-8")
    for error in _errors():
        assert error.__name__ in tree


def test_names_of_the_command_line_are_those_of_the_rooms():
    """The command line names them itself, so that its help needs no other import."""
    assert tuple(LAYOUTS) == LAYOUT_NAMES
    assert tuple(Convention) == CONVENTIONS


def test_flags_fill_in_their_facts_and_end_as_sentences():
    facts = {"count": 2, "layouts": "a, b", "used": "All.", "layout": "a", "percent": 50, "wound": 1}
    facts |= {"all": 63, "shape": "slightly bent"}
    facts |= {"residual": 9, "limit": 8, "width": 400, "height": 300, "noted": "4000 x 3000"}
    for code in FLAGS:
        sentence = flag(code, **facts).sentence
        assert "{" not in sentence
        assert sentence.endswith(".")


def _shown_commands():
    blocks = re.findall(r"^```sh\n(.*?)^```", README, re.DOTALL | re.MULTILINE)
    lines = [line for block in blocks for line in block.splitlines()]
    return [line for line in lines if line.startswith("ebbline ") and not line.startswith("ebbline app")]


def _run(line):
    words = []
    for word in shlex.split(line)[1:]:
        words += sorted(str(path) for path in Path().glob(word)) if "*" in word else [word]
    result = CliRunner().invoke(commands, words)
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.parametrize("line", [line for line in _shown_commands() if "--data" not in line])
def test_the_commands_of_the_readme_run(line, tmp_path, monkeypatch):
    (tmp_path / "sample_images").symlink_to(ROOT / "sample_images")
    for name, text in re.findall(r"^cat > (\S+) <<'END'\n(.*?)^END$", README, re.DOTALL | re.MULTILINE):
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    printed = _run(line)
    if line.startswith("ebbline agreement"):
        shown = README.split("<!-- what the agreement printed -->\n```\n")[1].split("```")[0]
        _alike(printed[: len(shown)], shown, rel=0.002)


def test_the_commands_about_a_record_run_one_after_another(tmp_path, monkeypatch):
    """As a reader types them, but for the size of the demo: two small photos a wound, for the whole takes minutes."""
    monkeypatch.setattr("measure.demo.fill", partial(fill, width_px=1200, photos=2, method=COLOUR))
    (tmp_path / "photos").mkdir()
    shutil.copy(ROOT / "sample_images" / "W01-shin-corner.jpg", tmp_path / "photos")
    monkeypatch.chdir(tmp_path)
    lines = [line for line in _shown_commands() if "--data" in line]
    assert [line.split()[1] for line in lines] == ["demo", "trend", "import"]
    printed = {line.split()[1]: _run(line) for line in lines}
    shown = README.split("<!-- what that printed -->\n```\n")[1].split("```")[0]
    told, promised = _shape(printed["trend"]), _shape(shown)
    assert told[0] == promised[0]
    assert told[-4:-1] == promised[-4:-1]  # what is told of a healed wound, however many its photos
    assert printed["import"] == "Visits added: 1. Photos known already: 0. Left out: 0.\n"
    contract = DEVELOPERS.split("The document of one series")[1].split("```")[1]
    for name in json.loads(_run("ebbline trend P101/1 --data demo --json")):
        assert f'"{name}"' in contract


def _shape(text):
    """Return the lines of a text without its numbers."""
    return [re.sub(r"\d+(?:\.\d+)?", "#", line) for line in text.splitlines()]


def test_the_output_in_the_readme_is_what_comes_out(monkeypatch):
    monkeypatch.chdir(ROOT)
    shown = re.search(r"<!-- output of: ebbline ([^\n]*) -->\n```\n(.*?)```", README, re.DOTALL)
    assert shown
    result = CliRunner().invoke(commands, shown[1].split())
    _alike(result.stdout, shown[2], rel=0.03, whole=1)  # another processor may round a contour otherwise


def _alike(printed, promised, rel, whole=0):
    """Hold a text to what is promised of it, numbers to a share, whole ones to so many units too."""
    number = re.compile(r"\d+(?:\.\d+)?")
    assert number.sub("#", printed) == number.sub("#", promised)
    for one, other in zip(number.findall(printed), number.findall(promised), strict=True):
        assert float(one) == pytest.approx(float(other), rel=rel, abs=0 if "." in one else whole)


def test_the_gate_runs_the_command_of_the_readme():
    block = re.search(r"<!-- test command -->\n```sh\n(.*?)```", README, re.DOTALL)
    assert block
    assert "pytest" in block[1]
    assert "test command" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_documents_name_files_that_exist():
    for document in (README, DEVELOPERS):
        for path in re.findall(r"`((?:measure|calibration|tests|sample_images)/[\w./-]*)`", document):
            assert (ROOT / path).exists(), path


def test_nothing_is_left_to_fill_in():
    for document in (README, DEVELOPERS):
        assert "@@" not in document


def test_limits_and_cautions_are_stated():
    assert "never diagnoses" in README
    assert "facility" in README
