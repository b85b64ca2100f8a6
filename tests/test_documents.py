"""The documents tell the same story as the code."""

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from calibration.errors import EbblineError
from calibration.sticker import LAYOUTS
from measure.cli import CONVENTIONS, LAYOUT_NAMES, commands
from measure.flags import FLAGS, flag
from measure.geometry import Convention
from measure.outline import OutlineError
from measure.overlay import PictureError
from measure.photo import PhotoError

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
    assert {OutlineError.code, PhotoError.code, PictureError.code} <= set(codes)
    assert len(set(codes)) == len(codes)
    for code in codes:
        assert f"`{code}`" in DEVELOPERS


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


@pytest.mark.parametrize("line", _shown_commands())
def test_the_commands_of_the_readme_run(line, tmp_path, monkeypatch):
    (tmp_path / "sample_images").symlink_to(ROOT / "sample_images")
    monkeypatch.chdir(tmp_path)
    words = []
    for word in shlex.split(line)[1:]:
        words += sorted(str(path) for path in Path().glob(word)) if "*" in word else [word]
    result = CliRunner().invoke(commands, words)
    assert result.exit_code == 0, result.output


def test_the_output_in_the_readme_is_what_comes_out(monkeypatch):
    monkeypatch.chdir(ROOT)
    shown = re.search(r"<!-- output of: ebbline (.*) -->\n```\n(.*?)```", README, re.DOTALL)
    assert shown
    result = CliRunner().invoke(commands, shown[1].split())
    number = re.compile(r"\d+(?:\.\d+)?")
    assert number.sub("#", result.stdout) == number.sub("#", shown[2])
    found, promised = (number.findall(text) for text in (result.stdout, shown[2]))
    for one, other in zip(found, promised, strict=True):  # another processor may round a contour otherwise
        assert float(one) == pytest.approx(float(other), rel=0.03, abs=0 if "." in one else 1)


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
